"""Hypotheses in which pounds were taken for kilograms, or kilograms for pounds."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import accumulate
from math import exp, fsum
from typing import Final

from handsfree.mass import MG_PER_KG, MG_PER_UNIT
from handsfree.reconciliation.account import Weighing
from handsfree.reconciliation.effects import Effect
from handsfree.reconciliation.hypotheses import Hypothesis, SuspectKind
from handsfree.reconciliation.scene import Scene

_POUND: Final = float(MG_PER_UNIT["lb"] / MG_PER_KG)
#: What was done, and by what the recorded mass has to be multiplied to be right.
FACTORS: Final = (
    ("pounds taken for kilograms", _POUND),
    ("kilograms taken for pounds", 1 / _POUND),
)
#: Evidence of many pieces together counts for no more than this; two such stay finite.
MOST_LOG_EVIDENCE = 200.0
#: A scale that was switched shows it in at least so many weighings.
SHORTEST_RUN = 3


def unit_hypotheses(scene: Scene) -> Iterator[Hypothesis]:
    """One piece, all pieces of a scale from some moment on, or the dressed weight."""
    by_scale: dict[str, list[Weighing]] = {}
    for piece in scene.pieces:
        if piece.mass_mg > 0:
            by_scale.setdefault(piece.scale, []).append(piece)
    for detail, factor in FACTORS:
        for row in by_scale.values():
            evidence = [scene.log_evidence(piece, factor * piece.mass_mg, factor) for piece in row]
            for piece, told in zip(row, evidence, strict=True):
                yield _wrong(scene.odds.wrong_unit_piece * _capped(told), [piece], factor, detail)
            evidence = [scene.log_evidence(p, factor * p.mass_mg, factor, alone=False) for p in row]
            yield from _from_some_moment(scene, row, evidence, factor, detail)
        yield from _dressed(scene, factor, detail)


def _wrong(odds: float, pieces: list[Weighing], factor: float, detail: str) -> Hypothesis:
    """These weighings in the wrong unit: the mass is known, so is what it does to the rest."""
    shift_mg = (factor - 1) * sum(piece.mass_mg for piece in pieces)
    entries = tuple(piece.number for piece in pieces)
    return Hypothesis(SuspectKind.WRONG_UNIT, odds, Effect(shift_mg=shift_mg), entries=entries, detail=detail)


def _from_some_moment(
    scene: Scene, row: list[Weighing], evidence: list[float], factor: float, detail: str
) -> Iterator[Hypothesis]:
    starts = len(row) - SHORTEST_RUN + 1
    if starts < 1:
        return
    to_the_end = list(accumulate(reversed(evidence)))[::-1]
    for start in range(starts):
        odds = scene.odds.wrong_unit_from / starts * _capped(to_the_end[start])
        yield _wrong(odds, row[start:], factor, detail)


def _dressed(scene: Scene, factor: float, detail: str) -> Iterator[Hypothesis]:
    recorded_mg = scene.balance.dressed_mg
    if recorded_mg is None:
        return
    # What the dressed weight is too much by is missing from the pieces, less its share of the losses.
    kept = 1 - scene.balance.process_loss_mg / recorded_mg
    # All pieces against it: to hold them to another whole is to hold other pieces to this one.
    told = fsum(scene.log_evidence(p, p.mass_mg / factor, 1 / factor, alone=False) for p in scene.pieces)
    odds = scene.odds.wrong_unit_dressed * _capped(told)
    effect = Effect(shift_mg=(1 - factor) * recorded_mg * kept)
    yield Hypothesis(SuspectKind.WRONG_UNIT, odds, effect, detail=detail)


def _capped(log_evidence: float) -> float:
    return exp(max(-MOST_LOG_EVIDENCE, min(MOST_LOG_EVIDENCE, log_evidence)))
