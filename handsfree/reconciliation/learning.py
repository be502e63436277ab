"""What a larder's own closed carcasses teach: posteriors of weight shares and of the process loss. Pure.

Conjugate model of a normal with unknown mean and variance (Gelman et al., Bayesian Data Analysis,
3rd edition, section 3.3): the prior counts as so many carcasses seen before.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from math import exp, log, sqrt
from typing import Final

from handsfree.reconciliation.instruments import ProcessLoss

#: Carcasses that the place of a published or judged share is worth, and those its spread is worth
#: (common practice, no source): ten of the larder's own outweigh both.
PRIOR_CARCASSES: Final = 2.0
PRIOR_SPREAD_CARCASSES: Final = 4.0

#: Carcasses of the larder's own from which on what they taught is used in place of the usual figure:
#: below, one odd carcass would move it (common practice, no source).
LEAST_CARCASSES: Final = 5
#: A learned spread of ln(share) is never taken for less than this: cut lines wander.
LEAST_LEARNED_SPREAD: Final = 0.1


@dataclass(frozen=True, slots=True)
class Posterior:
    """Normal-inverse-chi-square distribution of the mean and variance of a figure, one a carcass."""

    mean: float
    kappa: float
    """Carcasses that the mean is worth."""
    nu: float
    """Degrees of freedom of the variance."""
    variance: float
    """Scale of the variance of one carcass."""
    seen: int = 0
    """The larder's own carcasses in it."""

    def after(self, values: Iterable[float]) -> Posterior:
        """The posterior once these are seen too; the order does not matter."""
        found = list(values)
        n = len(found)
        if not n:
            return self
        average = sum(found) / n
        squares = sum((value - average) ** 2 for value in found)
        kappa, nu = self.kappa + n, self.nu + n
        shift = self.kappa * n / kappa * (average - self.mean) ** 2
        return Posterior(
            mean=(self.kappa * self.mean + n * average) / kappa,
            kappa=kappa,
            nu=nu,
            variance=(self.nu * self.variance + squares + shift) / nu,
            seen=self.seen + n,
        )

    @property
    def predictive_scale(self) -> float:
        """Scale of the Student distribution, of `nu` degrees of freedom, of the next carcass."""
        return sqrt(self.variance * (1 + 1 / self.kappa))

    @property
    def predictive_sd(self) -> float:
        """Standard deviation of the next carcass; the scale itself for two degrees of freedom or less."""
        return self.predictive_scale * (sqrt(self.nu / (self.nu - 2)) if self.nu > 2 else 1.0)


@dataclass(frozen=True, slots=True)
class Share:
    """What one piece of a cut usually weighs, as a fraction of the dressed weight."""

    species: str
    sex: str
    cut: str
    log_share: Posterior
    """Of ln(share)."""
    source: str = ""
    """Of the prior."""

    @property
    def median(self) -> float:
        """Median share of the next piece."""
        return exp(self.log_share.mean)

    @property
    def spread(self) -> float:
        """Standard deviation of ln(share) of the next piece."""
        return self.log_share.predictive_sd


def share_prior(share: float, spread: float) -> Posterior:
    """The prior of ln(share) from a published or judged share and its spread between carcasses.

    The predictive standard deviation of the prior is the spread as told.
    """
    nu = PRIOR_SPREAD_CARCASSES
    variance = spread**2 * (nu - 2) / nu / (1 + 1 / PRIOR_CARCASSES)
    return Posterior(log(share), PRIOR_CARCASSES, nu, variance)


def loss_after(process: ProcessLoss, cutting: Iterable[float], chilling: Iterable[float] = ()) -> ProcessLoss:
    """The expected losses sharpened by what explained carcasses lost.

    The usual figures stand until `LEAST_CARCASSES` of the larder's own were seen. The posterior's
    prior is the usual figure, worth two carcasses, with its own wide band.

    Args:
        process: The larder's prior, by the way it cuts.
        cutting: Fractions of the dressed weight lost in the cutting, one a carcass weighed cold,
            other losses already taken off.
        chilling: The same lost from hot to cold, one a carcass weighed hot.
    """
    cut, chilled = list(cutting), list(chilling)
    if len(cut) >= LEAST_CARCASSES:
        learned = _loss_prior(process.cutting, process.cutting_sd).after(cut)
        process = replace(
            process,
            cutting=max(0.0, learned.mean),
            cutting_sd=learned.predictive_scale,
            cutting_dof=learned.nu,
            carcasses=learned.seen,
            source=f"{process.source}; {learned.seen} closed carcasses of this larder",
        )
    if len(chilled) >= LEAST_CARCASSES:
        learned = _loss_prior(process.chill, process.chill_sd).after(chilled)
        process = replace(
            process,
            chill=max(0.0, learned.mean),
            chill_sd=learned.predictive_scale,
            chill_dof=learned.nu,
            hot_carcasses=learned.seen,
            source=f"{process.source}; {learned.seen} weighed hot",
        )
    return process


def _loss_prior(mean: float, sd: float) -> Posterior:
    """The prior of a loss whose predictive standard deviation is as told."""
    nu, kappa = PRIOR_SPREAD_CARCASSES, PRIOR_CARCASSES
    return Posterior(mean, kappa, nu, sd**2 * (nu - 2) / nu / (1 + 1 / kappa))
