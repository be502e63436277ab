"""How the benchmark judges probabilities: against hand computation and scikit-learn."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parents[2] / "benchmarks" / "reconciliation"))
from calibration import brier_score, expected_calibration_error, reliability

SAID = [0.1, 0.4, 0.35, 0.8, 0.95, 0.95]
TRUE = [False, False, True, True, True, False]


def test_the_brier_score_is_the_mean_squared_distance() -> None:
    # By hand: (0.01 + 0.16 + 0.4225 + 0.04 + 0.0025 + 0.9025)/6 = 1.5375/6.
    assert brier_score(SAID, TRUE, [1.0] * 6) == pytest.approx(1.5375 / 6, rel=1e-12)
    assert brier_score(SAID, TRUE, [0, 0, 0, 0, 1, 1]) == pytest.approx((0.0025 + 0.9025) / 2)


def test_the_calibration_error_is_by_hand() -> None:
    rows = reliability(SAID, TRUE, [1.0] * 6, edges=(0.0, 0.5, 1.0))
    # By hand: below a half 0.85/3 said and 1/3 true, above it 2.7/3 said and 2/3 true.
    assert [(row.count, row.said, row.true) for row in rows] == [
        (3, pytest.approx(0.85 / 3), pytest.approx(1 / 3)),
        (3, pytest.approx(0.9), pytest.approx(2 / 3)),
    ]
    assert expected_calibration_error(rows) == pytest.approx((0.15 / 3 + 0.7 / 3) / 2)


def test_scikit_learn_finds_the_same() -> None:
    metrics = pytest.importorskip("sklearn.metrics", reason="scikit-learn is not installed")
    calibration = pytest.importorskip("sklearn.calibration", reason="scikit-learn is not installed")
    rng = np.random.default_rng(3)
    said = rng.uniform(0, 1, 500)
    true = rng.uniform(0, 1, 500) < said**1.3
    weights = rng.uniform(0.1, 3, 500)
    outside = metrics.brier_score_loss(true, said, sample_weight=weights)
    assert brier_score(said.tolist(), true.tolist(), weights.tolist()) == pytest.approx(outside, rel=1e-12)
    fraction, mean = calibration.calibration_curve(true, said, n_bins=8)
    rows = reliability(said.tolist(), true.tolist(), [1.0] * 500, edges=np.linspace(0, 1, 9).tolist())
    assert [row.true for row in rows] == pytest.approx(fraction.tolist())
    assert [row.said for row in rows] == pytest.approx(mean.tolist())
