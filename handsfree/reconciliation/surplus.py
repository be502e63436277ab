"""Hypotheses in which something is in the sum that should not be."""

from __future__ import annotations

from collections.abc import Iterator
from math import sqrt

from handsfree.reconciliation.account import Weighing
from handsfree.reconciliation.anatomy import parts_of
from handsfree.reconciliation.effects import Effect
from handsfree.reconciliation.hypotheses import (
    ANY_LOG_SD,
    DIFFERENT_PIECES_LOG_SD,
    Hypothesis,
    SuspectKind,
)
from handsfree.reconciliation.scene import Scene

#: A piece weighed again is looked for among so many weighings after it on the same scale.
AGAIN_WITHIN = 3


def surplus_hypotheses(scene: Scene) -> Iterator[Hypothesis]:
    """All hypotheses about a weighing that is not a piece of this carcass, or not a second one."""
    for piece in scene.balance.unnamed:
        odds = scene.odds.unnamed_not_meat
        yield Hypothesis(SuspectKind.UNNAMED_NOT_MEAT, odds, too_much(piece), entries=(piece.number,))
    yield from _twice(scene)
    yield from _whole_and_parts(scene)
    yield from _containers(scene)


def too_much(piece: Weighing) -> Effect:
    """The effect of a weighing that should not be in the sum."""
    return Effect(float(max(piece.mass_mg, 0)), 0.0, -1)


def _twice(scene: Scene) -> Iterator[Hypothesis]:
    """Two weighings near each other on one scale that agree to the digit."""
    by_scale: dict[str, list[Weighing]] = {}
    for piece in scene.pieces:
        by_scale.setdefault(piece.scale, []).append(piece)
    for row in by_scale.values():
        for place, first in enumerate(row):
            for apart, second in enumerate(row[place + 1 : place + 1 + AGAIN_WITHIN]):
                yield from _same_piece(scene, first, second, apart)


def _same_piece(scene: Scene, first: Weighing, second: Weighing, apart: int) -> Iterator[Hypothesis]:
    if min(first.mass_mg, second.mass_mg) <= 0 or not (first.cut or second.cut):
        return
    odds, log_sd = scene.odds.twice if apart == 0 else scene.odds.twice_apart, DIFFERENT_PIECES_LOG_SD
    if not (first.cut and second.cut):
        odds, log_sd = scene.odds.twice_unnamed / (1 + apart), ANY_LOG_SD
    elif (first.cut, first.side, first.count) != (second.cut, second.side, second.count):
        if first.cut == second.cut:  # the left and the right one: they are alike by nature
            return
        odds, log_sd = scene.odds.twice_other_name / (1 + apart), ANY_LOG_SD
    else:
        odds *= scene.room_factor(second)
    if not first.cut:
        first, second = second, first  # the unnamed one is to be struck
    by_chance_mg = sqrt(2) * log_sd * second.mass_mg
    fit = scene.agreement(first.mass_mg - second.mass_mg, second, sqrt(2), by_chance_mg)
    entries = (first.number, second.number)
    yield Hypothesis(SuspectKind.LOGGED_TWICE, odds * fit, too_much(second), entries=entries)


def _whole_and_parts(scene: Scene) -> Iterator[Hypothesis]:
    """A joint weighed whole and again in its parts, where the plan has not both."""
    for whole in scene.pieces:
        below = parts_of(whole.cut, scene.parts)
        mine = [p for p in scene.pieces if p.cut in below and (not whole.side or p.side in ("", whole.side))]
        both = scene.plan is not None and scene.plan.expects(whole.cut)
        both = both and any(scene.plan is not None and scene.plan.expects(p.cut) for p in mine)
        if not mine or both or whole.mass_mg <= 0:
            continue
        in_parts_mg = sum(p.mass_mg for p in mine)
        if in_parts_mg <= 1.05 * whole.mass_mg:
            entries = (*(p.number for p in mine), whole.number)
            odds = scene.odds.whole_and_parts
            yield Hypothesis(SuspectKind.WHOLE_AND_PARTS, odds, too_much(whole), entries=entries)


def _containers(scene: Scene) -> Iterator[Hypothesis]:
    """A weighing that has the mass of a container."""
    for scale in scene.scales.values():
        on_it = [p for p in scene.pieces if p.scale == scale.name and p.mass_mg > 0]
        for container_mg in sorted({mass for mass in scale.containers_mg if mass > 0}):
            for piece in on_it:
                log_sd = DIFFERENT_PIECES_LOG_SD if piece.cut else ANY_LOG_SD
                off_mg = piece.mass_mg - container_mg
                fit = scene.agreement(off_mg, piece, 1.0, log_sd * piece.mass_mg)
                odds = scene.odds.container * fit * scene.room_factor(piece)
                yield Hypothesis(SuspectKind.CONTAINER, odds, too_much(piece), entries=(piece.number,))
