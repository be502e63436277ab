import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from handsfree.speech.messages import SoundFlags
from handsfree.speech.timeline import BlockCutter, samples_in
from handsfree.testing.making_sound import joined, tone


@given(st.lists(st.integers(0, 2_000), max_size=30), st.integers(0, 10**12))
def test_cutting_loses_nothing_and_stamps_follow_the_sample_count(sizes: list[int], start_ns: int) -> None:
    sound = np.arange(sum(sizes), dtype=np.int64).astype(np.int16)
    cutter = BlockCutter(start_ns)
    pieces = np.split(sound, np.cumsum(sizes)[:-1]) if sizes else []
    blocks = [block for piece in pieces for block in cutter.feed(piece)] + cutter.flush()
    assert np.array_equal(joined(blocks), sound)
    # 16 000 samples are one second: 62 500 ns each.
    assert [block.t_ns for block in blocks] == [start_ns + n * 320 * 62_500 for n in range(len(blocks))]


def test_a_flag_marks_the_blocks_that_hold_its_samples_and_no_other() -> None:
    cutter = BlockCutter()
    blocks = cutter.feed(tone(0.05)) + cutter.feed(tone(0.02), SoundFlags.GAP) + cutter.feed(tone(0.05))
    # 50 to 70 ms are flagged: blocks 2 (40-60 ms) and 3 (60-80 ms).
    assert [bool(block.flags) for block in blocks] == [False, False, True, True, False, False]


def test_a_flag_without_samples_marks_the_next_sample() -> None:
    cutter = BlockCutter()
    cutter.feed(tone(0)[:0], SoundFlags.OVERFLOW)
    assert [block.flags for block in cutter.feed(tone(0.04))] == [SoundFlags.OVERFLOW, SoundFlags.NONE]


def test_samples_are_counted_to_the_nearest() -> None:
    assert [samples_in(ns) for ns in (0, 31_249, 31_250, 62_500, 1_000_000_000)] == [0, 0, 1, 1, 16_000]
