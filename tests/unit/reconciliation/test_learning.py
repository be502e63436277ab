"""Posteriors against sums by hand, order, and the coverage of what they predict."""

from __future__ import annotations

import random
from math import exp, log

import pytest
from scipy import stats

from handsfree.reconciliation.instruments import PROCESS_BY_HAND
from handsfree.reconciliation.learning import Posterior, Share, loss_after, share_prior


def test_the_posterior_is_the_textbooks() -> None:
    # Gelman et al., Bayesian Data Analysis, 3rd ed., 3.3, by hand for the values 1, 2, 3:
    # kappa 1+3, nu 2+3, mean (0+6)/4, nu*variance 2*1 + 2 + (1*3/4)*2^2 = 7.
    found = Posterior(mean=0.0, kappa=1.0, nu=2.0, variance=1.0).after([1.0, 2.0, 3.0])
    assert (found.kappa, found.nu, found.seen) == (4.0, 5.0, 3)
    assert found.mean == pytest.approx(1.5)
    assert found.variance == pytest.approx(7 / 5)


def test_the_predictive_deviation_is_that_of_students_distribution() -> None:
    found = Posterior(0.0, 4.0, 5.0, 1.4)
    assert found.predictive_sd == pytest.approx(stats.t(df=5, scale=(1.4 * 1.25) ** 0.5).std())


def test_carcasses_teach_the_same_one_by_one() -> None:
    prior = share_prior(0.196, 0.08)
    values = [log(share) for share in (0.19, 0.21, 0.2, 0.185)]
    one_by_one = prior
    for value in values:
        one_by_one = one_by_one.after([value])
    together = prior.after(values)
    assert one_by_one.mean == pytest.approx(together.mean)
    assert one_by_one.variance == pytest.approx(together.variance)


def test_a_prior_says_what_the_cut_list_says() -> None:
    share = Share("fallow", "doe", "haunch", share_prior(0.196, 0.08))
    assert share.median == pytest.approx(0.196)
    assert share.spread == pytest.approx(0.08)


def test_nothing_seen_leaves_the_prior() -> None:
    assert share_prior(0.1, 0.3).after([]) == share_prior(0.1, 0.3)
    assert loss_after(PROCESS_BY_HAND, []) == PROCESS_BY_HAND


def test_many_carcasses_outweigh_the_prior() -> None:
    rng = random.Random(6)
    learned = loss_after(PROCESS_BY_HAND, [rng.gauss(0.009, 0.002) for _ in range(400)])
    assert learned.cutting == pytest.approx(0.009, abs=0.0005)
    assert learned.cutting_sd == pytest.approx(0.002, rel=0.15)
    assert "400 closed carcasses" in learned.source


def test_nine_in_ten_next_pieces_lie_in_the_interval_that_says_so() -> None:
    # Larders that differ as the prior says: the model's own promise, 2,000 of them, 90 +- 2 %.
    rng = random.Random(90)
    prior = share_prior(0.09, 0.2)
    inside = 0
    for _ in range(2000):
        variance = prior.nu * prior.variance / rng.gammavariate(prior.nu / 2, 2)
        mean = rng.gauss(prior.mean, (variance / prior.kappa) ** 0.5)
        found = prior.after(rng.gauss(mean, variance**0.5) for _ in range(5))
        reach = stats.t.ppf(0.95, found.nu) * found.predictive_scale
        inside += abs(rng.gauss(mean, variance**0.5) - found.mean) <= reach
    assert inside / 2000 == pytest.approx(0.90, abs=0.02)
    assert exp(prior.mean) == pytest.approx(0.09)


def test_the_usual_loss_stands_until_five_carcasses_were_seen() -> None:
    assert loss_after(PROCESS_BY_HAND, [0.02] * 4, [0.03] * 4) == PROCESS_BY_HAND
    # By hand: worth two at 0.35 %, five at 1 %; nu = 4 + 5, and the sum of squares is
    # 4 v + (2 x 5/7) (0.65 %)^2 with v = (0.12 %)^2 (4-2)/4 / (1 + 1/2).
    learned = loss_after(PROCESS_BY_HAND, [0.01] * 5)
    assert learned.cutting == pytest.approx((2 * 0.0035 + 5 * 0.01) / 7)
    variance = (4 * 0.0012**2 / 3 + 10 / 7 * 0.0065**2) / 9
    assert learned.cutting_sd == pytest.approx((variance * (1 + 1 / 7)) ** 0.5)
    assert (learned.cutting_dof, learned.carcasses, learned.hot_carcasses) == (9, 5, 0)
    assert learned.chill == PROCESS_BY_HAND.chill


def test_chilling_is_learned_by_itself() -> None:
    learned = loss_after(PROCESS_BY_HAND, [], [0.024] * 6)
    assert learned.chill == pytest.approx((2 * 0.017 + 6 * 0.024) / 8)
    assert (learned.chill_dof, learned.hot_carcasses, learned.carcasses) == (10, 6, 0)
    assert learned.cutting == PROCESS_BY_HAND.cutting
