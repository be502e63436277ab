"""Effects seen through noise, against numerical integration by scipy."""

from __future__ import annotations

from itertools import pairwise
from math import exp, sqrt

import pytest
from scipy import integrate, stats

from handsfree.reconciliation.effects import Effect, together


@pytest.mark.parametrize("median", [300.0, 1_200.0, 8_000.0])
@pytest.mark.parametrize("log_sd", [0.05, 0.25, 1.0])
@pytest.mark.parametrize("u", [30.0, 120.0, 400.0])
@pytest.mark.parametrize("sign", [1, -1])
def test_the_density_is_that_of_a_log_normal_mass_plus_normal_noise(
    median: float, log_sd: float, u: float, sign: int
) -> None:
    mass = stats.lognorm(log_sd, scale=median)
    noise = stats.norm(0, u)
    for at in (0.6, 1.0, 1.3):
        rest = sign * median * at
        low, high = max(1e-9, median * at - 9 * u), median * at + 9 * u
        # Split at the middle of both factors: adaptive integration must not miss a narrow one.
        points = sorted({low, high, *(p for p in (median, median * at) if low < p < high)})

        def joint(m: float, at_mass: float = median * at) -> float:
            return float(mass.pdf(m) * noise.pdf(at_mass - m))  # the same on either side of zero

        expected = sum(integrate.quad(joint, a, b, limit=200)[0] for a, b in pairwise(points))
        density = Effect(median, log_sd, sign).density(rest, u)
        # To 2 % where it matters; far out (below a millionth of the peak) only to be small.
        assert density == pytest.approx(expected, rel=0.02, abs=1e-6 / u)


def test_a_known_mass_is_normal_around_itself() -> None:
    assert Effect(500.0, 0.0, -1).density(-520.0, 30.0) == pytest.approx(stats.norm(-500, 30).pdf(-520))
    assert Effect().density(20.0, 30.0) == pytest.approx(stats.norm(0, 30).pdf(20))


def test_the_estimate_lies_between_what_is_typical_and_what_is_missing() -> None:
    # Nearly normal: precision-weighted mean (JCGM 100:2008 has none; Bayes for two normals).
    median, log_sd, u, rest = 1_000.0, 0.05, 50.0, 1_100.0
    mean, sd = Effect(median, log_sd).estimate(rest, u)
    spread = median * log_sd
    weight = spread**2 / (spread**2 + u**2)
    assert mean == pytest.approx(median + weight * (rest - median), rel=0.01)
    assert sd == pytest.approx(spread * u / sqrt(spread**2 + u**2), rel=0.1)


def test_several_effects_together_keep_mean_and_variance() -> None:
    one, two = Effect(1_000.0, 0.3), Effect(400.0, 0.5)
    both = together([one, two])
    laws = [stats.lognorm(e.log_sd, scale=e.median_mg) for e in (one, two, both)]
    assert laws[2].mean() == pytest.approx(laws[0].mean() + laws[1].mean())
    assert laws[2].var() == pytest.approx(laws[0].var() + laws[1].var())
    assert together([Effect(), Effect()]).median_mg == 0.0
    assert together([one]).median_mg * exp(0) == pytest.approx(1_000.0)
