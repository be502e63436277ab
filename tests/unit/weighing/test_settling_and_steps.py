"""Plateaus and load changes. Times by hand: ten lines a second, an indication stands for 0.4 s."""

from __future__ import annotations

from math import sqrt

import numpy as np
import pytest

from handsfree.testing.bench_scale import BenchScale, Drip, Put, Take, TareKey, Touch
from handsfree.testing.scripted_scale import chunks_of
from handsfree.weighing.messages import (
    Basis,
    Condition,
    Indication,
    LoadChange,
    Plateau,
    ScaleEvent,
    ScaleEventKind,
)
from handsfree.weighing.settling import Settling
from handsfree.weighing.shapes import find_shapes
from handsfree.weighing.steps import Steps
from handsfree.weighing.weigher import Weigher

D = 5_000  # 5 g


def indication(t_s: float, grams: float, stable: bool | None = None, **more: object) -> Indication:
    text = f"{grams / 1000:.3f} kg"
    return Indication(round(t_s * 1e9), "bench", round(grams * 1000), text, "kg", 1000, stable, **more)  # type: ignore[arg-type]


def settle(values: list[float], rate_hz: float = 10.0, d_mg: int | None = D) -> list[Plateau]:
    """The plateau as it first settled, for each plateau."""
    settling = Settling("bench", d_mg)
    first: dict[int, Plateau] = {}
    for i, grams in enumerate(values):
        for plateau in settling.feed(indication(i / rate_hz, grams)):
            first.setdefault(plateau.start_ns, plateau)
    return list(first.values())


def changes(values: list[float], rate_hz: float = 10.0, d_mg: int | None = D) -> list[LoadChange]:
    settling, steps = Settling("bench", d_mg), Steps()
    return [
        change
        for i, grams in enumerate(values)
        for plateau in settling.feed(indication(i / rate_hz, grams))
        for change in steps.feed(plateau, settling.onset_ns)
    ]


def test_a_constant_value_is_a_plateau_after_the_window():
    (plateau,) = settle([1000.0] * 10)
    assert (plateau.start_ns, plateau.end_ns) == (0, 400_000_000)
    assert (plateau.value_mg, plateau.text, plateau.spread_mg) == (1_000_000, "1.000 kg", 0)


def test_its_uncertainty_is_d_over_root_twelve():
    # JCGM 100:2008 F.2.2.1: a display of interval d has u = 0.29 d; 5 g gives 1.443 g.
    (plateau,) = settle([1000.0] * 10)
    assert plateau.u_mg == pytest.approx(1443.4, abs=0.1)


def test_two_neighbouring_values_are_one_plateau_and_three_values_are_none_at_once():
    assert len(settle([1000.0, 1005.0] * 10)) == 1
    assert settle([1000.0, 1005.0, 1010.0, 1005.0] * 2) == []


def test_a_window_never_has_fewer_than_three_indications_however_slow_the_scale():
    assert settle([1000.0] * 2, rate_hz=1.0) == []
    (plateau,) = settle([1000.0] * 3, rate_hz=1.0)
    assert plateau.count == 3


def test_five_lines_that_arrive_together_are_not_yet_a_plateau():
    settling = Settling("bench", D)
    assert [p for _ in range(5) for p in settling.feed(indication(1.0, 1000.0))] == []


def test_a_scattering_value_counts_after_more_than_a_second_with_a_larger_uncertainty():
    scatter = [1000.0, 1015.0, 995.0, 1010.0, 1000.0, 990.0] * 4
    (plateau,) = settle(scatter)
    assert plateau.end_ns >= 1_000_000_000
    assert plateau.value_mg == 1_000_000
    # JCGM 100:2008 F.2.2.1 and 4.2.3: rounding, d/sqrt 12, and the mean of what scattered, here by numpy;
    # these values do not remember those before them (their autocorrelation is below zero).
    values = scatter[: plateau.count]
    u_mean_g = np.std(values, ddof=1) / sqrt(len(values))
    assert plateau.u_mg == pytest.approx(1000 * sqrt(5**2 / 12 + u_mean_g**2), rel=0.01)


def test_a_climbing_value_is_no_plateau():
    assert settle([1000.0 + 10 * i for i in range(40)]) == []


def test_a_step_is_a_load_change_with_its_onset_and_both_plateaus():
    (change,) = changes([0.0] * 10 + [400.0, 900.0, 1200.0] + [1235.0] * 10)
    assert change.delta_mg == 1_235_000
    assert change.onset_ns == 1_000_000_000
    assert change.t_ns == 1_700_000_000
    assert (change.before.value_mg, change.after.value_mg) == (0, 1_235_000)
    # Two roundings of 5 g: sqrt(2) * 5 / sqrt(12).
    assert change.u_mg == pytest.approx(1000 * sqrt(2 * 25 / 12))


def test_one_d_is_no_load_change_and_two_d_are():
    assert changes([0.0] * 10 + [5.0] * 20) == []
    assert [c.delta_mg for c in changes([0.0] * 10 + [10.0] * 20)] == [10_000]


def test_a_knife_that_touches_and_leaves_changes_nothing():
    assert changes([1000.0] * 10 + [1300.0, 1500.0, 1200.0] + [1000.0] * 10) == []


def test_a_hand_that_leans_long_enough_gives_two_opposite_changes():
    assert [c.delta_mg for c in changes([0.0] * 10 + [300.0] * 10 + [0.0] * 10)] == [300_000, -300_000]


def test_the_last_swing_is_waited_for():
    """375 for four lines, then 374 and 373 for good: the value before the last bit is not taken."""
    (change,) = changes([0.0] * 10 + [1880.0] + [1875.0] * 3 + [1870.0] * 10)
    assert change.after.value_mg == 1_870_000


def test_drip_stays_one_plateau_and_the_next_change_starts_from_where_it_ended():
    drip = [1000.0 - 5 * (i // 10) for i in range(60)]  # one d a second
    (change,) = changes([0.0] * 10 + drip + [0.0] * 10)[1:]
    assert change.delta_mg == -975_000


def test_zero_drift_is_followed():
    drift = [float(5 * (i // 30)) for i in range(150)]
    assert changes(drift) == []
    (change,) = changes([*drift, *([1020.0] * 10)])
    assert change.delta_mg == 1_000_000


def test_the_tare_key_is_no_load_change():
    settling, steps = Settling("bench", D), Steps()
    found = []
    for i in range(40):
        net = i >= 20
        each = indication(i / 10, 0.0 if net else 640.0, basis=Basis.NET if net else Basis.GROSS)
        for plateau in settling.feed(each):
            found += steps.feed(plateau, settling.onset_ns)
    assert found == []


def test_d_is_learned_from_motion_and_a_flicker_of_one_learned_d_is_no_change():
    motion = [0.0, 35.0, 110.0, 245.0, 380.0, 515.0, 640.0, 655.0]
    flicker = [650.0] * 10 + [655.0] * 10 + [650.0] * 10
    found = changes([0.0] * 8 + motion + flicker, d_mg=None)
    assert [c.delta_mg for c in found] == [650_000]
    assert found[0].after.d_mg == 5_000


def test_a_flag_that_is_stuck_either_way_changes_nothing():
    for flag in (True, False, None):
        settling = Settling("bench", D)
        found = [p for i in range(6) for p in settling.feed(indication(i / 10, 1000.0, flag))]
        assert found[0].end_ns == 400_000_000


def test_a_flag_that_works_and_says_moving_makes_it_wait_longer():
    settling = Settling("bench", D)
    settling.feed(indication(0.0, 0.0, stable=True))
    found = [p for i in range(1, 12) for p in settling.feed(indication(i / 10, 1000.0, stable=False))]
    assert found[0].end_ns == 800_000_000  # 0.6 s and more after 0.1 s


def test_an_overload_or_a_blank_keeps_the_plateau_before_and_invents_nothing():
    for condition in (Condition.OVERLOAD, Condition.BLANK, Condition.UNDERLOAD):
        settling, steps = Settling("bench", D), Steps()
        found: list[LoadChange] = []
        for i in range(45):
            odd = 15 <= i < 25
            each = indication(
                i / 10, 0.0 if i < 25 else 700.0, condition=condition if odd else Condition.NORMAL
            )
            for plateau in settling.feed(each):
                found += steps.feed(plateau, settling.onset_ns)
            assert not odd or settling.standing is None
        assert [(c.delta_mg, c.onset_ns) for c in found] == [(700_000, 1_500_000_000)]


def weigh(lines: list[tuple[float, str]], **settings: object) -> tuple[Weigher, list[object]]:
    weigher = Weigher("bench", find_shapes("auto"), D, **settings)  # type: ignore[arg-type]
    return weigher, [message for chunk in chunks_of(lines) for message in weigher.feed(chunk)]


@pytest.mark.parametrize("shape", ["status_comma", "question_mark", "number_unit", "sign_unit_letter"])
def test_a_generated_session_gives_its_own_truth(shape: str):
    scale = BenchScale("bench", 5, 15, 10, shape, 4)
    events = [Put(2, 1250), Touch(5, 0.4, 300), Drip(6, 3, 1.0), Put(10, 640), Take(13, 1890)]
    _, found = weigh(scale.run(events, 16))
    deltas = [each.delta_mg for each in found if isinstance(each, LoadChange)]
    assert len(deltas) == 3
    for delta_mg, true in zip(deltas, scale.truth(events), strict=True):
        assert abs(delta_mg / 1000 - true.delta_g) <= 5.0


def test_after_a_gap_the_load_put_on_meanwhile_is_still_a_change():
    scale = BenchScale("bench", 5, 15, 10, seed=4)
    lines = [line for line in scale.run([Put(5, 700)], 12) if not 3 <= line[0] < 8]
    weigher, found = weigh(lines)
    kinds = [(each.kind, each.t_ns) for each in found if isinstance(each, ScaleEvent)]
    assert [kind for kind, _ in kinds] == [ScaleEventKind.SILENT, ScaleEventKind.BACK]
    assert kinds[0][1] == pytest.approx(4.9e9, abs=0.1e9)  # two seconds after the last line
    assert [each.delta_mg for each in found if isinstance(each, LoadChange)] == [700_000]
    assert weigher.standing is not None
    assert weigher.standing.value_mg == 700_000


def test_the_scales_own_tare_key_with_a_net_flag_loses_no_piece():
    scale = BenchScale("bench", 5, 15, 10, seed=4)
    _, found = weigh(scale.run([Put(2, 640), TareKey(5), Put(8, 1000)], 12))
    assert [each.delta_mg for each in found if isinstance(each, LoadChange)] == [640_000, 1_000_000]
