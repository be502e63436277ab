"""Phase I and II against printed examples, and run lengths against printed tables."""

from __future__ import annotations

from statistics import fmean

import numpy as np
import pytest

from handsfree.reconciliation.control_charts import cusum, ewma
from handsfree.reconciliation.run_rules import runs
from handsfree.reconciliation.watch import (
    LEAST_CARCASSES,
    LIMIT,
    REACH,
    SLACK,
    WEIGHT,
    Usual,
    usual_of,
    watched,
)

FLOW = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]  # NIST/SEMATECH 6.3.2.2


def all_of(values) -> list[bool]:
    return [True] * len(values)


def drawn(count: int, shift: float = 0.0, seed: int = 1) -> list[float]:
    return list(np.random.default_rng(seed).normal(shift, 1, count))


def test_the_usual_of_a_printed_example_is_that_of_its_chart() -> None:
    # NIST/SEMATECH 6.3.2.2, its ten values twice over so that there are enough: the mean stays 50.81; one
    # range of 2.5 (52.1 to 49.6) comes between, so the mean range is (2 * 16.9 + 2.5) / 19.
    usual = usual_of(FLOW + FLOW, all_of(FLOW + FLOW))
    assert usual is not None
    assert usual.centre == pytest.approx(50.81)
    assert usual.sigma == pytest.approx((2 * 16.9 + 2.5) / 19 / 1.128)
    assert usual.places == tuple(range(20))


def test_too_few_are_not_judged() -> None:
    values = drawn(60)
    few = values[: LEAST_CARCASSES - 1]
    assert usual_of(few, all_of(few)) is None
    usable = [place % 4 == 0 for place in range(60)]
    assert usual_of(values, usable) is None
    assert usual_of([0.5] * 40, all_of(range(40))) is None, "no scatter at all is no measure"


def test_only_the_first_usable_ones_tell_what_is_usual() -> None:
    values = [9.0, *(FLOW * 3), *(value + 50 for value in drawn(30))]
    usual = usual_of(values, [False, *all_of(range(60))], first=30)
    assert usual is not None
    assert usual.places == tuple(range(1, 31))
    assert usual.centre == pytest.approx(50.81)


def test_a_value_far_out_is_left_out_of_the_usual() -> None:
    values = FLOW * 4
    values[7] = 90.0
    usual = usual_of(values, all_of(values))
    assert usual is not None
    assert 7 not in usual.places
    assert usual.left_out == 1


def test_a_lasting_shift_is_dated_and_measured() -> None:
    values = drawn(100) + drawn(40, shift=1.5, seed=2)
    watch = watched(values, all_of(values), Usual(0.0, 1.0))
    [change] = [change for change in watch.changes if change.lasting]
    assert change.above
    assert abs(change.since - 100) <= 8
    assert change.until == 139
    assert change.shift == pytest.approx(1.5, abs=0.5)


def test_a_shift_that_went_away_does_not_last() -> None:
    values = drawn(50) + drawn(25, shift=-2, seed=2) + drawn(60, seed=3)
    watch = watched(values, all_of(values), Usual(0.0, 1.0))
    below = [change for change in watch.changes if not change.above]
    assert below
    assert not any(change.lasting for change in watch.changes)
    assert any(abs(change.since - 50) <= 6 and change.until <= 90 for change in below)


def test_one_carcass_far_out_is_no_change_that_lasts() -> None:
    values = [0.1, -0.1] * 20 + [30.0] + [0.1, -0.1] * 5
    watch = watched(values, all_of(values), Usual(0.0, 1.0))
    assert watch.beyond == (40,)
    assert watch.jumps == (40, 41)
    assert watch.changes == ()


def test_what_is_not_judged_is_shown_and_moves_nothing() -> None:
    values = [0.1, -0.1] * 20
    spoiled = [*values[:10], 99.0, *values[10:]]
    judged = [place != 10 for place in range(41)]
    one, other = watched(values, all_of(values), Usual(0, 1)), watched(spoiled, judged, Usual(0, 1))
    assert other.values[10] == 99.0
    assert other.beyond == ()
    assert other.averages.values == one.averages.values
    assert other.ranges.values == one.ranges.values


def test_the_ewma_runs_as_long_as_the_tables_say() -> None:
    # Montgomery, Introduction to Statistical Quality Control, table of EWMA schemes, weight 0.20 and reach
    # 2.962 (from memory): 500 in order, then by shift in standard deviations. Second route: a Markov chain
    # of 401 states (Brook & Evans 1972), not the code.
    from scipy.stats import norm

    def run_length(shift: float) -> float:
        edge = REACH * np.sqrt(WEIGHT / (2 - WEIGHT))
        width = 2 * edge / 401
        middles = -edge + width * (np.arange(401) + 0.5)
        ends = middles[None, :] + np.array([-width / 2, width / 2])[:, None, None]
        low, high = ((end - (1 - WEIGHT) * middles[:, None]) / WEIGHT - shift for end in ends)
        within = norm.cdf(high) - norm.cdf(low)
        return float(np.linalg.solve(np.eye(401) - within, np.ones(401))[200])

    for shift, printed in ((0, 500), (0.5, 41.8), (1, 10.5), (2, 3.7)):
        assert run_length(shift) == pytest.approx(printed, rel=0.02)


def test_our_ewma_finds_a_shift_as_fast_as_the_tables_say() -> None:
    # The same table: 10.5 values until a shift of one standard deviation is seen.
    lengths = []
    for seed in range(1500):
        chart = ewma(drawn(80, 1.0, seed), 0.0, 1.0, weight=WEIGHT, reach=REACH, settled=True)
        lengths.append(chart.signals[0] + 1)
    assert fmean(lengths) == pytest.approx(10.5, abs=0.5)


def test_our_cusum_finds_a_shift_as_fast_as_the_handbook_says() -> None:
    # NIST/SEMATECH 6.3.2.3, table of run lengths, k = 0.5 and h = 5: 10.4 at one standard deviation, 4.01
    # at two (that is from h = 5 too).
    for shift, printed in ((1.0, 10.4), (2.0, 4.01)):
        lengths = [
            cusum(drawn(90, shift, seed), 0.0, slack=SLACK, limit=LIMIT).signals[0] + 1
            for seed in range(1500)
        ]
        assert fmean(lengths) == pytest.approx(printed, abs=0.45)


def test_our_cusum_is_in_order_as_long_as_the_handbook_says() -> None:
    # NIST/SEMATECH 6.3.2.3: 465 values in order between false alarms at k = 0.5, h = 5. One long row of
    # in-order values; the sums begin anew after each alarm. The mean of some 860 lengths is good to 3.5 %.
    values = drawn(400_000, seed=5)
    alarms, begin = 0, 0
    while begin < len(values) - 5000:
        chunk = values[begin : begin + 5000]
        signals = cusum(chunk, 0.0, slack=SLACK, limit=LIMIT).signals
        if not signals:
            pytest.fail("5,000 values without any alarm")
        alarms += 1
        begin += signals[0] + 1
    assert begin / alarms == pytest.approx(465, rel=0.1)


def test_run_rules_alarm_as_often_as_was_worked_out() -> None:
    # Champ & Woodall 1987, Technometrics 29(4):393; NIST/SEMATECH 6.3.2: all four rules once in 91.75
    # values in order, the first alone once in 370.
    every, single = [], []
    for seed in range(1200):
        found = runs(drawn(1200, seed=seed), 0.0, 1.0)
        every.append(found[0].place + 1)
        single.append(next((run.place + 1 for run in found if run.rule == 1), 1200))
    assert fmean(every) == pytest.approx(91.75, abs=8)
    # Cut off at 1,200: the mean of an exponential of 370 so cut is 370 * (1 - exp(-1200 / 370)) = 355.6.
    assert fmean(single) == pytest.approx(355.6, abs=30)


@pytest.mark.parametrize(
    ("values", "rule"),
    [
        ([0, 0, 3.1], 1),
        ([2.1, 0, 2.1], 2),
        ([1.1, 1.1, 0, 1.1, 1.1], 3),
        ([0.1] * 8, 4),
        ([-0.1] * 8, 4),
    ],
)
def test_each_rule_is_that_of_the_handbook(values: list[float], rule: int) -> None:
    # NIST/SEMATECH 6.3.2, "WECO rules": 1 beyond 3; 2 of 3 beyond 2; 4 of 5 beyond 1; 8 on one side.
    found = runs(values, 0.0, 1.0)
    assert [(run.place, run.rule) for run in found] == [(len(values) - 1, rule)]
    assert runs(values[:-1], 0.0, 1.0) == ()
