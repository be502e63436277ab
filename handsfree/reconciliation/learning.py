"""What a larder's own closed carcasses teach: posteriors of weight shares and of the process loss. Pure.

Conjugate model of a normal with unknown mean and variance (Gelman et al., Bayesian Data Analysis,
3rd edition, section 3.3): the prior counts as so many carcasses seen before.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from math import exp, log, sqrt
from typing import Final

from handsfree.reconciliation.instruments import ProcessLoss

#: Carcasses that the place of a published or judged share is worth, and those its spread is worth
#: (common practice, no source): ten of the larder's own outweigh both.
PRIOR_CARCASSES: Final = 2.0
PRIOR_SPREAD_CARCASSES: Final = 4.0


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


def loss_after(process: ProcessLoss, losses: Iterable[float]) -> ProcessLoss:
    """The process loss sharpened by what explained carcasses lost in the cutting.

    Args:
        process: The larder's prior, by the way it cuts.
        losses: Fractions of the dressed weight, one a carcass, other losses already taken off.
    """
    found = list(losses)
    if not found:
        return process
    nu, kappa = PRIOR_SPREAD_CARCASSES, PRIOR_CARCASSES
    variance = process.cutting_sd**2 * (nu - 2) / nu / (1 + 1 / kappa)
    learned = Posterior(process.cutting, kappa, nu, variance).after(found)
    return ProcessLoss(
        cutting=max(0.0, learned.mean),
        cutting_sd=learned.predictive_scale,
        chill=process.chill,
        chill_sd=process.chill_sd,
        source=f"{process.source}; {learned.seen} closed carcasses of this larder",
        drip=process.drip,
        drip_sd=process.drip_sd,
        drying_per_day=process.drying_per_day,
        drying_sd_per_day=process.drying_sd_per_day,
        cutting_dof=learned.nu,
    )
