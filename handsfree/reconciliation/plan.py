"""The pieces a cut plan expects, and which of them are not recorded yet."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field, replace

from handsfree.reconciliation.account import Weighing, words_for
from handsfree.reconciliation.anatomy import PARTS, Parts, parts_of


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
    parts: Parts = field(default_factory=lambda: PARTS, hash=False, compare=False)
    """Which cuts are parts of which, for a carcass that was cut another way than planned."""

    def expects(self, cut: str) -> bool:
        """Whether the plan has this cut, of any side."""
        return any(item.cut == cut for item in self.expected)


def remaining(plan: Plan, pieces: Iterable[Weighing]) -> tuple[Expected, ...]:
    """What the plan expects and the standing pieces do not have, in the plan's order.

    A piece called without its side fills whichever side is still open; what is then left of the
    pair is given without a side, because it is not known which one it is. What was kept whole is
    not short of its parts, and what was broken down further is not short of the whole.
    """
    standing = [piece for piece in pieces if not piece.struck and piece.cut]
    have: Counter[tuple[str, str]] = Counter()
    for piece in standing:
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
        replace(item, side="") if item.cut in side_lost else item
        for item in open_items
        if item.count and not cut_another_way(item, standing, plan)
    )


def cut_another_way(item: Expected, standing: Iterable[Weighing], plan: Plan) -> bool:
    """Whether pieces that the plan does not have stand for this item.

    A whole that holds it (the left haunch for a left topside), or its parts (a left topside for the
    left haunch). Where the plan has both the whole and the part, each is a piece of its own.
    """
    below = parts_of(item.cut, plan.parts)
    return any(
        (piece.cut in below or item.cut in parts_of(piece.cut, plan.parts))
        and (not piece.side or not item.side or piece.side == item.side)
        and not plan.expects(piece.cut)
        for piece in standing
    )


def _less(item: Expected, have: Counter[tuple[str, str]], side: str) -> Expected:
    """The item without the pieces recorded under this side, which are used up."""
    used = min(item.count, have[item.cut, side])
    have[item.cut, side] -= used
    return replace(item, count=item.count - used)
