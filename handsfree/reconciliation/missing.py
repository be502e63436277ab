"""Hypotheses in which a piece was never recorded: its mass is missing from the sum."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

from handsfree.reconciliation.anatomy import parts_of
from handsfree.reconciliation.effects import log_normal_density, together
from handsfree.reconciliation.hypotheses import Hypothesis, SuspectKind
from handsfree.reconciliation.plan import Expected
from handsfree.reconciliation.scene import Scene


def missing_hypotheses(scene: Scene, singles: list[Hypothesis]) -> Iterator[Hypothesis]:
    """All hypotheses about pieces that are absent from the record.

    Args:
        scene: The balance and what is known around it.
        singles: From `absent_pieces`.
    """
    yield from singles
    yield from _not_finished(scene, singles)
    yield from _called_elsewhere(scene, singles)
    yield Hypothesis(
        SuspectKind.UNPLANNED_NOT_LOGGED, scene.odds.unplanned, scene.any_effect(), combines=False
    )


def absent_pieces(scene: Scene) -> list[Hypothesis]:
    """Each piece that should be there, with the odds of forgotten against not cut separately."""
    called = {(call.cut, call.side): call for call in scene.balance.account.unweighed}
    found = []
    for item, base in _absent(scene):
        effect = scene.effect_of(item)
        call = called.get((item.cut, item.side)) or called.get((item.cut, ""))
        if call is None:
            found.append(Hypothesis(SuspectKind.NOT_LOGGED, base, effect, (item,)))
            continue
        entries = (call.number,) if call.number else ()
        odds = base * scene.odds.called
        found.append(Hypothesis(SuspectKind.CALLED_NOT_WEIGHED, odds, effect, (item,), entries))
    return found


def _absent(scene: Scene) -> Iterator[tuple[Expected, float]]:
    """Absent pieces and their prior odds."""
    if scene.plan is not None:
        absent = scene.balance.remaining
        # How closely this carcass keeps to the plan is judged by the carcass itself: the more is
        # absent, the likelier it was cut another way (a rate with a weak prior of one in a hundred).
        not_cut_rate = (0.2 + len(absent)) / (20 + len(scene.plan.expected))
        for item in _tubs_together(scene, absent):
            yield item, scene.odds.forgotten / not_cut_rate * _tub_factor(scene, item)
    for item in _open_pairs(scene):
        # What the plan has is judged by the plan; it may say nothing of a haunch broken down further.
        if scene.plan is None or not scene.plan.expects(item.cut):
            yield item, scene.odds.other_half_of_pair


def _tubs_together(scene: Scene, absent: Iterable[Expected]) -> Iterator[Expected]:
    """Absent tubs of one name as one item: one tub where others are recorded, else all of it."""
    recorded = {piece.cut for piece in scene.pieces}
    told: dict[str, Expected] = {}
    for item in absent:
        if item.side or item.count > 1:
            yield item
        elif item.cut not in told:
            told[item.cut] = item
        elif item.cut not in recorded and item.share:
            told[item.cut] = replace(item, share=(told[item.cut].share or 0.0) + item.share)
    yield from told.values()


def _tub_factor(scene: Scene, item: Expected) -> float:
    """How much less likely an absent tub is forgotten where others of the same are recorded.

    The mass that is there tells whether it is all of it, in fewer tubs than planned.
    """
    if scene.plan is None or item.side or item.count > 1:
        return 1.0
    planned = [each for each in scene.plan.expected if each.cut == item.cut]
    there_mg = sum(piece.mass_mg for piece in scene.pieces if piece.cut == item.cut)
    if len(planned) < 2 or there_mg <= 0 or not item.share:
        return 1.0
    all_mg = item.share * len(planned) * scene.whole_mg
    less_mg = all_mg - item.share * scene.whole_mg
    as_less, as_all = (log_normal_density(there_mg, mg, item.spread) for mg in (less_mg, all_mg))
    return scene.odds.other_tubs * min(10.0, as_less / max(as_all, 1e-300))


def _open_pairs(scene: Scene) -> Iterator[Expected]:
    sides: dict[str, set[str]] = {}
    for piece in scene.pieces:
        if piece.side and piece.cut:
            sides.setdefault(piece.cut, set()).add(piece.side)
    for cut, found in sides.items():
        if len(found) == 1:
            other = Expected(cut, "right" if "left" in found else "left")
            if not _other_form(scene, other):
                yield other


def _other_form(scene: Scene, item: Expected) -> bool:
    """Whether the other side was cut otherwise: kept whole, or broken down further.

    Joints that lie side by side on the recorded side, as a haunch and its shank, are no sign of it.
    """
    below = parts_of(item.cut, scene.parts)
    beside = {piece.cut for piece in scene.pieces if piece.side != item.side}
    return any(
        piece.side == item.side
        and piece.cut not in beside
        and (piece.cut in below or item.cut in parts_of(piece.cut, scene.parts))
        for piece in scene.pieces
    )


def _not_finished(scene: Scene, singles: list[Hypothesis]) -> Iterator[Hypothesis]:
    if len(singles) >= 3:
        missing = tuple(item for one in singles for item in one.missing)
        effect = together([one.effect for one in singles])
        odds = scene.odds.not_finished
        yield Hypothesis(SuspectKind.NOT_FINISHED, odds, effect, missing, combines=False)


def _called_elsewhere(scene: Scene, singles: list[Hypothesis]) -> Iterator[Hypothesis]:
    """Calls without a weight that are none of the pieces known to be absent."""
    absent = {item.cut for one in singles for item in one.missing}
    seen = set()
    for call in scene.balance.account.unweighed:
        if call.cut in absent or (call.cut, call.side) in seen:
            continue
        seen.add((call.cut, call.side))
        recorded = any(p.cut == call.cut and call.side in ("", p.side) for p in scene.pieces)
        item = Expected(call.cut, call.side, call.count)
        odds = scene.odds.called_and_recorded if recorded else scene.odds.called_unplanned
        entries = (call.number,) if call.number else ()
        yield Hypothesis(SuspectKind.CALLED_NOT_WEIGHED, odds, scene.effect_of(item), (item,), entries)
