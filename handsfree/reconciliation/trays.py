"""Hypotheses in which a container was weighed together with meat, in one weighing or in several."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import accumulate
from math import exp, fsum

from handsfree.reconciliation.account import Weighing
from handsfree.reconciliation.effects import Effect
from handsfree.reconciliation.hypotheses import Hypothesis, SuspectKind
from handsfree.reconciliation.scene import Scene

#: A tray left on the scale is in at most so many weighings.
LONGEST_RUN = 12
#: Evidence of many pieces together counts for no more than this; two such stay finite.
MOST_LOG_EVIDENCE = 200.0
#: Entries are named when they are this likely, given that it happened.
NAMED_FROM = 0.5


def tray_hypotheses(scene: Scene) -> Iterator[Hypothesis]:
    """A container in one weighing, and in a run of weighings on one scale."""
    for scale in scene.scales.values():
        on_it = [p for p in scene.pieces if p.scale == scale.name and p.mass_mg > 0]
        for container_mg in sorted({mass for mass in scale.containers_mg if mass > 0}):
            yield from _runs(scene, on_it, container_mg, scale.name)


def _runs(scene: Scene, on_it: list[Weighing], container_mg: int, scale: str) -> Iterator[Hypothesis]:
    """One hypothesis for each length of the run; which run it was, its own masses tell."""
    sums = {
        # In a run the other side is no witness: the tray may be in both.
        alone: [0.0, *accumulate(scene.log_evidence(p, p.mass_mg - container_mg, alone=alone) for p in on_it)]
        for alone in (True, False)
    }
    longest = min(LONGEST_RUN, len(on_it))
    for length in range(1, longest + 1):
        single = length == 1
        prior = scene.odds.container_included if single else scene.odds.tray_left_on / (LONGEST_RUN - 1)
        upto = sums[single]
        runs = [
            exp(max(-MOST_LOG_EVIDENCE, min(MOST_LOG_EVIDENCE, b - a)))
            for a, b in zip(upto, upto[length:], strict=False)
        ]
        total = fsum(runs)
        best = max(range(len(runs)), key=runs.__getitem__)
        clear = runs[best] >= NAMED_FROM * total
        entries = tuple(p.number for p in on_it[best : best + length]) if clear else ()
        yield Hypothesis(
            SuspectKind.CONTAINER_INCLUDED if single else SuspectKind.TRAY_LEFT_ON,
            prior * total / len(runs),
            Effect(float(length * container_mg), 0.0, -1),
            entries=entries,
            detail=f"{length} weighings on the {scale} scale",
        )
