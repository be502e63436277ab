"""The budget of a set of weighings, each as it was really weighed.

Every net weighing is a difference of two readings. A reading has its digit (d/√12); a reading with
load on the pan has the repeatability besides (the reading model of EURAMET cg-18 7.1.1: digit at
zero, digit at load, repeatability, eccentricity). Building a tray up or taking off a block, one
weighing's last reading is the next one's first, so the differences telescope: the sum knows only
the first and the last reading. A stored tare is one error taken off every piece.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import hypot, sqrt

from handsfree.pairing.messages import Method
from handsfree.reconciliation.account import SPOKEN, Weighing, indicated_mg, said_interval_mg
from handsfree.reconciliation.budget import Budget, Source, SourceKind
from handsfree.reconciliation.distributions import rounding
from handsfree.reconciliation.instruments import ScaleData

#: Interval of a said weight whose words give no decimals (common practice, no source).
SAID_INTERVAL_MG = 10_000

#: Interval of an instrument of which nothing at all is known (common bench scale, no source).
UNKNOWN_INTERVAL_MG = 5_000


@dataclass(slots=True)
class _Reading:
    """One reading of one scale; shared by the two weighings it lies between."""

    scale: str
    name: str
    d_mg: int
    repeatability_mg: float
    """0 for the zeroed, empty pan."""
    zero_mg: float | None = None
    """What the zero moved since it was read, for the empty pan; None for a reading with load."""


def scale_data(weighing: Weighing, scales: Mapping[str, ScaleData]) -> ScaleData:
    """The instrument of a weighing; where it has no data, the defaults for its interval."""
    known = scales.get(weighing.scale)
    return known if known is not None else ScaleData(weighing.scale, weighing.d_mg or UNKNOWN_INTERVAL_MG)


def weighings_budget(
    weighings: Sequence[Weighing], scales: Mapping[str, ScaleData], *, run: str = "piece"
) -> Budget:
    """The budget of the sum of the standing weighings.

    Args:
        weighings: In the order weighed, struck ones included (they are not in the sum, but the
            readings around them are).
        scales: What is known of each instrument, by name; defaults stand in for the others.
        run: Names this run of readings: weighings of two runs share spans and stored tares, but
            no reading.
    """
    terms: list[tuple[Source, float]] = []
    last: dict[str, _Reading] = {}
    uses: list[tuple[float, _Reading]] = []
    said: dict[str, str] = {}
    for place, weighing in enumerate(weighings):
        scale = scale_data(weighing, scales)
        name = f"{run} {place}"
        found = _readings(weighing, scale, name, last.get(scale.name), said.get(scale.name, ""))
        if found:
            last[scale.name], said[scale.name] = found[0][1], weighing.indication
        if not weighing.struck:
            uses += found
            terms += _other_terms(weighing, scale, name)
    terms += (term for sign, reading in uses for term in _reading_terms(sign, reading))
    return Budget(terms)


def _readings(
    weighing: Weighing, scale: ScaleData, name: str, last: _Reading | None, last_said: str
) -> list[tuple[float, _Reading]]:
    """The signed readings a weighing is the sum of: first the one after the change."""
    if _is_spoken(weighing):
        return []
    d_mg = weighing.d_mg or scale.d_mg
    chained = weighing.method in (Method.TRAY_BUILDING, Method.TAKING_OFF)
    # What the weighing's own figure has beyond two digits is spread of its loaded readings.
    spread = sqrt(max(0.0, weighing.u_mg**2 - 2 * rounding(d_mg) ** 2) / (2 if chained else 1))
    repeatability = max(scale.s_mg, spread)
    after = _Reading(scale.name, f"{name} after", d_mg, repeatability)
    sign = -1.0 if weighing.method is Method.TAKING_OFF else 1.0
    if weighing.tare:
        return [(sign, after)]
    if chained and last is not None and _goes_on(weighing.indication_before, last_said):
        last.repeatability_mg = max(last.repeatability_mg, spread)
        before = last
    else:
        empty = not chained or indicated_mg(weighing.indication_before) == 0
        zero_mg = scale.zero_mg if empty else None
        before = _Reading(scale.name, f"{name} before", d_mg, 0.0 if empty else repeatability, zero_mg)
    return [(sign, after), (-sign, before)]


def _goes_on(before: str, last_said: str) -> bool:
    """Whether the reading before is the last one seen; unknown ones of a run are taken to be."""
    return not before or not last_said or before == last_said


def _is_spoken(weighing: Weighing) -> bool:
    return weighing.method is Method.SPOKEN or weighing.scale == SPOKEN


def _reading_terms(sign: float, reading: _Reading) -> Iterable[tuple[Source, float]]:
    if reading.zero_mg is not None:
        zero_mg = hypot(rounding(reading.d_mg), reading.zero_mg)
        yield Source(SourceKind.ZERO, reading.scale, reading.name), sign * zero_mg
        return
    yield Source(SourceKind.ROUNDING, reading.scale, reading.name), sign * rounding(reading.d_mg)
    yield Source(SourceKind.REPEATABILITY, reading.scale, reading.name), sign * reading.repeatability_mg


def _other_terms(weighing: Weighing, scale: ScaleData, name: str) -> Iterable[tuple[Source, float]]:
    if _is_spoken(weighing):
        interval_mg = weighing.d_mg or said_interval_mg(weighing.indication) or SAID_INTERVAL_MG
        yield Source(SourceKind.SPOKEN, scale.name, name), weighing.u_mg or rounding(interval_mg)
    if weighing.tare:
        tare_u_mg = weighing.tare_u_mg or rounding(weighing.d_mg or scale.d_mg)
        yield Source(SourceKind.TARE, scale.name, weighing.tare), -tare_u_mg
    yield Source(SourceKind.SPAN, scale.name), scale.span_in_use * weighing.mass_mg
    yield Source(SourceKind.ECCENTRICITY, scale.name, name), scale.eccentricity * weighing.mass_mg
