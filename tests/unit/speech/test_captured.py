"""The sound as captured, kept beside what the denoiser made of it."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from handsfree.speech.captured import CapturedSound
from handsfree.speech.endpointing import Endpointer
from handsfree.speech.energy_activity import EnergyActivity
from handsfree.speech.hearing import SpeechParts
from handsfree.speech.messages import AudioBlock
from handsfree.speech.ports import Denoiser
from handsfree.speech.timeline import NS_PER_SAMPLE
from handsfree.testing.making_sound import in_blocks, silence, tone


def ramp(first: int, count: int) -> AudioBlock:
    return AudioBlock(first * NS_PER_SAMPLE, np.arange(first, first + count, dtype=np.int16))


@given(
    cuts=st.lists(st.integers(1, 400), min_size=1, max_size=20),
    start=st.integers(0, 3_000),
    count=st.integers(0, 3_000),
)
def test_any_stretch_comes_back_however_it_was_cut(cuts: list[int], start: int, count: int) -> None:
    captured, at = CapturedSound(), 0
    for cut in cuts:
        captured.add(ramp(at, cut))
        at += cut
    found = captured.over(start * NS_PER_SAMPLE, count)
    expected = [sample if sample < at else 0 for sample in range(start, start + count)]
    assert found.tolist() == expected


def test_lost_time_is_silence() -> None:
    captured = CapturedSound()
    captured.add(ramp(100, 10))
    captured.add(ramp(130, 10))
    assert captured.over(105 * NS_PER_SAMPLE, 30).tolist() == [*range(105, 110), *[0] * 20, *range(130, 135)]


def test_what_is_long_past_is_forgotten() -> None:
    captured = CapturedSound(kept_ns=100 * NS_PER_SAMPLE)
    for first in range(0, 1_000, 50):
        captured.add(ramp(first, 50))
    assert captured.over(0, 50).tolist() == [0] * 50
    assert captured.over(900 * NS_PER_SAMPLE, 100).tolist() == list(range(900, 1_000))


class Quieter(Denoiser):
    """Holds 480 samples back and gives half of what it took."""

    name = "quieter"

    def __init__(self) -> None:
        self._held: list[AudioBlock] = []

    def feed(self, block: AudioBlock) -> list[AudioBlock]:
        self._held.append(AudioBlock(block.t_ns, block.samples // 2))
        return [self._held.pop(0)] if len(self._held) > 3 else []

    def flush(self) -> list[AudioBlock]:
        held, self._held = self._held, []
        return held


def test_each_part_of_speech_carries_the_same_stretch_before_the_filter() -> None:
    sound = np.concatenate([silence(0.7), tone(0.5), silence(0.6), tone(0.4), silence(0.2)])
    parts = SpeechParts(Quieter(), Endpointer(EnergyActivity()))
    found = [part for block in in_blocks(sound) for part in parts.feed(block)] + parts.flush()
    assert sum(part.first for part in found) == 2
    for part in found:
        assert part.captured is not None
        assert (part.captured // 2).tolist() == part.samples.tolist()
