"""What is known of each instrument, and of what cutting and chilling take away."""

from __future__ import annotations

from dataclasses import dataclass

from handsfree.reconciliation.distributions import uniform

#: Relative half width of the span error assumed where none is given: in service ±2 e at 2 000 e
#: (OIML R 76-1:2006 Table 6, class III, ±1 e at verification; twice that in service, 3.5.2).
DEFAULT_SPAN_HALF_WIDTH = 0.001

#: Repeatability assumed where none is given, in scale intervals: several weighings of one load
#: agree within the maximum permissible error (R 76-1:2006 3.6.1), in service 1 e for small loads;
#: the range of ten is 3.078 standard deviations on average (control chart constant d2(10)).
DEFAULT_REPEATABILITY_INTERVALS = 1 / 3.078


@dataclass(frozen=True, slots=True)
class ScaleData:
    """One instrument, as far as its uncertainty goes."""

    name: str
    d_mg: int
    """Scale interval d."""
    repeatability_mg: float | None = None
    """Standard deviation s of one loaded reading; None takes the default for the interval."""
    span: float | None = None
    """Relative standard uncertainty of the sensitivity; None takes the default."""
    eccentricity: float = 0.0
    """Relative standard uncertainty from the place on the pan, 0 where not known: the largest
    difference found divided by 2·√3 times the test load (EURAMET cg-18 7.1.1.4)."""
    containers_mg: tuple[int, ...] = ()
    """Masses of the trays and tubs used on it, for finding one counted as meat."""

    @property
    def s_mg(self) -> float:
        """Repeatability in use."""
        if self.repeatability_mg is None:
            return DEFAULT_REPEATABILITY_INTERVALS * self.d_mg
        return self.repeatability_mg

    @property
    def span_in_use(self) -> float:
        """Relative standard uncertainty of the span in use."""
        return uniform(DEFAULT_SPAN_HALF_WIDTH) if self.span is None else self.span


@dataclass(frozen=True, slots=True)
class ProcessLoss:
    """What is expected to go where no scale sees it, as fractions of the dressed weight.

    Cutting and chilling stay apart: chilling counts only when the dressed weight was taken hot.
    """

    cutting: float = 0.006
    """Mean loss to saw, knife and drip."""
    cutting_sd: float = 0.003
    chill: float = 0.017
    """Mean loss from hot to cold."""
    chill_sd: float = 0.005
    source: str = ""
    """Where the figures come from."""


#: Without knowing how it was cut: covers 0.2 to 0.5 % by hand and most of 0.5 to 1.5 % by bandsaw
#: (common practice, no source). Chilling: warm to cold 1.35 to 2.03 % in wild fallow (computed from
#: Fitzhenry et al. 2019, Afr. J. Wildl. Res. 49:100-110), lamb 2.4 to 2.7 % (Animals 2021;11:2935).
PROCESS_UNKNOWN = ProcessLoss(source="cutting: common practice, no source; chilling: Fitzhenry et al. 2019")

#: Boned by hand, 0.2 to 0.5 % (common practice, no source).
PROCESS_BY_HAND = ProcessLoss(cutting=0.0035, cutting_sd=0.001, source="common practice, no source")

#: Cut on a bandsaw, 0.5 to 1.5 % (common practice, no source).
PROCESS_BANDSAW = ProcessLoss(cutting=0.010, cutting_sd=0.003, source="common practice, no source")
