"""One figure of carcass after carcass, watched by four control charts. Pure.

Phase I: the usual is told by the first carcasses in order (or by the settings). Phase II: every carcass is
held against it, by individuals (three standard deviations), moving range, EWMA and CUSUM.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from statistics import fmean
from typing import Final

import numpy as np

from handsfree.reconciliation.control_charts import (
    D2_OF_TWO,
    D4_OF_TWO,
    Chart,
    Cusum,
    cusum,
    ewma,
    moving_ranges,
    sigma_of,
)
from handsfree.reconciliation.run_rules import Run, runs

#: Carcasses below which nothing is judged (20 to 25 samples are the usual advice: Montgomery,
#: Introduction to Statistical Quality Control, ch. 6; from memory).
LEAST_CARCASSES: Final = 20
#: Carcasses that limits are taken from unless the settings say otherwise.
USUAL_CARCASSES: Final = 100
#: Weight and reach of the EWMA: about 500 carcasses in order between false alarms (Lucas & Saccucci 1990,
#: Technometrics 32(1):1; Montgomery's table of EWMA schemes; from memory, and computed in the tests).
WEIGHT: Final = 0.2
REACH: Final = 2.962
#: Slack and limit of the CUSUM in standard deviations: 465 carcasses in order between false alarms, 10.4
#: until a shift of one standard deviation is seen (NIST/SEMATECH e-Handbook 6.3.2.3).
SLACK: Final = 0.5
LIMIT: Final = 5.0
#: Average and sums take no value for further out than this many standard deviations: single ones are the
#: business of the individuals, and must not look like a change that lasts.
_FAR: Final = 3.0


@dataclass(frozen=True, slots=True)
class Usual:
    """What is usual of one figure here."""

    centre: float
    sigma: float
    """Standard deviation from carcass to carcass."""
    places: tuple[int, ...] = ()
    """The carcasses it was taken from, by their places; empty when the settings say it."""
    left_out: int = 0
    """Carcasses among them that lay outside the limits and were left out."""


@dataclass(frozen=True, slots=True)
class Change:
    """A stretch of carcasses that is off on one side."""

    since: int
    """Place of its first carcass, as the charts make out."""
    until: int
    """Place of its last."""
    above: bool
    shift: float
    """Mean of the stretch less the centre."""
    lasting: bool
    """Whether it goes on to the newest carcass."""
    seen_by: tuple[str, ...]
    """"average", "sums" or both."""


@dataclass(frozen=True, slots=True)
class Watch:
    """The four charts of one figure; all places count the values given."""

    values: tuple[float, ...]
    judged: tuple[bool, ...]
    """Carcasses that are not are shown only, and left out of average, sums and ranges."""
    usual: Usual
    individuals: Chart
    ranges: Chart
    """Of the judged carcasses only, each with the one judged before it."""
    averages: Chart
    """EWMA, of the judged carcasses only."""
    sums: Cusum
    """In standard deviations, of the judged carcasses only."""
    order: tuple[int, ...]
    """Places of the judged carcasses."""
    beyond: tuple[int, ...]
    """Places of judged single carcasses beyond three standard deviations."""
    jumps: tuple[int, ...]
    """Places of judged carcasses that differ too much from the one before."""
    changes: tuple[Change, ...]
    hints: tuple[Run, ...]
    """Run rules 2 to 4, by place."""


def usual_of(
    values: Sequence[float], usable: Sequence[bool], *, first: int = USUAL_CARCASSES
) -> Usual | None:
    """The usual from the first usable carcasses: phase I. None when there are too few to judge.

    Those beyond three standard deviations of the others are left out, until none is.
    """
    places = [place for place, good in enumerate(usable) if good][:first]
    begun = len(places)
    while len(places) >= LEAST_CARCASSES:
        chosen = [values[place] for place in places]
        centre, sigma = fmean(chosen), sigma_of(chosen)
        kept = [place for place in places if abs(values[place] - centre) <= 3 * sigma]
        if len(kept) == len(places):
            return Usual(centre, sigma, tuple(places), begun - len(places)) if sigma > 0 else None
        places = kept
    return None


def watched(values: Sequence[float], judged: Sequence[bool], usual: Usual) -> Watch:
    """All carcasses held against the usual: phase II."""
    order = tuple(place for place, good in enumerate(judged) if good)
    chosen = [values[place] for place in order]
    centre, sigma = usual.centre, usual.sigma
    near = np.clip(chosen, centre - _FAR * sigma, centre + _FAR * sigma)
    averages = ewma(near.tolist(), centre, sigma, weight=WEIGHT, reach=REACH)
    scaled = ((near - centre) / sigma).tolist()
    sums = cusum(scaled, 0.0, slack=SLACK, limit=LIMIT, ceiling=2 * LIMIT)
    ranges = moving_ranges(chosen)
    widest = D4_OF_TWO * D2_OF_TWO * sigma
    line = (centre,) * len(values)
    lower, upper = (tuple(at + side * 3 * sigma for at in line) for side in (-1, 1))
    found = runs(chosen, centre, sigma)
    return Watch(
        values=tuple(values),
        judged=tuple(judged),
        usual=usual,
        individuals=Chart(tuple(values), centre, lower, upper),
        ranges=Chart(ranges, D2_OF_TWO * sigma, (0.0,) * len(ranges), (widest,) * len(ranges)),
        averages=averages,
        sums=sums,
        order=order,
        beyond=tuple(order[run.place] for run in found if run.rule == 1),
        jumps=tuple(order[place + 1] for place, value in enumerate(ranges) if value > widest),
        changes=tuple(_changes(chosen, centre, averages, sums, order)),
        hints=tuple(Run(order[run.place], run.rule, run.above) for run in found if run.rule > 1),
    )


def _changes(
    values: Sequence[float], centre: float, averages: Chart, sums: Cusum, order: Sequence[int]
) -> Iterable[Change]:
    found: list[tuple[int, int, bool, set[str]]] = []
    for above in (True, False):
        column = sums.above if above else sums.below
        stretches = [(*s, "sums") for s in _stretches(column, sums.limit)]
        sign = 1 if above else -1
        off = [sign * (value - centre) for value in averages.values]
        limits = averages.upper if above else averages.lower
        over = [o - sign * (limit - centre) for o, limit in zip(off, limits, strict=True)]
        stretches += [(*s, "average") for s in _stretches([max(0.0, o) for o in off], 0.0, over)]
        found += _joined(sorted(stretches), above)
    for begun, until, above, by in sorted(found, key=lambda each: each[:2]):
        since = _onset([value - centre for value in values[begun : until + 1]]) + begun
        shift = fmean(values[since : until + 1]) - centre
        lasting = until == len(values) - 1
        yield Change(order[since], order[until], above, shift, lasting, tuple(sorted(by)))


def _onset(off: Sequence[float]) -> int:
    """Where a step most likely began, in values less the centre that lead to an alarm.

    The place from which on the count times the squared mean is greatest: the likeliest one for a normal with
    known mean before (Samuel, Pignatiello & Calvin 1998, Quality Engineering 10(3):521; from memory).
    """
    sums = np.cumsum(np.asarray(off, dtype=float)[::-1])
    return len(off) - 1 - int(np.argmax(sums**2 / np.arange(1, len(off) + 1)))


def _stretches(
    column: Sequence[float], limit: float, over: Sequence[float] | None = None
) -> Iterable[tuple[int, int]]:
    """From the first value above nothing to the last above the limit, wherever the limit is passed."""
    since, last = None, None
    for place, value in enumerate(column):
        if value <= 0:
            if since is not None and last is not None:
                yield since, last
            since, last = None, None
            continue
        since = place if since is None else since
        if (value - limit if over is None else over[place]) > 0:
            last = place
    if since is not None and last is not None:
        yield since, last


def _joined(stretches: Iterable[tuple[int, int, str]], above: bool) -> list[tuple[int, int, bool, set[str]]]:
    joined: list[tuple[int, int, bool, set[str]]] = []
    for since, until, by in stretches:
        if joined and since <= joined[-1][1] + 1:
            before = joined[-1]
            joined[-1] = (before[0], max(before[1], until), above, before[3] | {by})
        else:
            joined.append((since, until, above, {by}))
    return joined
