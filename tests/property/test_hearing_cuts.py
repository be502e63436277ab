"""However the sound is cut into blocks, the same is heard at the same times."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from handsfree.speech.denoise_none import NoDenoiser
from handsfree.speech.denoise_spectral import SpectralDenoiser
from handsfree.speech.endpointing import Endpointer
from handsfree.speech.grammar import Grammar
from handsfree.speech.hearing import Hearing
from handsfree.speech.messages import AudioBlock, Samples, SpeechPart
from handsfree.speech.ports import Denoiser
from handsfree.testing.loudness_activity import LoudnessActivity
from handsfree.testing.making_sound import in_blocks
from handsfree.testing.scripted_recogniser import ScriptedRecogniser

CALLS = Grammar.from_phrases("calls", ["haunch"])

patterns = st.lists(
    st.tuples(st.sampled_from([0, 600, 2_500]), st.integers(1, 9_000)), min_size=1, max_size=14
)
sizes = st.lists(st.integers(1, 3_000), min_size=1, max_size=5)


def sound_of(pattern: list[tuple[int, int]]) -> Samples:
    signs = np.where(np.arange(sum(n for _, n in pattern)) % 8 < 4, 1, -1)
    return (np.concatenate([np.full(n, level) for level, n in pattern]) * signs).astype(np.int16)


def parts_of(blocks: list[AudioBlock]) -> list[SpeechPart]:
    endpointer = Endpointer(LoudnessActivity())
    return [part for block in blocks for part in endpointer.feed(block)] + endpointer.flush()


def told(parts: list[SpeechPart]) -> list[tuple[object, ...]]:
    return [(p.start_ns, p.samples.tobytes(), p.first, p.last, p.too_long, p.end_ns) for p in parts]


@given(patterns, sizes)
@settings(deadline=None)
def test_the_parts_do_not_depend_on_the_blocks(pattern: list[tuple[int, int]], cut: list[int]) -> None:
    sound = sound_of(pattern)
    assert told(parts_of(in_blocks(sound, cut))) == told(parts_of(in_blocks(sound)))


@given(patterns, sizes)
@settings(deadline=None)
def test_every_segment_is_begun_ended_and_inside_the_sound(
    pattern: list[tuple[int, int]], cut: list[int]
) -> None:
    sound = sound_of(pattern)
    open_segment, after = False, 0
    for part in parts_of(in_blocks(sound, cut)):
        assert part.first is not open_segment
        at = part.start_ns // 62_500 if part.first else after
        assert at >= after
        assert np.array_equal(part.samples, sound[at : at + len(part.samples)])
        after, open_segment = at + len(part.samples), not part.last
        if part.last:
            assert part.start_ns < part.end_ns <= after * 62_500
    assert not open_segment


@pytest.mark.parametrize("denoiser", [NoDenoiser, SpectralDenoiser])
@given(pattern=patterns, cut=sizes)
@settings(deadline=None, max_examples=15)
def test_the_utterances_do_not_depend_on_the_blocks(
    denoiser: type[Denoiser], pattern: list[tuple[int, int]], cut: list[int]
) -> None:
    def heard(blocks: list[AudioBlock]) -> list[object]:
        recogniser = ScriptedRecogniser(["haunch"] * 50)
        hearing = Hearing(denoiser(), Endpointer(LoudnessActivity()), recogniser, CALLS)
        utterances = [u for block in blocks for u in hearing.feed(block)] + hearing.flush()
        return [*utterances, *recogniser.heard]

    sound = sound_of(pattern)
    assert heard(in_blocks(sound, cut)) == heard(in_blocks(sound))
