"""Hypotheses in which something is in the sum that should not be."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from math import exp, sqrt

from handsfree.reconciliation.account import Weighing
from handsfree.reconciliation.distributions import rounding
from handsfree.reconciliation.effects import Effect
from handsfree.reconciliation.hypotheses import (
    ANY_LOG_SD,
    DIFFERENT_PIECES_LOG_SD,
    Hypothesis,
    Scene,
    SuspectKind,
)
from handsfree.reconciliation.weighings import scale_data


def surplus_hypotheses(scene: Scene) -> Iterator[Hypothesis]:
    """All hypotheses about a weighing that is not a piece of this carcass, or not a second one."""
    for piece in scene.balance.unnamed:
        odds = scene.odds.unnamed_not_meat
        yield Hypothesis(SuspectKind.UNNAMED_NOT_MEAT, odds, _too_much(piece), entries=(piece.number,))
    yield from _twice(scene)
    yield from _containers(scene)


def _too_much(piece: Weighing) -> Effect:
    return Effect(float(max(piece.mass_mg, 0)), 0.0, -1)


def _twice(scene: Scene) -> Iterator[Hypothesis]:
    """Two weighings next to each other on one scale, of one name, that agree to the digit."""
    by_scale: dict[str, list[Weighing]] = {}
    for piece in scene.pieces:
        by_scale.setdefault(piece.scale, []).append(piece)
    for first, second in (pair for row in by_scale.values() for pair in pairwise(row)):
        alike = (first.cut, first.side, first.count) == (second.cut, second.side, second.count)
        if not (alike and first.cut and second.mass_mg > 0):
            continue
        by_chance_mg = sqrt(2) * DIFFERENT_PIECES_LOG_SD * second.mass_mg
        fit = _agreement(scene, first.mass_mg - second.mass_mg, second, sqrt(2), by_chance_mg)
        odds = scene.odds.twice * _room_factor(scene, second)
        entries = (first.number, second.number)
        yield Hypothesis(SuspectKind.LOGGED_TWICE, odds * fit, _too_much(second), entries=entries)


def _agreement(scene: Scene, off_mg: float, piece: Weighing, factor: float, by_chance_mg: float) -> float:
    """How much better two masses agree than chance would have it."""
    scale = scale_data(piece, scene.scales)
    digits_mg = sqrt(2) * rounding(piece.d_mg or scale.d_mg)
    u_mg = factor * max(piece.u_mg, sqrt(digits_mg**2 + scale.s_mg**2), 1.0)
    chance_mg = max(by_chance_mg, u_mg)
    # The ratio of two normal densities, as one exponential: far out both would be 0 to a float.
    return chance_mg / u_mg * exp(-0.5 * ((off_mg / u_mg) ** 2 - (off_mg / chance_mg) ** 2))


def _room_factor(scene: Scene, piece: Weighing) -> float:
    """How much likelier no piece of its own: more if the plan has less of this name than is recorded."""
    if scene.plan is None:
        return 1.0
    expected = [item for item in scene.plan.expected if item.cut == piece.cut]
    have = sum(p.count for p in scene.pieces if (p.cut, p.side) == (piece.cut, piece.side))
    room = sum(item.count for item in expected if not item.side or item.side == piece.side)
    return scene.odds.over_plan if expected and have > room else 1.0


def _containers(scene: Scene) -> Iterator[Hypothesis]:
    for scale in scene.scales.values():
        on_it = [p for p in scene.pieces if p.scale == scale.name and p.mass_mg > 0]
        for container_mg in sorted({mass for mass in scale.containers_mg if mass > 0}):
            for piece in on_it:
                log_sd = DIFFERENT_PIECES_LOG_SD if piece.cut else ANY_LOG_SD
                off_mg = piece.mass_mg - container_mg
                fit = _agreement(scene, off_mg, piece, 1.0, log_sd * piece.mass_mg)
                odds = scene.odds.container * fit * _room_factor(scene, piece)
                yield Hypothesis(SuspectKind.CONTAINER, odds, _too_much(piece), entries=(piece.number,))
            if on_it:
                effect = Effect(float(container_mg), 0.0, -1)
                yield Hypothesis(SuspectKind.CONTAINER_INCLUDED, scene.odds.container, effect)
