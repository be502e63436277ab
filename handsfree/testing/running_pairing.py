"""Runs the pairing stage over messages made by hand, with ticks between them, for tests."""

from __future__ import annotations

from typing import Any

from handsfree.clock import from_seconds
from handsfree.pairing.messages import PieceWeighed, Tick
from handsfree.pairing.pairing import Pairing
from handsfree.testing.stated_carcass import StatedCarcass


def run(*messages: Any, larder: StatedCarcass | None = None, until_s: float | None = None) -> list[Any]:
    """All decisions, with a tick every 0.1 s between and after the messages."""
    pairing = Pairing(larder or StatedCarcass())
    decisions: list[Any] = []
    now_ns = 0
    for message in messages:
        at_ns = next(
            getattr(message, name) for name in ("heard_ns", "t_ns", "end_ns") if hasattr(message, name)
        )
        while now_ns + from_seconds(0.1) < at_ns:
            now_ns += from_seconds(0.1)
            decisions += pairing.feed(Tick(now_ns))
        decisions += pairing.feed(message)
    while until_s is not None and now_ns < from_seconds(until_s):
        now_ns += from_seconds(0.1)
        decisions += pairing.feed(Tick(now_ns))
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
