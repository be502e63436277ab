"""Hypotheses about the dressed weight, the scales and the process: no one piece is to blame."""

from __future__ import annotations

from collections.abc import Iterator

from handsfree.pairing.messages import Method
from handsfree.reconciliation.account import Weighing, indicated_mg
from handsfree.reconciliation.effects import Effect
from handsfree.reconciliation.hypotheses import SKIN_LOG_SD, SKIN_SHARE, Hypothesis, SuspectKind
from handsfree.reconciliation.scene import Scene
from handsfree.reconciliation.weighings import scale_data

#: Carcasses brought in on one day differ like this (one standard deviation, relative; common
#: practice, no source).
OTHER_CARCASS_SHARE = 0.35
#: A scale that is off is off by this part of the load (common practice, no source): several times
#: what it may be in service.
DRIFT_SHARE = 0.01
#: A loss taken wrongly is off by this part of the dressed weight: from hand to bandsaw and back.
PROCESS_OFF_SHARE = 0.0065
#: A scale is blamed only when so much of the carcass went over it.
LEAST_WEIGHED_SHARE = 0.2


def circumstance_hypotheses(scene: Scene) -> Iterator[Hypothesis]:
    """All hypotheses that blame no piece."""
    yield from _in_skin(scene)
    dressed = scene.balance.account.dressed
    if dressed is None:
        return
    yield from _with_its_hook(scene, dressed)
    rest_mg = scene.balance.unaccounted_mg or 0
    yield Hypothesis(
        SuspectKind.OTHER_CARCASS,
        scene.odds.other_carcass * scene.size_evidence(dressed.mass_mg - rest_mg),
        Effect(wide_mg=OTHER_CARCASS_SHARE * scene.whole_mg),
        combines=False,
    )
    yield from _scales_off(scene, dressed)
    yield Hypothesis(
        SuspectKind.PROCESS_LOSS_OFF,
        scene.odds.process_off,
        Effect(wide_mg=PROCESS_OFF_SHARE * scene.whole_mg),
        combines=False,
    )


def _in_skin(scene: Scene) -> Iterator[Hypothesis]:
    if any(piece.cut == "skin" for piece in scene.pieces):
        return
    by_skin = {"on": scene.odds.in_skin_on, "off": scene.odds.in_skin_off}
    odds = by_skin.get(scene.balance.account.skin, scene.odds.in_skin_unknown)
    odds *= scene.size_evidence((1 - SKIN_SHARE) * scene.whole_mg)
    yield Hypothesis(SuspectKind.IN_SKIN, odds, Effect(SKIN_SHARE * scene.whole_mg, SKIN_LOG_SD))


def _with_its_hook(scene: Scene, dressed: Weighing) -> Iterator[Hypothesis]:
    scale = scene.scales.get(dressed.scale)
    for container_mg in sorted({mass for mass in (scale.containers_mg if scale else ()) if mass > 0}):
        yield Hypothesis(
            SuspectKind.DRESSED_WITH_CONTAINER,
            scene.odds.dressed_with_container,
            Effect(float(container_mg)),
            detail=dressed.scale,
        )


def _scales_off(scene: Scene, dressed: Weighing) -> Iterator[Hypothesis]:
    loads_mg: dict[str, int] = {dressed.scale: dressed.mass_mg}
    for piece in scene.pieces:
        # Where pieces and carcass share a scale, only the difference is touched by it.
        loads_mg[piece.scale] = loads_mg.get(piece.scale, 0) - piece.mass_mg
    for name, load_mg in loads_mg.items():
        if abs(load_mg) < LEAST_WEIGHED_SHARE * scene.whole_mg:
            continue
        wandered = _zero_wandered(scene, name)
        yield Hypothesis(
            SuspectKind.SCALE_DRIFT,
            scene.odds.scale_drift * (scene.odds.zero_wandered if wandered else 1.0),
            Effect(wide_mg=DRIFT_SHARE * abs(load_mg)),
            detail=name,
            combines=False,
        )


def _zero_wandered(scene: Scene, name: str) -> bool:
    """Whether the empty pan of a scale was seen two intervals or more away from zero."""
    seen = [
        (indicated_mg(piece.indication_before), scale_data(piece, scene.scales).d_mg)
        for piece in scene.pieces
        if piece.scale == name and piece.method is Method.CLEARED_PAN and not piece.tare
    ]
    return any(before is not None and abs(before) >= 2 * d_mg > 0 for before, d_mg in seen)
