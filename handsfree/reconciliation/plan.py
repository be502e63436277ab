"""The pieces a cut plan expects, and which of them are not recorded yet."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, replace

from handsfree.reconciliation.account import Weighing, words_for


@dataclass(frozen=True, slots=True)
class Expected:
    """Pieces of one cut and side that a plan expects."""

    cut: str
    side: str = ""
    """"left", "right", or empty when the side is not said."""
    count: int = 1
    share: float | None = None
    """Typical share of the dressed weight (0 to 1) of one piece, None when not known."""
    spread: float = 0.25
    """Standard deviation of the natural logarithm of that share between carcasses."""

    def words(self) -> str:
        """As it would be called: "left shank", "4 double chops"."""
        return words_for(self.cut, self.side, self.count)


@dataclass(frozen=True, slots=True)
class Plan:
    """A named cut plan: what pieces a carcass is expected to give."""

    name: str
    expected: tuple[Expected, ...] = ()


def remaining(plan: Plan, pieces: Iterable[Weighing]) -> tuple[Expected, ...]:
    """What the plan expects and the standing pieces do not have, in the plan's order.

    A piece called without its side fills whichever side is still open; what is then left of the
    pair is given without a side, because it is not known which one it is.
    """
    have: Counter[tuple[str, str]] = Counter()
    for piece in pieces:
        if not piece.struck and piece.cut:
            have[piece.cut, piece.side] += piece.count
    open_items = [_less(item, have, item.side) for item in plan.expected]
    side_lost: set[str] = set()
    for place, item in enumerate(open_items):
        for side in ("",) if item.side else ("left", "right"):
            less = _less(open_items[place], have, side)
            if item.side and less.count != open_items[place].count:
                side_lost.add(item.cut)
            open_items[place] = less
    return tuple(
        replace(item, side="") if item.cut in side_lost else item for item in open_items if item.count
    )


def _less(item: Expected, have: Counter[tuple[str, str]], side: str) -> Expected:
    """The item without the pieces recorded under this side, which are used up."""
    used = min(item.count, have[item.cut, side])
    have[item.cut, side] -= used
    return replace(item, count=item.count - used)
