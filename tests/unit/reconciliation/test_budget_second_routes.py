"""Budgets of carcasses as they are really weighed: JCGM 101 Monte Carlo, and the uncertainties library."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from math import inf, sqrt

import numpy as np
import pytest
from scipy import stats
from uncertainties import ufloat

from handsfree.pairing.messages import Method
from handsfree.reconciliation.account import Account, Weighing
from handsfree.reconciliation.balance import balance_account
from handsfree.reconciliation.budget import SourceKind
from handsfree.reconciliation.instruments import ProcessLoss, ScaleData
from handsfree.reconciliation.verdict import verdict_of
from handsfree.reconciliation.weighings import weighings_budget

BENCH = ScaleData("bench", 5_000, 2_000.0, 0.0002, 0.0001)
SCALES = {"bench": BENCH, "rail": ScaleData("rail", 20_000, 10_000.0, 0.0005)}
RUNS = 20_000
#: The standard deviation of 20,000 draws is known to 1/√(2·20,000) = 0.5 %; four of those.
TOLERANCE = 0.02
Floats = np.ndarray


def rounded(load: Floats, d: float = 5.0) -> Floats:
    return np.round(load / d) * d  # really rounded, not modelled as uniform


def drawn(rng: np.random.Generator, way: str) -> Floats:
    """The error of the sum of eight pieces weighed one way, in grams (JCGM 101:2008 7.2)."""
    span = rng.normal(1, 0.0002, RUNS)
    pieces = [rng.uniform(700, 1_500, RUNS) for _ in range(8)]
    zero = rng.uniform(-2.5, 2.5, RUNS)  # where the zero lies within its digit
    # The place on the pan: each piece's own, also within a tray.
    placed = [piece * (span + rng.normal(0, 0.0001, RUNS)) for piece in pieces]
    true = sum(pieces)
    if way == "tray building":
        load = rng.uniform(900, 1_000, RUNS)
        start = rounded(load * span + zero + rng.normal(0, 2, RUNS))
        end = rounded(load * span + sum(placed) + zero + rng.normal(0, 2, RUNS))
        return end - start - true
    if way == "taking off":
        block = true + rng.uniform(100, 400, RUNS)
        first = rounded(block * span + zero + rng.normal(0, 2, RUNS))
        last = rounded((block - true) * span + zero + rng.normal(0, 2, RUNS))
        return (
            first - last - true - sum(piece * span - put for piece, put in zip(pieces, placed, strict=True))
        )
    tub_true = rng.uniform(600, 700, RUNS)
    tub = rounded(tub_true)
    return sum(rounded(put + tub_true + rng.normal(0, 2, RUNS)) for put in placed) - 8 * tub - true


@pytest.mark.parametrize(
    ("way", "method", "tare"),
    [
        ("tray building", Method.TRAY_BUILDING, ""),
        ("taking off", Method.TAKING_OFF, ""),
        ("tub on a tare captured once", Method.CLEARED_PAN, "tub"),
    ],
)
def test_a_monte_carlo_run_finds_the_budget_of_each_way_of_weighing(
    way: str, method: Method, tare: str
) -> None:
    error = drawn(np.random.default_rng(101), way)
    pieces = [Weighing(n, 1_100_000, "bench", method=method, tare=tare) for n in range(8)]
    u_g = weighings_budget(pieces, {"bench": BENCH}).u_mg / 1000
    assert u_g == pytest.approx(np.std(error), rel=TOLERANCE)


def test_a_monte_carlo_run_finds_the_budget_of_a_whole_carcass_weighed_hot() -> None:
    rng = np.random.default_rng(11)
    loss = ProcessLoss(0.006, 0.003, 0.017, 0.005, drip=0.002, drip_sd=0.001)
    whole = 22_000.0
    lost = sum(rng.normal(mean, sd, RUNS) for mean, sd in ((0.006, 0.003), (0.017, 0.005), (0.002, 0.001)))
    rail_zero = rng.uniform(-10, 10, RUNS)
    dressed = rounded(whole * rng.normal(1, 0.0005, RUNS) + rng.normal(0, 10, RUNS), 20) + rail_zero
    span, total = rng.normal(1, 0.0002, RUNS), np.zeros(RUNS)
    parts = rng.dirichlet([30.0] * 20, RUNS) * (whole * (1 - lost))[:, None]
    for place in range(20):
        put = parts[:, place] * (span + rng.normal(0, 0.0001, RUNS))
        total += rounded(put + rng.normal(0, 2, RUNS)) + rng.uniform(-2.5, 2.5, RUNS)
    unaccounted = dressed - total - (0.006 + 0.017 + 0.002) * dressed
    pieces = tuple(Weighing(n, 1_072_500, "bench") for n in range(1, 21))
    account = Account("c", hot_or_cold="hot", dressed=Weighing(0, 22_000_000, "rail"), pieces=pieces)
    budget = balance_account(account, SCALES, loss).budget
    assert budget is not None
    assert budget.u_mg / 1000 == pytest.approx(np.std(unaccounted), rel=TOLERANCE)
    assert np.mean(unaccounted) == pytest.approx(0, abs=4 * np.std(unaccounted) / sqrt(RUNS))


def test_the_uncertainties_library_finds_the_budget_of_a_mixed_carcass() -> None:
    # Four ways on one bench scale, the dressed weight on it too: the span cancels but for the loss.
    span = ufloat(1, 0.0002)
    digit: Callable[[], object] = lambda: ufloat(0, 5 / sqrt(12))  # noqa: E731
    repeat: Callable[[], object] = lambda: ufloat(0, 2)  # noqa: E731
    place: Callable[[], object] = lambda: ufloat(0, 0.0001)  # noqa: E731
    tare = digit()
    readings = [digit() + repeat() for _ in range(3)]  # type: ignore[operator]
    # The reading that ends the first weighing begins the tray: one reading, one error.
    single = 1_000 * (span + place()) + readings[0] - digit()  # type: ignore[operator]
    tray = [
        mass * (span + place()) + after - before  # type: ignore[operator]
        for mass, before, after in zip((700, 900), readings, readings[1:], strict=False)
    ]
    tubs = [mass * (span + place()) + digit() + repeat() - tare for mass in (1_500, 1_400)]  # type: ignore[operator]
    dressed = 6_000 * (span + place()) + digit() + repeat() - digit()  # type: ignore[operator]
    cutting = ufloat(0.006, 0.003)
    rest = dressed * (1 - 0.006) - 6_000 * (cutting - 0.006) - single - sum(tray) - sum(tubs)
    pieces = (
        Weighing(1, 1_000_000, "bench", indication="1.000 kg"),
        Weighing(
            2, 700_000, "bench", method=Method.TRAY_BUILDING,
            indication_before="1.000 kg", indication="1.700 kg",
        ),
        Weighing(
            3, 900_000, "bench", method=Method.TRAY_BUILDING,
            indication_before="1.700 kg", indication="2.600 kg",
        ),
        Weighing(4, 1_500_000, "bench", tare="tub"),
        Weighing(5, 1_400_000, "bench", tare="tub"),
    )  # fmt: skip
    account = Account("c", dressed=Weighing(0, 6_000_000, "bench"), pieces=pieces)
    budget = balance_account(account, SCALES, ProcessLoss(0.006, 0.003)).budget
    assert budget is not None
    assert budget.u_mg / 1000 == pytest.approx(rest.std_dev, rel=1e-9)


def test_a_zero_that_wanders_adds_to_the_digit_of_the_empty_pan_only() -> None:
    wandering = {"bench": replace(BENCH, zero_mg=3_000.0)}
    one = [Weighing(1, 1_000_000, "bench")]
    # By hand: √(25/12 + 9) at zero; the loaded reading has its digit and repeatability.
    by_kind = weighings_budget(one, wandering).by_kind()
    assert by_kind[SourceKind.ZERO] / 1000 == pytest.approx(sqrt(25 / 12 + 9), rel=1e-12)
    assert by_kind[SourceKind.ROUNDING] / 1000 == pytest.approx(5 / sqrt(12), rel=1e-12)
    tray = [Weighing(n, 1_000_000, "bench", method=Method.TRAY_BUILDING) for n in range(3)]
    assert SourceKind.ZERO not in weighings_budget(tray, wandering).by_kind()


def test_a_tare_captured_for_each_piece_is_its_own_error_each_time() -> None:
    each = [Weighing(n, 1_000_000, "bench", tare=f"tub {n}") for n in range(4)]
    once = [replace(piece, tare="tub") for piece in each]
    # By hand: four independent digits √4·5/√12, or one digit four times over, 4·5/√12.
    one_digit_g = 5 / sqrt(12)
    tare_g = [weighings_budget(p, SCALES).by_kind()[SourceKind.TARE] / 1000 for p in (each, once)]
    assert tare_g == pytest.approx([2 * one_digit_g, 4 * one_digit_g], rel=1e-12)


def test_a_check_of_ten_readings_widens_the_coverage_factor_as_g_4_1_says() -> None:
    scales = {
        "rail": ScaleData("rail", 20_000, 0.0, 0.0),
        "bench": ScaleData("bench", 5_000, 9_000.0, 0.0, repeatability_readings=10),
    }
    pieces = tuple(Weighing(n, 1_000_000, "bench") for n in range(10))
    account = Account("c", dressed=Weighing(0, 10_000_000, "rail"), pieces=pieces)
    balance = balance_account(account, scales, ProcessLoss(0.0, 0.0))
    # By hand, g²: repeatability 10·81 with ν = 9, all of it one estimate; digits 2·400/12 + 20·25/12.
    repeat, digits = 10 * 81, 2 * 400 / 12 + 20 * 25 / 12
    dof = (repeat + digits) ** 2 / (repeat**2 / 9)
    assert balance.degrees_of_freedom == pytest.approx(dof, rel=1e-9)
    assert verdict_of(balance, 0.05).k == pytest.approx(stats.t.ppf(0.975, dof), rel=1e-6)
    known = {**scales, "bench": replace(scales["bench"], repeatability_readings=None)}
    assert balance_account(account, known, ProcessLoss(0.0, 0.0)).degrees_of_freedom == inf


def test_the_coverage_holds_when_the_repeatability_comes_from_ten_readings() -> None:
    # Whole experiment simulated: a check of ten readings, then a carcass of ten pieces judged with it.
    rng, runs, outside = np.random.default_rng(4), 1_200, 0
    for _ in range(runs):
        s_mg = float(np.std(rng.normal(0, 9_000, 10), ddof=1))
        scales = {
            "rail": ScaleData("rail", 1_000, 0.0, 0.0),
            "bench": ScaleData("bench", 1_000, s_mg, 0.0, repeatability_readings=10),
        }
        noise = rng.normal(0, 9_000, 10)
        pieces = tuple(Weighing(n, 1_000_000 + round(off), "bench") for n, off in enumerate(noise))
        account = Account("c", dressed=Weighing(0, 10_000_000, "rail"), pieces=pieces)
        outside += verdict_of(balance_account(account, scales, ProcessLoss(0.0, 0.0)), 0.05).questioned
    # Binomial, four standard deviations; with k = 1.96 instead of t it would be about 8 %.
    assert outside / runs == pytest.approx(0.05, abs=4 * sqrt(0.05 * 0.95 / runs))
