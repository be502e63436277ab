from itertools import pairwise

import numpy as np

from handsfree.speech.capture_timeline import Captured, CaptureTimeline
from handsfree.speech.messages import AudioBlock, SoundFlags
from handsfree.testing.making_sound import joined, silence, tone

S = 1_000_000_000
BLOCK_NS = 20_000_000


def sound_of(n: int = 320) -> np.ndarray:
    return np.full(n, 500, dtype=np.int16)


def assert_unbroken(blocks: list[AudioBlock]) -> None:
    assert blocks[0].t_ns == 0
    assert all(after.t_ns == before.end_ns for before, after in pairwise(blocks))


def flagged_s(blocks: list[AudioBlock], flag: SoundFlags) -> float:
    return sum(len(block.samples) for block in blocks if flag in block.flags) / 16_000


def run(deliveries: list[Captured]) -> list[AudioBlock]:
    timeline = CaptureTimeline()
    return [block for item in deliveries for block in timeline.feed(item)] + timeline.flush()


def steady(
    count: int, start_ns: int = BLOCK_NS, jitter_ns: int = 0, rate_error: float = 0.0, seed: int = 0
) -> list[Captured]:
    late = np.random.default_rng(seed).integers(0, jitter_ns + 1, count)
    arrivals = np.maximum.accumulate(start_ns + np.arange(count) * round(BLOCK_NS * (1 + rate_error)) + late)
    return [Captured(int(at), sound_of()) for at in arrivals]


def test_sound_before_the_first_callback_is_silence_from_zero() -> None:
    blocks = run([Captured(S // 2, tone(0.1))])
    assert_unbroken(blocks)
    assert np.array_equal(joined(blocks), np.concatenate([silence(0.4), tone(0.1)]))
    assert not any(block.flags for block in blocks)


def test_steady_sound_with_late_callbacks_is_handed_on_untouched() -> None:
    blocks = run(steady(3_000, jitter_ns=45_000_000))
    assert_unbroken(blocks)
    assert not any(block.flags for block in blocks)
    heard = joined(blocks)
    assert np.count_nonzero(heard) == 3_000 * 320


def test_a_device_that_goes_away_and_comes_back_leaves_flagged_silence_of_the_right_length() -> None:
    timeline = CaptureTimeline()
    blocks: list[AudioBlock] = []
    for item in steady(50):  # to 1.0 s
        blocks += timeline.feed(item)
    for tenth in range(10, 100):  # nothing until 10.0 s
        blocks += timeline.tick(tenth * S // 10)
        assert timeline.lost is (tenth > 30)  # gone once more than 2 s have passed
    for item in steady(50, start_ns=10 * S + BLOCK_NS):
        blocks += timeline.feed(item)
    assert not timeline.lost
    assert_unbroken(blocks)
    assert blocks[-1].end_ns == 11 * S
    assert abs(flagged_s(blocks, SoundFlags.GAP) - 9.0) < 0.05
    assert np.count_nonzero(joined(blocks)) == 100 * 320


def test_silence_comes_while_the_device_is_gone_not_only_afterwards() -> None:
    timeline = CaptureTimeline()
    for item in steady(50):
        timeline.feed(item)
    out = [block for tenth in range(10, 60) for block in timeline.tick(tenth * S // 10)]
    assert out[-1].end_ns >= 5.4 * S


def test_a_card_that_never_delivers_counts_as_gone() -> None:
    timeline = CaptureTimeline()
    assert timeline.tick(0) == []
    # A sound server may take a while to start.
    assert timeline.tick(3 * S) == []
    blocks = timeline.tick(6 * S)
    assert timeline.lost
    assert_unbroken(blocks)
    assert all(SoundFlags.GAP in block.flags for block in blocks)


def test_an_overflow_is_flagged_and_the_lost_time_is_put_in() -> None:
    first = steady(100)
    # 0.2 s are lost between the 100th and the 101st delivery.
    second = steady(200, start_ns=first[-1].arrived_ns + S // 5 + BLOCK_NS)
    second[0] = Captured(second[0].arrived_ns, second[0].samples, overflow=True)
    blocks = run(first + second)
    assert_unbroken(blocks)
    assert flagged_s(blocks, SoundFlags.OVERFLOW) == 0.02
    assert abs(flagged_s(blocks, SoundFlags.GAP) - 0.2) < 0.05
    assert blocks[-1].end_ns == second[-1].arrived_ns


def test_a_crystal_that_is_slow_or_fast_never_shifts_time_by_more_than_a_tenth_of_a_second() -> None:
    for rate_error in (400e-6, -400e-6):
        timeline = CaptureTimeline()
        off: list[int] = []
        # Half an hour at 400 ppm is 0.72 s of drift, in deliveries of a tenth of a second.
        for n in range(1, 18_001):
            arrived_ns = round(n * S / 10 * (1 + rate_error))
            blocks = timeline.feed(Captured(arrived_ns, sound_of(1_600)))
            off += [arrived_ns - blocks[-1].end_ns]
        assert 40_000_000 < max(map(abs, off)) < 100_000_000


def test_time_is_put_right_in_a_quiet_moment_not_in_a_word() -> None:
    timeline = CaptureTimeline()
    rng = np.random.default_rng(2)

    def put_in_during(loud: bool, first: int, count: int, shift_ns: int) -> float:
        level = 4_000 if loud else 100
        blocks: list[AudioBlock] = []
        for n in range(first, first + count):
            sound = rng.integers(-level, level, 320).astype(np.int16)
            blocks += timeline.feed(Captured(n * BLOCK_NS + shift_ns, sound))
        return flagged_s(blocks, SoundFlags.GAP)

    assert put_in_during(False, 1, 100, 0) == 0.0
    # From here on everything arrives 0.1 s later: samples are missing, the card did not say so.
    assert put_in_during(False, 101, 200, S // 10) == 0.0
    # Five seconds show it, but by then somebody is talking; after that there is a pause.
    assert put_in_during(True, 301, 100, S // 10) == 0.0
    assert abs(put_in_during(False, 401, 20, S // 10) - 0.1) < 0.05


def test_an_empty_delivery_is_nothing() -> None:
    assert CaptureTimeline().feed(Captured(S, sound_of(0))) == []
