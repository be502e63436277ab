"""The verdict on a balance: a test with a stated rate of false alarms, in plain words.

The unaccounted mass over its standard uncertainty is held against the normal quantile of half the
false-alarm rate on either side. The same k gives the ± in the sentence (JCGM 100:2008 6.2.1), so
"more than explained" and "outside the ±" are the same thing. Where part of the uncertainty comes
from few readings, the quantile is Student's with the effective degrees of freedom (G.4.1). The other
error rate is stated too: the missing mass that is noticed 95 times in 100. A false alarm costs a search, so
less than one complete carcass in a hundred may be questioned: half a per cent is chosen (k = 2.81),
which leaves as much again for expected losses that are not known exactly. The budget itself can be
had with k = 2.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from math import ceil, copysign, inf
from statistics import NormalDist

from handsfree.mass import format_kg
from handsfree.reconciliation.balance import Balance
from handsfree.reconciliation.student import student_quantile

#: Share of complete carcasses that the test may question, both sides together.
FALSE_ALARM_RATE = 0.005
#: Probability with which a missing mass of `Verdict.noticed_mg` is noticed.
NOTICED_RATE = 0.95


class VerdictKind(StrEnum):
    """What the test says."""

    EXPLAINED = "explained"
    """Scales and process explain what is left."""
    NOT_EXPLAINED = "not explained"
    """More is missing than scales and process explain."""
    MORE_THAN_CAME_IN = "more than came in"
    """The pieces weigh more than the dressed weight can have given."""
    NO_DRESSED_WEIGHT = "no dressed weight"
    """There is nothing to test against."""


@dataclass(frozen=True, slots=True)
class Verdict:
    """The outcome of the test, and how to say it."""

    kind: VerdictKind
    z: float | None
    """Unaccounted mass over its standard uncertainty."""
    k: float
    """Coverage factor of the ± and threshold of |z|."""
    false_alarm_rate: float
    expanded_u_mg: int | None
    """k·u of the unaccounted mass, rounded up to the milligram."""
    sentence: str
    spoken: str
    """The short form to be said aloud."""
    degrees_of_freedom: float = inf
    """Effective degrees of freedom behind `k`."""
    noticed_mg: int | None = None
    """A missing mass of this size is not explained with probability 0.95: (k + 1.645)·u (the
    detection limit of Currie 1968, Anal. Chem. 40:586, at this verdict's rate of false alarms)."""

    @property
    def questioned(self) -> bool:
        """Whether the balance does not come out."""
        return self.kind in (VerdictKind.NOT_EXPLAINED, VerdictKind.MORE_THAN_CAME_IN)


def coverage_factor(false_alarm_rate: float, degrees_of_freedom: float = inf) -> float:
    """The k at which a true zero is exceeded, on either side, at this rate (JCGM 100:2008 G.6.4)."""
    return student_quantile(1 - false_alarm_rate / 2, degrees_of_freedom)


def verdict_of(balance: Balance, false_alarm_rate: float = FALSE_ALARM_RATE) -> Verdict:
    """The verdict on a balance.

    Args:
        balance: From `balance_of`.
        false_alarm_rate: Between 0 and 1, both sides together.
    """
    k = coverage_factor(false_alarm_rate, balance.degrees_of_freedom)
    if balance.dressed_mg is None or balance.unaccounted_mg is None or balance.budget is None:
        sum_kg = format_kg(balance.pieces_mg, 2)
        return Verdict(
            VerdictKind.NO_DRESSED_WEIGHT,
            None,
            k,
            false_alarm_rate,
            None,
            f"The pieces come to {sum_kg} kg; without a dressed weight nothing can be said about the rest.",
            f"{sum_kg} kilograms. No dressed weight.",
        )
    rest_mg, u_mg = balance.unaccounted_mg, balance.budget.u_mg
    z = rest_mg / u_mg if u_mg else copysign(inf, rest_mg) if rest_mg else 0.0
    kind = VerdictKind.EXPLAINED
    if abs(z) > k:
        kind = VerdictKind.NOT_EXPLAINED if rest_mg > 0 else VerdictKind.MORE_THAN_CAME_IN
    expanded_mg = -int(-k * u_mg // 1)
    sentence, spoken = _words(kind, balance.dressed_mg, rest_mg, expanded_mg)
    noticed_mg = ceil((k + NormalDist().inv_cdf(NOTICED_RATE)) * u_mg)
    return Verdict(
        kind,
        z,
        k,
        false_alarm_rate,
        expanded_mg,
        sentence,
        spoken,
        balance.degrees_of_freedom,
        noticed_mg,
    )


def _words(kind: VerdictKind, dressed_mg: int, rest_mg: int, expanded_mg: int) -> tuple[str, str]:
    size, whole = format_kg(abs(rest_mg), 2), format_kg(dressed_mg, 2)
    margin = format_kg(expanded_mg, 2)
    missing = f"{size} kg of {whole} kg is not accounted for, ± {margin}"
    over = f"the pieces come to {size} kg more than {whole} kg can give, ± {margin}"
    match kind:
        case VerdictKind.NOT_EXPLAINED:
            return (
                f"{missing}; more than scales and cutting explain.",
                f"{size} kilograms missing. More than scales and cutting explain.",
            )
        case VerdictKind.MORE_THAN_CAME_IN:
            return (
                f"{over[0].upper()}{over[1:]}; more than scales and cutting explain.",
                f"{size} kilograms too much. More than came in.",
            )
        case _:
            return (
                f"{missing if rest_mg >= 0 else over[0].upper() + over[1:]}; scales and cutting explain it.",
                "All accounted for." if rest_mg == 0 else f"Accounted for, within {margin} kilograms.",
            )
