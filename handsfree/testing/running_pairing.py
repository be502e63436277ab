"""Runs the pairing stage over messages made by hand, with ticks between them, for tests."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any

from handsfree.clock import from_seconds
from handsfree.pairing.messages import PieceWeighed, Tick
from handsfree.pairing.pairing import Pairing
from handsfree.pairing.settings import PairingSettings
from handsfree.testing.stated_carcass import StatedCarcass


def run(
    *messages: Any,
    larder: StatedCarcass | None = None,
    until_s: float | None = None,
    settings: PairingSettings | None = None,
    take: Callable[[Any], object] | None = None,
    lags_s: Iterable[float] = (),
) -> list[Any]:
    """All decisions, with a tick every 0.1 s between and after the messages.

    Args:
        messages: In order of time.
        larder: The carcass in hand.
        until_s: When it ends; at the last message unless given.
        settings: Those of the pairing stage.
        take: Is given each decision before the next is made, as the ledger is.
        lags_s: The lags of earlier pieces; see `rhythm.lag_s`.
    """
    pairing = Pairing(larder or StatedCarcass(), settings, lags_s)
    decisions: list[Any] = []
    now_ns = 0

    def feed(message: Any) -> None:
        for decision in pairing.feed(message):
            if take is not None:
                take(decision)
            decisions.append(decision)

    def pass_time(until_ns: int) -> None:
        nonlocal now_ns
        while now_ns < until_ns:
            now_ns += from_seconds(0.1)
            feed(Tick(now_ns))

    for message in messages:
        at_ns = next(
            getattr(message, name) for name in ("heard_ns", "t_ns", "end_ns") if hasattr(message, name)
        )
        pass_time(at_ns - from_seconds(0.1))
        feed(message)
    pass_time(from_seconds(until_s or 0))
    return decisions


def named(decisions: list[Any]) -> list[tuple[str, int]]:
    """(call, net grams) of every piece, unnamed ones as "?"."""
    return [
        (d.call.words() if d.call else "?", d.net_mg // 1000)
        for d in decisions
        if isinstance(d, PieceWeighed)
    ]


def only(decisions: list[Any], kind: type[Any]) -> list[Any]:
    """The decisions of one kind."""
    return [d for d in decisions if isinstance(d, kind)]
