"""Figures of a check: span, repeatability, corners, and how they compare with class III. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import hypot, sqrt

from handsfree.weighing.checking_limits import KnownMass, permissible_mg

LEAST_S_D = 0.2
"""Repeatability that rounding to d hides: a lesser figure is not believed (common practice, no source)."""

CAUTION = (
    "This is a check, not a verification. Selling by weight needs an instrument that is verified under "
    "the law of the place, whatever this says."
)


@dataclass(frozen=True, slots=True)
class Weighed:
    """One loading: what the scale gave for a known mass, empty pan taken off."""

    mass: KnownMass
    given_mg: int

    @property
    def error_mg(self) -> int:
        """Indicated less true."""
        return self.given_mg - self.mass.mass_mg


@dataclass(frozen=True, slots=True)
class LoadVerdict:
    """One load against its limits."""

    mass: KnownMass
    error_mg: int
    initial_mg: float | None
    """Limit at verification; None above 10,000 d."""
    service_mg: float | None
    verdict: str
    """ "pass", "pass in service", "fail" or "cannot tell"."""


@dataclass(frozen=True, slots=True)
class CheckResult:
    """What a check found."""

    d_mg: int
    loads: tuple[LoadVerdict, ...]
    span_error: float
    """Relative error of the span, indicated less true, by least squares through zero."""
    u_span_error: float
    """Its standard uncertainty: rounding and repeatability, and the masses' own, wholly correlated."""
    span: float
    """Relative standard uncertainty to use while the error is not corrected: the error counts in full
    (JCGM 100:2008 F.2.4.5)."""
    s_mg: float
    """Repeatability to use: standard deviation of the ten, no less than 0.2 d."""
    s_found_mg: float
    """Standard deviation of the loadings as they were."""
    readings: int
    range_mg: int
    """Greatest less smallest of the loadings."""
    repeatability_verdict: str
    corners: float | None
    """Relative standard uncertainty from the place on the pan (EURAMET cg-18 7.1.1.4); None: not tried."""
    corners_verdict: str

    @property
    def passed(self) -> bool | None:
        """Whether everything is within the limits in service; None when the masses cannot tell."""
        verdicts = [each.verdict for each in self.loads] + [self.repeatability_verdict]
        verdicts += [self.corners_verdict] if self.corners is not None else []
        if "fail" in verdicts:
            return False
        return None if "cannot tell" in verdicts else True


def evaluate(
    d_mg: int, span: Sequence[Weighed], repeated: Sequence[Weighed], corners: Sequence[Weighed] = ()
) -> CheckResult:
    """The figures of a check.

    Args:
        d_mg: Scale interval.
        span: One loading of each mass, at least one.
        repeated: Loadings of one mass, at least two.
        corners: One mass at the centre first, then off it.
    """
    given = [each.given_mg for each in repeated]
    s_found = _deviation(given)
    s_mg = max(s_found, LEAST_S_D * d_mg)
    squares = sum(each.mass.mass_mg**2 for each in span)
    error = sum(each.error_mg * each.mass.mass_mg for each in span) / squares
    u_reading = sqrt(2 * d_mg**2 / 12 + s_mg**2)  # empty and loaded are rounded apart (F.2.2.1)
    u_masses = sum(each.mass.u_mg * each.mass.mass_mg for each in span) / squares
    u_error = hypot(u_reading / sqrt(squares), u_masses)
    spread = max(given) - min(given)
    off = [abs(each.given_mg - corners[0].given_mg) for each in corners[1:]]
    return CheckResult(
        d_mg,
        tuple(_judged(each, d_mg) for each in span),
        error,
        u_error,
        hypot(error, u_error),
        s_mg,
        s_found,
        len(given),
        spread,
        _against(spread, repeated[0].mass.mass_mg, d_mg),
        max(off) / (2 * sqrt(3.0) * corners[0].mass.mass_mg) if off else None,
        _worst(_judged(each, d_mg).verdict for each in corners) if off else "not tried",
    )


def _deviation(values: Sequence[int]) -> float:
    """Experimental standard deviation (JCGM 100:2008 4.2.2)."""
    mean = sum(values) / len(values)
    return sqrt(sum((each - mean) ** 2 for each in values) / (len(values) - 1))


def _judged(each: Weighed, d_mg: int) -> LoadVerdict:
    initial = permissible_mg(each.mass.mass_mg, d_mg, in_service=False)
    service = permissible_mg(each.mass.mass_mg, d_mg, in_service=True)
    verdict = "cannot tell"
    if initial is not None and service is not None:
        # R 76-1:2006 3.7.1: a test mass may be off by a third of the limit at most. A worse one
        # can still show a scale that is off by more than both together.
        if abs(each.error_mg) > service + each.mass.limit_mg:
            verdict = "fail"
        elif each.mass.limit_mg * 3 <= initial:
            verdict = _against(each.error_mg, each.mass.mass_mg, d_mg)
        elif each.mass.limit_mg * 3 <= service:
            verdict = "pass in service" if abs(each.error_mg) <= service else "fail"
    return LoadVerdict(each.mass, each.error_mg, initial, service, verdict)


def _against(off_mg: int, load_mg: int, d_mg: int) -> str:
    initial = permissible_mg(load_mg, d_mg, in_service=False)
    if initial is None:
        return "cannot tell"
    return "pass" if abs(off_mg) <= initial else "pass in service" if abs(off_mg) <= 2 * initial else "fail"


def _worst(verdicts: Iterable[str]) -> str:
    order = ["pass", "pass in service", "cannot tell", "fail"]
    return max(verdicts, key=order.index)
