"""The benchmark's interval and calibration formulas against published and hand-computed cases."""

from __future__ import annotations

import importlib.util
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest


@pytest.fixture(scope="module")
def intervals() -> ModuleType:
    file = Path(__file__).parents[2] / "benchmarks" / "hearing" / "intervals.py"
    spec = importlib.util.spec_from_file_location("hearing_intervals", file)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_wilson_interval_of_a_published_case(intervals: ModuleType) -> None:
    # R. G. Newcombe, Statistics in Medicine 17 (1998) 857, Table I: 81 of 263, 0.2553 to 0.3662.
    assert intervals.wilson(81, 263) == pytest.approx((0.2553, 0.3662), abs=5e-5)
    # The same table: 0 of 20, 0 to 0.1611.
    assert intervals.wilson(0, 20) == pytest.approx((0.0, 0.1611), abs=5e-5)


def test_no_event_bounds_the_rate_by_three_over_the_time(intervals: ModuleType) -> None:
    # "Rule of three": -ln 0.05 = 2.9957.
    assert intervals.most_per_hour(0, 1.0) == pytest.approx(2.9957, abs=1e-4)
    assert intervals.most_per_hour(0, 0.5) == pytest.approx(5.9915, abs=1e-4)


def test_calibration_error_by_hand(intervals: ModuleType) -> None:
    chances = np.array([0.9, 0.9, 0.9, 0.9, 0.1, 0.1])
    right = np.array([True, True, True, False, False, False])
    rows = intervals.reliability(chances, right)
    assert [count for *_, count in rows] == [2, 4]
    # 2 of 6 are 0.1 off, 4 of 6 are 0.9 - 0.75 = 0.15 off.
    assert intervals.expected_calibration_error(rows) == pytest.approx(2 / 6 * 0.1 + 4 / 6 * 0.15)
