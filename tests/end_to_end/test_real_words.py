"""Real people's single words through the embedded engine with a closed word list.

The recordings are Speech Commands v0.02 (P. Warden, 2018, CC BY 4.0): many people, many microphones.
"""

from __future__ import annotations

import random
from pathlib import Path

import numpy as np
import pytest
import soundfile

from handsfree.speech.denoise_spectral import SpectralDenoiser
from handsfree.speech.grammar import Grammar
from handsfree.speech.messages import Samples
from handsfree.speech.pocketsphinx_decoders import base_dictionary
from handsfree.speech.pocketsphinx_engine import PocketSphinxRecogniser
from handsfree.testing.making_sound import in_blocks, joined, silence
from handsfree.testing.shipped_words import shipped_lexicon

CLIPS_A_WORD = 4
#: With 24 words the chance level is 0.04.
FLOOR = 0.6


def chosen(folder: Path) -> list[tuple[str, Path]]:
    draw = random.Random(2)
    return [
        (word.name, clip)
        for word in sorted(path for path in folder.iterdir() if path.is_dir())
        for clip in _some(draw, sorted(word.glob("*.wav")))
    ]


def _some(draw: random.Random, clips: list[Path]) -> list[Path]:
    return draw.sample(clips, min(CLIPS_A_WORD, len(clips)))


def denoised(sound: Samples) -> Samples:
    # Half a second goes before, so that the filter knows the noise of the recording.
    chain = SpectralDenoiser()
    lead = np.concatenate([np.resize(sound[:800], 8_000), sound, silence(0.2)])
    return joined([out for block in in_blocks(lead) for out in chain.feed(block)] + chain.flush())[6_000:]


@pytest.mark.slow
def test_most_words_of_many_people_are_heard(
    real_recordings: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    clips = chosen(real_recordings / "words")
    engine = PocketSphinxRecogniser(shipped_lexicon(base_dictionary()))
    engine.use(Grammar.from_phrases("words", sorted({word for word, _ in clips})))
    right, in_three, sure_and_wrong = 0, 0, 0
    for word, path in clips:
        engine.begin()
        engine.feed(denoised(soundfile.read(path, dtype="int16")[0]))
        recognition = engine.finish(3)
        texts = [reading.text for reading in recognition.hypotheses]
        right += texts[:1] == [word]
        in_three += word in texts
        sure_and_wrong += texts[:1] != [word] and recognition.confidence >= 0.5
    with capsys.disabled():
        print(  # noqa: T201 - the figure is for people
            f"\nreal words: {len(clips)} clips of {len({w for w, _ in clips})} words, "
            f"right {right / len(clips):.1%}, among three {in_three / len(clips):.1%}, "
            f"wrong and not refused {sure_and_wrong / len(clips):.1%}"
        )
    assert right / len(clips) >= FLOOR
    assert in_three >= right
