"""Hypotheses in which a weighing has the wrong name or none: no mass is missing."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from math import fsum

from handsfree.reconciliation.account import Weighing
from handsfree.reconciliation.hypotheses import Hypothesis, SuspectKind
from handsfree.reconciliation.scene import MOST_EVIDENCE, Scene


def misnamed_hypotheses(scene: Scene, absent: list[Hypothesis]) -> Iterator[Hypothesis]:
    """All hypotheses about names.

    Args:
        scene: The balance and what is known around it.
        absent: From `absent_pieces`: the names a weighing may really have.
    """
    yield from _unnamed_is_absent(scene, absent)
    yield from _named_wrong(scene, absent)
    told: dict[tuple[object, ...], list[Hypothesis]] = {}
    for piece in scene.pieces:
        if piece.cut and piece.mass_mg > 0:
            for one in _miscalled(scene, piece, absent):
                # Which of two left flanks is the left shank, one look decides: it is told as one thing.
                key = (piece.cut, piece.side) if one.missing else (piece.number,)
                told.setdefault((*key, one.missing), []).append(one)
    for group in told.values():
        likeliest_last = sorted(group, key=lambda one: one.odds)
        likeliest_last = [one for one in likeliest_last if one.odds > 0.05 * likeliest_last[-1].odds]
        entries = tuple(number for one in likeliest_last for number in one.entries)
        yield replace(group[0], odds=fsum(one.odds for one in group), entries=entries)


def _unnamed_is_absent(scene: Scene, absent: list[Hypothesis]) -> Iterator[Hypothesis]:
    for piece in scene.balance.unnamed:
        for one in absent:
            odds = scene.odds.unnamed_is_planned * min(1.0, one.odds) * scene.fit(piece, one.effect)
            yield Hypothesis(SuspectKind.UNNAMED, odds, missing=one.missing, entries=(piece.number,))


def _named_wrong(scene: Scene, absent: list[Hypothesis]) -> Iterator[Hypothesis]:
    """A side recorded more often than there is room for while the other side is absent."""
    for one in absent:
        (item,) = one.missing
        other = [p for p in scene.pieces if item.side and p.cut == item.cut and p.side not in ("", item.side)]
        if sum(piece.count for piece in other) > item.count:
            numbers = tuple(piece.number for piece in other)
            odds = scene.odds.named_wrong
            yield Hypothesis(SuspectKind.NAMED_WRONG, odds, missing=one.missing, entries=numbers)


def _miscalled(scene: Scene, piece: Weighing, absent: list[Hypothesis]) -> Iterator[Hypothesis]:
    """A weighing that fits an absent piece better than its own name, or fits its name not at all."""
    over = scene.room(piece)
    # Dice in one more tub than planned is no sign of a wrong name; a third left shank is.
    over = min(over, 0) if over is not None and not piece.side else over
    as_named = scene.fit_to_name(piece)
    prior = scene.odds.miscalled_over_plan if over is not None and over > 0 else scene.odds.miscalled_planned
    if scene.plan is not None and over is None:
        prior = scene.odds.miscalled_unplanned
    for one in absent:
        (item,) = one.missing
        if item.cut == piece.cut or item.count != piece.count or one.effect.log_sd <= 0:
            continue
        # What may well not be absent at all, as one tub fewer, is no name to be given away.
        absent_at_all = min(1.0, one.odds)
        odds = prior * absent_at_all * min(MOST_EVIDENCE, scene.fit(piece, one.effect) / as_named)
        yield Hypothesis(SuspectKind.MISCALLED, odds, missing=one.missing, entries=(piece.number,))
    if piece.count == 1 and as_named < 1.0:
        odds = scene.odds.weight_far_off / as_named
        yield Hypothesis(SuspectKind.MISCALLED, odds, entries=(piece.number,), detail=piece.words())
