"""Confidence intervals and calibration figures, in closed form or by scipy; sources beside them."""

from __future__ import annotations

from math import sqrt

import numpy as np
from numpy.typing import NDArray
from scipy.stats import chi2

_Z = 1.959964
"""The 97.5 % point of the normal distribution."""


def wilson(hits: int, trials: int) -> tuple[float, float]:
    """95 % interval of a share. E. B. Wilson, J. Am. Stat. Assoc. 22 (1927) 209-212."""
    if trials == 0:
        return 0.0, 1.0
    p, z2 = hits / trials, _Z * _Z
    middle = (p + z2 / (2 * trials)) / (1 + z2 / trials)
    reach = _Z * sqrt(p * (1 - p) / trials + z2 / (4 * trials * trials)) / (1 + z2 / trials)
    return max(0.0, middle - reach), min(1.0, middle + reach)


def most_per_hour(events: int, hours: float) -> float:
    """One-sided 95 % upper bound of a Poisson rate: chi2(0.95, 2n + 2) / 2T (Garwood, Biometrika 1936)."""
    return float(chi2.ppf(0.95, 2 * events + 2) / 2 / hours)


def reliability(
    chances: NDArray[np.float64], right: NDArray[np.bool_], bins: int = 10
) -> list[tuple[float, float, int]]:
    """(mean chance, share right, count) in bins of equal width; empty bins are left out."""
    place = np.minimum((chances * bins).astype(int), bins - 1)
    return [
        (float(chances[place == b].mean()), float(right[place == b].mean()), int((place == b).sum()))
        for b in range(bins)
        if (place == b).any()
    ]


def expected_calibration_error(rows: list[tuple[float, float, int]]) -> float:
    """Mean distance of chance from share right, weighted by count (Naeini et al., AAAI 2015)."""
    total = sum(count for *_, count in rows)
    return sum(abs(chance - share) * count for chance, share, count in rows) / max(1, total)


def share(hits: int, trials: int) -> str:
    """ "93.1 [90-95]": percent with its Wilson interval."""
    low, high = wilson(hits, trials)
    return f"{100 * hits / max(1, trials):5.1f} [{100 * low:3.0f}-{100 * high:3.0f}]"
