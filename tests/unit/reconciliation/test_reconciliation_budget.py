"""Budgets against worked figures from outside: hand computation, the uncertainties library, JCGM 101."""

from __future__ import annotations

from dataclasses import replace
from math import isinf, sqrt

import numpy as np
import pytest
from uncertainties import ufloat

from handsfree.pairing.messages import Method
from handsfree.reconciliation.account import Weighing
from handsfree.reconciliation.budget import Budget, Source, SourceKind
from handsfree.reconciliation.distributions import (
    arcsine,
    effective_degrees_of_freedom,
    rounding,
    triangular,
    uniform,
)
from handsfree.reconciliation.instruments import ScaleData
from handsfree.reconciliation.weighings import weighings_budget

# The set of twenty weighings: bench d = 5 g, s = 2 g, span 0.02 %; hanging scale d = 50 g, s = 20 g,
# span 0.05 %; twenty pieces of 1.1 kg, a carcass of 22.5 kg.
BENCH = ScaleData("bench", 5_000, 2_000.0, 0.0002)
RAIL = ScaleData("rail", 50_000, 20_000.0, 0.0005)
SCALES = {"bench": BENCH, "rail": RAIL}
PIECES = [Weighing(n, 1_100_000, "bench") for n in range(1, 21)]
CARCASS = Weighing(0, 22_500_000, "rail")


def grams(budget: Budget) -> float:
    return budget.u_mg / 1000


def loss_budget(carcass: Weighing, pieces: list[Weighing]) -> Budget:
    return weighings_budget([carcass], SCALES, run="dressed") - weighings_budget(pieces, SCALES)


@pytest.mark.parametrize(
    ("d", "u"), [(1, 0.289), (2, 0.577), (5, 1.443), (10, 2.887), (20, 5.774), (50, 14.434)]
)
def test_a_digit_of_d_has_the_standard_uncertainty_of_jcgm_100_f_2_2_1(d: float, u: float) -> None:
    assert rounding(d) == pytest.approx(u, abs=5e-4)  # 0.29 δ = δ/(2√3)


def test_the_usual_distributions_have_the_standard_uncertainties_of_jcgm_100_4_3() -> None:
    # JCGM 100:2008 4.3.7 and 4.3.9 with a = 10: 10/√3, 10/√6; arcsine 10/√2.
    assert (uniform(10), triangular(10), arcsine(10)) == pytest.approx((5.774, 4.082, 7.071), abs=5e-4)
    # JCGM 100:2008 4.3.7 example: copper, 16.40 to 16.92 (1e-6/°C) gives 0.15.
    assert uniform((16.92 - 16.40) / 2) == pytest.approx(0.15, abs=5e-4)


def test_ten_resistors_against_one_standard_add_up_as_in_jcgm_100_5_2_2_note_1() -> None:
    # u(each) = 100 mΩ from the one standard: in series u = 1 Ω; the root sum of squares, 0.32 Ω, is wrong.
    standard = Source(SourceKind.SPAN, "standard")
    one = Budget([(standard, 0.1)])
    series = sum([one] * 9, one)
    assert series.u_mg == pytest.approx(1.0, rel=1e-12)
    apart = Budget((Source(SourceKind.SPAN, f"standard {n}"), 0.1) for n in range(10))
    assert apart.u_mg == pytest.approx(0.316, abs=5e-4)
    assert (one - one).u_mg == 0.0


def test_one_net_weighing_has_two_digits_and_one_repeatability() -> None:
    without_span = {"bench": replace(BENCH, span=0.0)}
    # By hand: √(2·25/12 + 4) = √8.16667 = 2.85774 g.
    assert grams(weighings_budget(PIECES[:1], without_span)) == pytest.approx(2.8577, abs=5e-5)
    # Twenty independent ones: √20 times that.
    assert grams(weighings_budget(PIECES, without_span)) == pytest.approx(12.7802, abs=5e-5)


def test_the_span_adds_over_all_pieces_of_one_scale() -> None:
    budget = weighings_budget(PIECES, SCALES)
    assert budget.by_kind()[SourceKind.SPAN] / 1000 == pytest.approx(4.4, rel=1e-12)  # 0.0002·22 000
    assert grams(budget) == pytest.approx(13.5164, abs=5e-5)  # √(12.7802² + 4.4²)
    assert budget.expanded_mg() / 1000 == pytest.approx(27.03, abs=5e-3)


def test_a_tare_captured_once_adds_over_all_pieces() -> None:
    reused = [replace(piece, tare="tub") for piece in PIECES]
    budget = weighings_budget(reused, SCALES)
    # By hand: 20·5/√12 = 28.868; √(20·(25/12 + 4)) = 11.030; √(28.868² + 11.030² + 4.4²) = 31.215 g.
    assert budget.by_kind()[SourceKind.TARE] / 1000 == pytest.approx(28.868, abs=5e-4)
    assert grams(budget) == pytest.approx(31.215, abs=5e-4)


@pytest.mark.parametrize("method", [Method.TRAY_BUILDING, Method.TAKING_OFF])
@pytest.mark.parametrize("count", [2, 20])
def test_differences_of_one_run_telescope_to_two_readings(method: Method, count: int) -> None:
    mass_mg = 22_000_000 // count
    pieces = [Weighing(n, mass_mg, "bench", method=method) for n in range(1, count + 1)]
    # By hand, whatever the count: √(2·25/12 + 2·4 + 4.4²) = 5.615 g.
    assert grams(weighings_budget(pieces, SCALES)) == pytest.approx(5.615, abs=5e-4)


def test_a_run_that_was_broken_has_its_own_readings_again() -> None:
    readings = [("1.000 kg", "2.100 kg"), ("2.100 kg", "3.200 kg"), ("3.195 kg", "4.295 kg")]
    pieces = [
        Weighing(n, 1_100_000, "bench", method=Method.TRAY_BUILDING, indication_before=a, indication=b)
        for n, (a, b) in enumerate(readings)
    ]
    # Two runs, each with two loaded readings: 4 digits, 4 repeatabilities, span on 3.3 kg.
    by_hand = sqrt(4 * 25 / 12 + 4 * 4 + (0.0002 * 3300) ** 2)
    assert grams(weighings_budget(pieces, SCALES)) == pytest.approx(by_hand, rel=1e-9)


def test_a_struck_piece_leaves_the_sum_but_not_the_run() -> None:
    pieces = [Weighing(n, 1_000_000, "bench", method=Method.TRAY_BUILDING) for n in range(3)]
    pieces[1] = replace(pieces[1], struck=True)
    # (R1 - R0) + (R3 - R2): four loaded readings, span on 2 kg.
    by_hand = sqrt(4 * 25 / 12 + 4 * 4 + 0.4**2)
    assert grams(weighings_budget(pieces, SCALES)) == pytest.approx(by_hand, rel=1e-9)


def test_a_loss_between_two_scales_has_both_their_uncertainties() -> None:
    # By hand: √(2·2500/12 + 400 + 11.25²) = 30.712; with the pieces √(30.712² + 13.5164²) = 33.555 g.
    assert grams(weighings_budget([CARCASS], SCALES)) == pytest.approx(30.712, abs=5e-4)
    loss = loss_budget(CARCASS, PIECES)
    assert grams(loss) == pytest.approx(33.555, abs=5e-4)
    assert loss.expanded_mg() / 1000 == pytest.approx(67.11, abs=5e-3)
    # Currie 1968: decision threshold 1.645 σ, detection limit 3.29 σ.
    assert 1.645 * grams(loss) == pytest.approx(55.2, abs=0.05)
    assert 3.29 * grams(loss) == pytest.approx(110.4, abs=0.05)


def test_a_span_shared_by_carcass_and_pieces_acts_on_the_loss_only() -> None:
    loss = loss_budget(replace(CARCASS, scale="bench"), PIECES)
    assert loss.by_kind()[SourceKind.SPAN] / 1000 == pytest.approx(0.1, rel=1e-9)  # 0.0002·500 g
    assert grams(loss) == pytest.approx(13.096, abs=5e-4)
    two_spans = sqrt(20 * (2 * 25 / 12 + 4) + 2 * 25 / 12 + 4 + 4.4**2 + 4.5**2)
    assert two_spans == pytest.approx(14.530, abs=5e-3)  # the wrong way, for comparison
    assert grams(loss) < two_spans


def test_the_uncertainties_library_finds_the_same_by_its_own_route() -> None:
    bench_span, rail_span = ufloat(1, 0.0002), ufloat(1, 0.0005)

    def reading(load: float, d: float, s: float) -> object:
        return load + ufloat(0, d / sqrt(12)) + ufloat(0, s)

    pieces = sum(
        (reading(1100, 5, 2) - ufloat(0, 5 / sqrt(12))) * bench_span  # type: ignore[operator]
        for _ in range(20)
    )
    carcass = (reading(22_500, 50, 20) - ufloat(0, 50 / sqrt(12))) * rail_span  # type: ignore[operator]
    assert grams(weighings_budget(PIECES, SCALES)) == pytest.approx(pieces.std_dev, rel=1e-9)
    assert grams(loss_budget(CARCASS, PIECES)) == pytest.approx((carcass - pieces).std_dev, rel=1e-9)
    same = (reading(22_500, 5, 2) - ufloat(0, 5 / sqrt(12))) * bench_span  # type: ignore[operator]
    shared = grams(loss_budget(replace(CARCASS, scale="bench"), PIECES))
    assert shared == pytest.approx((same - pieces).std_dev, rel=1e-9)


def test_a_monte_carlo_run_after_jcgm_101_finds_the_same() -> None:
    rng, runs = np.random.default_rng(20261125), 60_000

    def indicated(load: np.ndarray, d: float) -> np.ndarray:
        return np.round(load / d) * d  # really rounded, not modelled as uniform

    bench_span, rail_span = rng.normal(1, 0.0002, runs), rng.normal(1, 0.0005, runs)
    total = np.zeros(runs)
    for _ in range(20):
        true = rng.uniform(1050, 1150, runs)
        zero = rng.uniform(-2.5, 2.5, runs)  # where the zero really lies within its digit
        total += indicated(true * bench_span + rng.normal(0, 2, runs), 5) + zero - true
    weight = rng.uniform(22_400, 22_600, runs)
    zero = rng.uniform(-25, 25, runs)
    carcass = indicated(weight * rail_span + rng.normal(0, 20, runs), 50) + zero - weight
    # The standard deviation of 60,000 runs is known to 0.3 % (1/√(2·60,000)); 1.5 % is five of those.
    assert grams(weighings_budget(PIECES, SCALES)) == pytest.approx(np.std(total), rel=0.015)
    assert grams(loss_budget(CARCASS, PIECES)) == pytest.approx(np.std(carcass - total), rel=0.015)


def test_the_reading_model_of_cg_18_gives_the_worked_calibration_example() -> None:
    # EURAMET cg-18 7.4.1 as coded in the package masscor, figures of its tests: d = 0.1 mg,
    # s = 0.03 mg, eccentricity 0.1 mg at 20 g, reading 12.4835 g; here in units of 0.1 mg.
    scale = ScaleData("balance", 1, 0.3, 0.0, eccentricity=1 / (2 * 200_000 * sqrt(3)))
    reading = weighings_budget([Weighing(1, 124_835, "balance")], {"balance": scale})
    assert (reading.u_mg * 1e-4) ** 2 == pytest.approx(2.891329e-9, rel=1e-6)  # g²
    assert reading.u_mg * 0.1 == pytest.approx(0.053771, abs=1e-6)  # mg
    # Errors -0.2 mg at 5 g and -0.1 mg at 20 g, U(k = 2) 0.200 and 0.201 mg, taken linearly between.
    part = (12.4835 - 5) / 15
    u_error = (0.200 + part * 0.001) / 2
    assert u_error * 1e-3 == pytest.approx(0.000100249, abs=5e-10)
    error = Budget([(Source(SourceKind.SPAN, "calibration"), u_error * 10)])
    assert (reading - error).u_mg * 1e-4 == pytest.approx(0.0001137598, rel=1e-6)
    assert 12.4835 - (-0.2 + part * 0.1) * 1e-3 == pytest.approx(12.48365, abs=1e-6)


def test_the_simple_weighing_of_the_tartu_workbench_comes_out() -> None:
    # University of Tartu, GUM workbench "Uncertainty of Simple Weighing": repeatability 0.00017 g
    # (ν 15), drift ±0.0002 g, readability ±0.00005 g; printed u = 0.000207525098883645 g, ν_eff 33.
    parts = [(0.00017, 15.0), (uniform(0.0002), float("inf")), (uniform(0.00005), float("inf"))]
    budget = Budget((Source(SourceKind.REPEATABILITY, "x", str(n)), u) for n, (u, _) in enumerate(parts))
    assert budget.u_mg == pytest.approx(0.000207525098883645, rel=1e-12)
    assert int(effective_degrees_of_freedom(parts)) == 33
    assert isinf(effective_degrees_of_freedom([(1.0, float("inf"))]))


def test_linearity_counted_for_tare_and_gross_is_as_in_quam_a2() -> None:
    # EURACHEM/CITAC QUAM 2012 A2: ±0.15 mg uniform, printed 0.09 mg; counted twice, printed 0.13 mg
    # (carried unrounded 0.1225): within 0.01.
    twice = Budget((Source(SourceKind.SPAN, name), uniform(0.15)) for name in ("tare", "gross"))
    assert uniform(0.15) == pytest.approx(0.09, abs=5e-3)
    assert twice.u_mg == pytest.approx(0.13, abs=0.01)


def test_an_unknown_scale_has_the_span_of_its_class_in_service() -> None:
    # OIML R 76-1:2006 Table 6, class III: ±1 e at 2 000 e, twice in service: 0.1 %, uniform.
    assert ScaleData("x", 5_000).span_in_use == pytest.approx(0.001 / sqrt(3), rel=1e-12)
    # R 76-1 3.6.1: ten weighings within one e; d2(10) = 3.078 gives s.
    assert ScaleData("x", 5_000).s_mg == pytest.approx(5_000 / 3.078)


def test_a_noisy_weighing_counts_with_its_own_spread() -> None:
    calm = weighings_budget(PIECES[:1], SCALES)
    noisy = weighings_budget([replace(PIECES[0], u_mg=10_000.0)], SCALES)
    # Its 10 g take the place of digits and repeatability; the span part (0.22 g) stays.
    assert grams(noisy) == pytest.approx(sqrt(10**2 + 0.22**2), rel=1e-9)
    assert noisy.u_mg > calm.u_mg


def test_a_said_weight_is_as_good_as_its_last_decimal() -> None:
    said = Weighing(1, 1_250_000, "spoken", method=Method.SPOKEN, indication="1.25")
    budget = weighings_budget([said], {"spoken": ScaleData("spoken", 0, 0.0, 0.0)})
    assert grams(budget) == pytest.approx(10 / sqrt(12), rel=1e-9)
