"""Coverage factors at few degrees of freedom, against tables and scipy."""

from __future__ import annotations

from math import inf, sqrt

import pytest
from scipy import stats

from handsfree.reconciliation.distributions import effective_degrees_of_freedom
from handsfree.reconciliation.student import student_quantile


@pytest.mark.parametrize(
    ("coverage", "dof", "t"),
    [
        # JCGM 100:2008 Table G.2.
        (0.95, 1, 12.71), (0.95, 2, 4.30), (0.95, 9, 2.26), (0.95, 10, 2.23), (0.95, 100, 1.984),
        (0.9545, 9, 2.32), (0.99, 16, 2.92), (0.99, 5, 4.03), (0.9973, 10, 3.96), (0.95, inf, 1.960),
    ],
)  # fmt: skip
def test_the_quantiles_are_those_of_jcgm_100_table_g_2(coverage: float, dof: float, t: float) -> None:
    assert student_quantile((1 + coverage) / 2, dof) == pytest.approx(t, abs=0.005)


@pytest.mark.parametrize("dof", [0.5, 1.0, 2.0, 3.7, 9.0, 33.3, 250.0, 1e5])
@pytest.mark.parametrize("probability", [0.6, 0.95, 0.9975, 0.9999])
def test_the_quantiles_are_those_of_scipy(probability: float, dof: float) -> None:
    assert student_quantile(probability, dof) == pytest.approx(stats.t.ppf(probability, dof), rel=1e-7)


def test_the_end_gauge_of_jcgm_100_h_1_comes_out() -> None:
    # H.1.5, H.1.6: 25 nm (ν 18), 9.7 nm (ν 25.6), 2.9 nm (ν 50), 16.6 nm (ν 2): u_c = 32 nm, ν_eff = 16,
    # t99(16) = 2.92, U99 = 93 nm (components from memory, results as printed).
    parts = [(25.0, 18.0), (9.7, 25.6), (2.9, 50.0), (16.6, 2.0)]
    combined = sqrt(sum(u * u for u, _ in parts))
    dof = int(effective_degrees_of_freedom(parts))
    assert round(combined) == 32
    assert dof == 16
    assert round(student_quantile(0.995, dof) * round(combined)) == 93
