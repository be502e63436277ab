"""Charts against printed examples: NIST/SEMATECH e-Handbook 6.3.2.2 to 6.3.2.4, Montgomery & Runger."""

from __future__ import annotations

import pytest

from handsfree.errors import EntryError
from handsfree.reconciliation.control_charts import cusum, ewma, individuals, moving_range, sigma_of

FLOW = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]
BEFORE = [52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5]


def test_individuals_are_those_of_the_handbook() -> None:
    # NIST/SEMATECH 6.3.2.2.
    chart = individuals(FLOW)
    assert chart.centre == pytest.approx(50.81)
    assert chart.upper[0] == pytest.approx(55.8041, abs=1e-4)
    assert chart.lower[0] == pytest.approx(45.8159, abs=1e-4)
    assert chart.signals == ()
    assert sigma_of(FLOW) == pytest.approx(1.66470, abs=1e-5)


def test_the_moving_range_limit_is_that_of_the_constants() -> None:
    # D4 = 3.267 times the mean range 1.8778 of NIST/SEMATECH 6.3.2.2.
    chart = moving_range(FLOW)
    assert chart.centre == pytest.approx(1.8778, abs=1e-4)
    assert chart.upper[0] == pytest.approx(6.1347, abs=1e-4)


def test_a_value_far_out_signals() -> None:
    assert individuals([*FLOW, 70.0]).signals == (10,)


def test_ewma_is_that_of_the_handbook() -> None:
    # NIST/SEMATECH 6.3.2.4; the handbook prints the lower limit truncated (47.4115).
    chart = ewma(BEFORE + FLOW, 50.0, 2.0539, weight=0.3, settled=True)
    assert chart.upper[0] == pytest.approx(52.5884, abs=1e-4)
    assert chart.lower[0] == pytest.approx(47.41157, abs=1e-4)
    printed = [50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33]
    printed += [50.11, 49.36, 49.52, 50.05, 49.38, 49.92, 50.73, 51.23, 51.94, 51.99]
    assert chart.values == pytest.approx(printed, abs=0.0051)
    assert chart.signals == ()


def test_the_first_ewma_limit_is_that_of_one_weighted_value() -> None:
    # By hand: the variance of 0.3 x is 0.09 sigma squared.
    assert ewma([50.0], 50.0, 2.0, weight=0.3).upper[0] == pytest.approx(50 + 3 * 0.3 * 2.0)


def test_cusum_signals_where_the_handbook_does() -> None:
    # NIST/SEMATECH 6.3.2.3.
    values = [324.925, 324.675, 324.725, 324.350, 325.350, 325.225, 324.125, 324.525, 325.225, 324.600]
    values += [324.625, 325.150, 328.325, 327.250, 327.825, 328.500, 326.675, 327.775, 326.875, 328.350]
    found = cusum(values, 325, slack=0.3175, limit=4.1959)
    assert found.above[12:] == pytest.approx([3.01, 4.94, 7.45, 10.63, 11.99, 14.44, 16.00, 19.04], abs=0.006)
    assert [found.below[place - 1] for place in (4, 7, 8, 10, 11)] == pytest.approx(
        [0.33, 0.56, 0.72, 0.25, 0.31], abs=0.006
    )
    assert found.signals[0] == 13


def test_cusum_is_that_of_the_textbook() -> None:
    # Montgomery & Runger, Applied Statistics and Probability for Engineers, table 16-8.
    values = [102.0, 94.8, 98.3, 98.4, 102.0, 98.5, 99.0, 97.7, 100.0, 98.1]
    values += [101.3, 98.7, 101.1, 98.4, 97.0, 96.7, 100.3, 101.4, 97.2, 101.0]
    found = cusum(values, 99, slack=1, limit=10)
    printed = [2.0, 0, 0, 0, 2.0, 0.5, 0, 0, 0, 0, 1.3, 0, 1.1, 0, 0, 0, 0.3, 1.7, 0, 1.0]
    assert found.above == pytest.approx(printed, abs=1e-9)
    assert found.below[:4] == pytest.approx([0, 3.2, 2.9, 2.5])
    assert found.signals == ()


def test_one_carcass_is_no_chart() -> None:
    with pytest.raises(EntryError, match="two carcasses"):
        individuals([1.0])
