"""Sound and scale in one order of time."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from handsfree.merging import DeviceStep, ScaleStep, SoundStep, Step, StepBuffer, in_order
from handsfree.weighing.ports import Chunk

MS = 1_000_000


def sound(t_ms: int) -> SoundStep:
    return SoundStep(t_ms * MS)


def scale(t_ms: int, name: str = "bench") -> ScaleStep:
    return ScaleStep(t_ms * MS, name, Chunk(t_ms * MS, b"x"))


def times(steps: list[Step]) -> list[int]:
    return [step.t_ns // MS for step in steps]


def test_a_scale_step_waits_until_the_sound_has_passed_it() -> None:
    buffer = StepBuffer(sound=True)
    buffer.push(scale(100))
    assert buffer.ready(now_ns=150 * MS) == []
    buffer.push(sound(120))
    assert buffer.ready(now_ns=200 * MS) == []
    buffer.push(sound(180))
    assert times(buffer.ready(now_ns=220 * MS)) == [100]


def test_without_a_microphone_the_clock_sets_the_pace() -> None:
    buffer = StepBuffer(sound=False)
    buffer.push(scale(100))
    assert times(buffer.ready(now_ns=180 * MS)) == [100]


def test_when_the_sound_stops_the_clock_takes_over() -> None:
    buffer = StepBuffer(sound=True)
    buffer.push(sound(100))
    buffer.push(scale(500))
    assert times(buffer.ready(now_ns=1900 * MS)) == []
    assert times(buffer.ready(now_ns=2200 * MS)) == [100, 500]


def test_what_is_left_at_the_end_comes_out_in_order() -> None:
    buffer = StepBuffer(sound=True)
    for step in (sound(40), scale(30), sound(20)):
        buffer.push(step)
    assert times(buffer.rest()) == [20, 30, 40]
    assert buffer.rest() == []


def test_at_equal_times_a_device_goes_before_a_scale_and_a_scale_before_the_sound() -> None:
    steps = [sound(20), scale(20), DeviceStep(20 * MS, "microphone", "gone")]
    buffer = StepBuffer(sound=True)
    for step in steps:
        buffer.push(step)
    assert [type(step) for step in buffer.rest()] == [DeviceStep, ScaleStep, SoundStep]


@given(
    st.lists(st.integers(0, 2000), max_size=40),
    st.randoms(use_true_random=False),
)
def test_live_steps_leave_the_buffer_in_the_order_a_replay_takes_them(
    lines: list[int], random: object
) -> None:
    # The sound comes every 20 ms, up to 60 ms late; scale lines as they happen.
    sounds = [sound(t) for t in range(20, 2021, 20)]
    scales = sorted((scale(t) for t in lines), key=lambda step: step.t_ns)
    arrivals = sorted(
        [(s.t_ns + random.randint(0, 60) * MS, n, s) for n, s in enumerate(sounds)]  # type: ignore[attr-defined]
        + [(s.t_ns, -1, s) for s in scales],
        key=lambda arrival: (arrival[0], arrival[1]),
    )
    buffer = StepBuffer(sound=True)
    live: list[Step] = []
    for at_ns, _, step in arrivals:
        buffer.push(step)
        live += buffer.ready(at_ns)
    live += buffer.rest()
    assert live == list(in_order(sounds, scales))
