"""Two things that happened to one carcass: pairs of hypotheses, taken as independent."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations

from handsfree.reconciliation.effects import together
from handsfree.reconciliation.hypotheses import Hypothesis, SuspectKind

#: Pairs are made of no more than this many hypotheses, the likeliest ones.
PAIRS_AMONG = 40
#: Pairs less likely than this before the mass is looked at are left out.
LEAST_ODDS = 1e-6

_ABSENT = (SuspectKind.NOT_LOGGED, SuspectKind.CALLED_NOT_WEIGHED)


def two_at_once(hypotheses: Sequence[Hypothesis]) -> Iterator[Hypothesis]:
    """The pairs that can have happened together."""
    able = [one for one in hypotheses if one.combines and one.kind is not SuspectKind.NOTHING]
    likeliest = sorted(able, key=lambda one: -one.odds)[:PAIRS_AMONG]
    for one, two in combinations(likeliest, 2):
        odds = one.odds * two.odds
        if odds >= LEAST_ODDS and not _exclude_each_other(one, two):
            yield _pair(one, two, odds)


def _pair(one: Hypothesis, two: Hypothesis, odds: float) -> Hypothesis:
    if one.kind in _ABSENT and two.kind in _ABSENT:  # told as one thing: both pieces are missing
        kind = one.kind if one.kind is two.kind else SuspectKind.NOT_LOGGED
        parts: tuple[Hypothesis, ...] = ()
    else:
        kind, parts = SuspectKind.TWO_AT_ONCE, (one, two)
    return Hypothesis(
        kind,
        odds,
        together([one.effect, two.effect]),
        one.missing + two.missing,
        one.entries + two.entries,
        parts=parts,
        combines=False,
    )


def _exclude_each_other(one: Hypothesis, two: Hypothesis) -> bool:
    """Whether they tell the same weighing or the same absent piece two ways."""
    if set(one.entries) & set(two.entries):
        return True
    if one.kind is two.kind and one.kind not in (*_ABSENT, SuspectKind.UNNAMED, SuspectKind.LOGGED_TWICE):
        # Two containers, two wrong units ...: the first is rare enough, and one run holds several.
        return one.kind is not SuspectKind.UNNAMED_NOT_MEAT
    return bool({(i.cut, i.side) for i in one.missing} & {(i.cut, i.side) for i in two.missing})
