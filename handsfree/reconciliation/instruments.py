"""What is known of each instrument, and of what cutting and chilling take away."""

from __future__ import annotations

from dataclasses import dataclass
from math import inf

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
    """Masses of the trays and tubs used on it (hooks, on a rail), for finding one counted as meat."""
    repeatability_readings: int | None = None
    """Number of readings of the check that gave `repeatability_mg`; None when it is not from one."""
    zero_mg: float = 0.0
    """Standard uncertainty by which the empty pan's zero may have moved since it was read, beyond its
    digit; 0 where the pan is read empty before every piece."""

    @property
    def s_mg(self) -> float:
        """Repeatability in use."""
        if self.repeatability_mg is None:
            return DEFAULT_REPEATABILITY_INTERVALS * self.d_mg
        return self.repeatability_mg

    @property
    def repeatability_dof(self) -> float:
        """Degrees of freedom of the repeatability: one less than the readings (JCGM 100:2008 4.2.6)."""
        readings = self.repeatability_readings
        return inf if readings is None or self.repeatability_mg is None else max(readings - 1, 1)

    @property
    def span_in_use(self) -> float:
        """Relative standard uncertainty of the span in use."""
        return uniform(DEFAULT_SPAN_HALF_WIDTH) if self.span is None else self.span


@dataclass(frozen=True, slots=True)
class ProcessLoss:
    """What is expected to go where no scale sees it, as fractions of the dressed weight.

    Each cause stays apart to the end. Chilling counts only when the dressed weight was taken hot,
    drying for the time between the dressed weight and the cutting.
    """

    cutting: float = 0.007
    """Mean loss to saw and knife, with the drip on the block unless that is given apart."""
    cutting_sd: float = 0.0043
    """Standard deviation of one carcass's loss from `cutting`: carcasses differ, and the mean of this
    larder is not known exactly either."""
    chill: float = 0.017
    """Mean loss from hot to cold, in the first 24 hours."""
    chill_sd: float = 0.005
    source: str = ""
    """Where the figures come from."""
    drip: float = 0.0
    """Mean drip between the dressed weight and the last piece, where it is known by itself."""
    drip_sd: float = 0.0
    drying_per_day: float = 0.005
    """Mean loss of a cold skinned carcass that hangs, for each day; half of it in skin."""
    drying_sd_per_day: float = 0.002
    cutting_dof: float = inf
    """Degrees of freedom of `cutting_sd`: carcasses it was learned from less one; inf: not learned."""
    chill_dof: float = inf
    """The same of `chill_sd`."""
    carcasses: int = 0
    """Closed carcasses of the larder's own in `cutting`; 0: it is the usual figure, with its wide band."""
    hot_carcasses: int = 0
    """The same in `chill`."""


#: Without knowing how it was cut: by hand or on a bandsaw, one as likely as the other. The mixture
#: of the two below has the mean (0.35 + 1.0)/2 = 0.68 % and the standard deviation
#: √((0.12² + 0.39²)/2 + 0.325²) = 0.43 %: the way of cutting is most of what is not known.
#: Chilling: warm to cold 1.35 to 2.03 % in wild fallow (computed from Fitzhenry et al. 2019, Afr. J.
#: Wildl. Res. 49:100-110), lamb 2.4 to 2.7 % in 24 h (Animals 2021;11:2935). Drying: 0.3 to 0.8 % a
#: day skinned and 0.1 to 0.4 % in skin after the second day (from memory, no source).
PROCESS_UNKNOWN = ProcessLoss(source="cutting: common practice, no source; chilling: Fitzhenry et al. 2019")

#: Boned by hand, 0.2 to 0.5 % (common practice, no source). A range told from memory is taken to hold
#: eight carcasses in ten (±1.28 standard deviations), not nearly all: 0.15/1.28 = 0.12 %.
PROCESS_BY_HAND = ProcessLoss(cutting=0.0035, cutting_sd=0.0012, source="common practice, no source")

#: Cut on a bandsaw, 0.5 to 1.5 % (common practice, no source), taken the same way: 0.5/1.28 = 0.39 %.
PROCESS_BANDSAW = ProcessLoss(cutting=0.010, cutting_sd=0.0039, source="common practice, no source")
