"""The carcass's own mass as a latent variable, against numeric integration by scipy."""

from __future__ import annotations

from math import exp, log, sqrt

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad, simpson
from scipy.stats import norm

from handsfree.pairing.latent_mass import CarcassMass, Evidence, believed_mass, usual_of

PRIORS = st.builds(CarcassMass, st.floats(5e6, 80e6), st.floats(0.2, 0.8))
PIECES = st.builds(Evidence, st.floats(2e5, 2e7), st.floats(0.01, 0.3), st.floats(0.1, 0.5))


def moments(prior: CarcassMass, seen: list[Evidence], odd: float) -> tuple[float, float]:
    """Mean and spread of log D, factor by factor, by Simpson's rule on 40 001 points."""
    x = log(prior.median_mg) + prior.sigma * np.linspace(-8, 8, 40_001)
    product = norm.pdf(x, log(prior.median_mg), prior.sigma)
    for each in seen:
        usual = norm.pdf(log(each.mass_mg), x + log(each.share), each.spread)
        product = product * ((1 - odd) * usual + odd / log(50_000 / 5))
    total = simpson(product, x=x)
    mean = simpson(x * product, x=x) / total
    return float(mean), sqrt(float(simpson((x - mean) ** 2 * product, x=x) / total))


@settings(max_examples=25, deadline=None)
@given(PRIORS, st.lists(PIECES, min_size=1, max_size=4), st.sampled_from([0.03, 0.05, 0.2]))
def test_mean_and_spread_are_those_of_numeric_integration(
    prior: CarcassMass, seen: list[Evidence], odd: float
) -> None:
    found = believed_mass(prior, seen, odd=odd)
    mean, spread = moments(prior, seen, odd)
    assert log(found.median_mg) == pytest.approx(mean, abs=0.01 * spread)
    assert found.sigma == pytest.approx(spread, rel=0.01)


@given(PRIORS, st.floats(0.01, 0.3), st.floats(0.1, 0.5), st.floats(-1, 1))
@settings(max_examples=25, deadline=None)
def test_what_a_piece_weighs_integrates_over_the_carcass(
    carcass: CarcassMass, share: float, spread: float, off: float
) -> None:
    usual = usual_of(carcass, share, spread)
    at = log(usual.median_mg) + off
    by_integration = quad(
        lambda z: norm.pdf(at, log(carcass.median_mg) + z * carcass.sigma + log(share), spread) * norm.pdf(z),
        -8,
        8,
        limit=200,
    )[0]
    assert norm.pdf(at, log(usual.median_mg), usual.sigma) == pytest.approx(by_integration, rel=1e-6)


@given(PRIORS, st.lists(st.tuples(st.floats(-0.3, 0.3), st.floats(0.1, 0.5)), min_size=1, max_size=6))
@settings(max_examples=25, deadline=None)
def test_without_odd_pieces_it_is_the_conjugate_normal(
    prior: CarcassMass, seen: list[tuple[float, float]]
) -> None:
    """Precisions add (Gelman et al., Bayesian Data Analysis, 2.5; from memory)."""
    pieces = [Evidence(prior.median_mg * 0.1 * exp(off), 0.1, spread) for off, spread in seen]
    precision = 1 / prior.sigma**2 + sum(1 / spread**2 for _, spread in seen)
    mean = log(prior.median_mg) + sum(off / spread**2 for off, spread in seen) / precision
    found = believed_mass(prior, pieces, odd=0.0)
    assert log(found.median_mg) == pytest.approx(mean, abs=1e-6)
    assert found.sigma == pytest.approx(precision**-0.5, rel=1e-3)


@given(PRIORS, st.lists(PIECES, max_size=6), st.randoms())
@settings(max_examples=25, deadline=None)
def test_the_order_of_the_pieces_does_not_matter(prior: CarcassMass, seen: list[Evidence], chance) -> None:  # type: ignore[no-untyped-def]
    mixed = list(seen)
    chance.shuffle(mixed)
    one, other = believed_mass(prior, seen), believed_mass(prior, mixed)
    assert one.median_mg == pytest.approx(other.median_mg, rel=1e-6)
    assert one.sigma == pytest.approx(other.sigma, rel=1e-6)


def test_one_piece_of_another_name_does_not_spoil_what_five_others_say() -> None:
    prior = CarcassMass(25_000_000, 0.7)
    fit = [Evidence(40_000_000 * 0.1, 0.1, 0.2)] * 5
    misnamed = Evidence(4_000_000, 0.01, 0.35)  # a haunch called a shank: told 400 kg
    assert believed_mass(prior, [*fit, misnamed]).median_mg == pytest.approx(40_000_000, rel=0.05)


def test_nothing_seen_leaves_the_prior() -> None:
    prior = CarcassMass(25_000_000, 0.7)
    assert believed_mass(prior, []) == prior
