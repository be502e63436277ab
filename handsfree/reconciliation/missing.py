"""Hypotheses in which a piece is absent from the record, whether its mass is missing or not."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import combinations

from handsfree.reconciliation.effects import Effect, together
from handsfree.reconciliation.hypotheses import (
    SKIN_LOG_SD,
    SKIN_SHARE,
    Hypothesis,
    Scene,
    SuspectKind,
)
from handsfree.reconciliation.plan import Expected

#: No more than this many absent pieces are taken two at a time.
PAIRS_AMONG = 12


def missing_hypotheses(scene: Scene) -> Iterator[Hypothesis]:
    """All hypotheses about pieces that are absent from the record, and about a skin left out."""
    singles = list(_singles(scene))
    yield from singles
    yield from _two_at_once(singles)
    yield from _not_finished(scene, singles)
    yield from _unnamed_is_absent(scene, singles)
    yield from _named_wrong(scene, singles)
    yield from _called_elsewhere(scene, singles)
    yield Hypothesis(SuspectKind.UNPLANNED_NOT_LOGGED, scene.odds.unplanned, scene.any_effect())
    yield from _in_skin(scene)


def _singles(scene: Scene) -> Iterator[Hypothesis]:
    """Each piece that should be there, with the odds of forgotten against not cut separately."""
    if scene.plan is not None:
        absent = scene.balance.remaining
        # How closely this carcass keeps to the plan is judged by the carcass itself: the more is
        # absent, the likelier it was cut another way (a rate with a weak prior of one in a hundred).
        not_cut_rate = (0.2 + len(absent)) / (20 + len(scene.plan.expected))
        base = scene.odds.forgotten / not_cut_rate
    else:
        absent = tuple(_open_pairs(scene))
        base = scene.odds.other_half_of_pair
    called = {(call.cut, call.side) for call in scene.balance.account.unweighed}
    for item in absent:
        effect = scene.effect_of(item)
        if (item.cut, item.side) in called or (item.cut, "") in called:
            odds = base * scene.odds.called
            yield Hypothesis(SuspectKind.CALLED_NOT_WEIGHED, odds, effect, (item,))
        else:
            yield Hypothesis(SuspectKind.NOT_LOGGED, base, effect, (item,))


def _open_pairs(scene: Scene) -> Iterator[Expected]:
    sides: dict[str, set[str]] = {}
    for piece in scene.pieces:
        if piece.side and piece.cut:
            sides.setdefault(piece.cut, set()).add(piece.side)
    for cut, found in sides.items():
        if len(found) == 1:
            yield Expected(cut, "right" if "left" in found else "left")


def _two_at_once(singles: list[Hypothesis]) -> Iterator[Hypothesis]:
    likeliest = sorted(singles, key=lambda one: -one.odds)[:PAIRS_AMONG]
    for one, two in combinations(likeliest, 2):
        kind = one.kind if one.kind is two.kind else SuspectKind.NOT_LOGGED
        effect = together([one.effect, two.effect])
        yield Hypothesis(kind, one.odds * two.odds, effect, one.missing + two.missing)


def _not_finished(scene: Scene, singles: list[Hypothesis]) -> Iterator[Hypothesis]:
    if len(singles) >= 3:
        missing = tuple(item for one in singles for item in one.missing)
        effect = together([one.effect for one in singles])
        yield Hypothesis(SuspectKind.NOT_FINISHED, scene.odds.not_finished, effect, missing)


def _unnamed_is_absent(scene: Scene, singles: list[Hypothesis]) -> Iterator[Hypothesis]:
    """An unnamed weighing is an absent piece; alone, or with another piece forgotten."""
    for piece in scene.balance.unnamed:
        for one in singles:
            odds = scene.odds.unnamed_is_planned * scene.fit(piece, one.effect)
            yield Hypothesis(SuspectKind.UNNAMED, odds, Effect(), one.missing, (piece.number,))
            yield from (replace(two, odds=two.odds * odds) for two in singles if two is not one)


def _named_wrong(scene: Scene, singles: list[Hypothesis]) -> Iterator[Hypothesis]:
    """A side recorded more often than there is room for while the other side is absent."""
    for one in singles:
        (item,) = one.missing
        other = [p for p in scene.pieces if item.side and p.cut == item.cut and p.side not in ("", item.side)]
        if sum(piece.count for piece in other) > item.count:
            numbers = tuple(piece.number for piece in other)
            odds = scene.odds.named_wrong
            yield Hypothesis(SuspectKind.NAMED_WRONG, odds, Effect(), one.missing, numbers)


def _called_elsewhere(scene: Scene, singles: list[Hypothesis]) -> Iterator[Hypothesis]:
    """Calls without a weight that are none of the pieces known to be absent."""
    absent = {item.cut for one in singles for item in one.missing}
    for call in dict.fromkeys(scene.balance.account.unweighed):
        if call.cut in absent:
            continue
        recorded = any(p.cut == call.cut and call.side in ("", p.side) for p in scene.pieces)
        item = Expected(call.cut, call.side, call.count)
        odds = scene.odds.called_and_recorded if recorded else scene.odds.called_unplanned
        yield Hypothesis(SuspectKind.CALLED_NOT_WEIGHED, odds, scene.effect_of(item), (item,))


def _in_skin(scene: Scene) -> Iterator[Hypothesis]:
    if any(piece.cut == "skin" for piece in scene.pieces):
        return
    by_skin = {"on": scene.odds.in_skin_on, "off": scene.odds.in_skin_off}
    odds = by_skin.get(scene.balance.account.skin, scene.odds.in_skin_unknown)
    yield Hypothesis(SuspectKind.IN_SKIN, odds, Effect(SKIN_SHARE * scene.whole_mg, SKIN_LOG_SD))
