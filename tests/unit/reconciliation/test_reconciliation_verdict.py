"""The verdict is a test with a stated error rate, told in one plain sentence."""

from __future__ import annotations

from statistics import NormalDist

import numpy as np
import pytest

from handsfree.reconciliation.account import Account, Weighing
from handsfree.reconciliation.balance import Balance, balance_account
from handsfree.reconciliation.instruments import ProcessLoss, ScaleData
from handsfree.reconciliation.verdict import VerdictKind, coverage_factor, verdict_of

PROCESS = ProcessLoss(0.0, 0.002, 0.0, 0.0)
SCALES = {
    "rail": ScaleData("rail", 20_000, 0.0, 0.0),
    "bench": ScaleData("bench", 1_000, 0.0, 0.0),
}


def balance(dressed_mg: int, pieces_mg: int) -> Balance:
    account = Account("c", dressed=Weighing(0, dressed_mg, "rail"), pieces=(Weighing(1, pieces_mg, "bench"),))
    return balance_account(account, SCALES, PROCESS)


def test_the_coverage_factors_are_those_of_the_normal_table() -> None:
    # JCGM 100:2008 Table G.1: 95.45 % is k = 2, 99 % is k = 2.576; one-sided 5 % of Currie is 1.645.
    assert coverage_factor(0.01) == pytest.approx(2.576, abs=5e-4)
    assert coverage_factor(0.0455) == pytest.approx(2.000, abs=5e-4)
    assert coverage_factor(0.10) == pytest.approx(1.645, abs=5e-4)


def test_a_missing_kilogram_is_not_explained_and_said_in_one_sentence() -> None:
    # By hand: u = √(2·20²/12 + 2·1²/12 + 82.7²) = 83.10 g, k·u = 214.06 g, rounded 0.21.
    verdict = verdict_of(balance(41_350_000, 40_510_000), 0.01)
    assert verdict.kind is VerdictKind.NOT_EXPLAINED
    assert verdict.sentence == (
        "0.84 kg of 41.35 kg is not accounted for, ± 0.21; more than scales and cutting explain."
    )
    assert verdict.expanded_u_mg == pytest.approx(214_060, abs=10)
    assert verdict.spoken.startswith("0.84 kilograms missing")
    assert verdict.questioned


@pytest.mark.parametrize(
    ("pieces_mg", "kind"),
    [
        (41_350_000, VerdictKind.EXPLAINED),
        (41_350_000 - 214_000, VerdictKind.EXPLAINED),
        (41_350_000 - 214_200, VerdictKind.NOT_EXPLAINED),
        (41_350_000 + 214_000, VerdictKind.EXPLAINED),
        (41_350_000 + 214_200, VerdictKind.MORE_THAN_CAME_IN),
    ],
)
def test_the_edge_of_the_test_is_the_margin_in_the_sentence(pieces_mg: int, kind: VerdictKind) -> None:
    verdict = verdict_of(balance(41_350_000, pieces_mg), 0.01)
    assert verdict.kind is kind
    assert verdict.z is not None
    assert verdict.questioned == (abs(verdict.z) > verdict.k)


def test_a_stricter_rate_asks_for_more() -> None:
    lax = verdict_of(balance(41_350_000, 41_150_000), 0.0455)
    strict = verdict_of(balance(41_350_000, 41_150_000), 0.001)
    assert (lax.questioned, strict.questioned) == (True, False)


def test_figures_without_any_uncertainty_are_held_to_the_milligram() -> None:
    scales = {name: ScaleData(name, 0, 0.0, 0.0) for name in ("rail", "bench")}
    exact = ProcessLoss(0.0, 0.0, 0.0, 0.0)
    for pieces_mg, kind in ((1000, VerdictKind.EXPLAINED), (999, VerdictKind.NOT_EXPLAINED)):
        pieces = (Weighing(1, pieces_mg, "bench"),)
        account = Account("c", dressed=Weighing(0, 1000, "rail"), pieces=pieces)
        assert verdict_of(balance_account(account, scales, exact)).kind is kind


def test_complete_carcasses_are_questioned_at_the_stated_rate() -> None:
    rng = np.random.default_rng(7)
    runs, rate = 4_000, 0.05
    true_mg = rng.uniform(35e6, 45e6, runs)
    loss_mg = rng.normal(0, 0.002, runs) * true_mg
    whole = np.round((true_mg + rng.uniform(-1e4, 1e4, runs)) / 2e4) * 2e4
    pieces = np.round(true_mg - loss_mg + rng.uniform(-500, 500, runs))
    kinds = [verdict_of(balance(int(d), int(p)), rate).questioned for d, p in zip(whole, pieces, strict=True)]
    # Binomial: 4,000 at 5 % has a standard deviation of 0.34 %; four of them either way.
    margin = 4 * (rate * (1 - rate) / runs) ** 0.5
    assert np.mean(kinds) == pytest.approx(rate, abs=margin)
    assert NormalDist().cdf(-coverage_factor(rate)) == pytest.approx(rate / 2)
