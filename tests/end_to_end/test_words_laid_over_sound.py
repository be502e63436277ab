"""Words laid over their sound by the embedded engine, and over the same recording with noise in it."""

from __future__ import annotations

import shutil
from collections.abc import Iterator

import numpy as np
import pytest

from handsfree.speech.acoustic_files import read_acoustic_model
from handsfree.speech.messages import Samples
from handsfree.speech.pocketsphinx_alignment import Aligned, Aligner
from handsfree.speech.pocketsphinx_decoders import base_dictionary, model_folder
from handsfree.testing.rehearsal.voices import ESPEAK_SCOTLAND, speak
from handsfree.testing.shipped_words import shipped_lexicon

pytestmark = pytest.mark.skipif(shutil.which("espeak-ng") is None, reason="espeak-ng is not installed")

TEXT = "left haunch"


@pytest.fixture(scope="module")
def said() -> Samples:
    sound = speak(TEXT, ESPEAK_SCOTLAND).astype(np.float64)
    sound *= 2_600 / np.sqrt(np.mean(sound**2))
    padded = np.pad(sound, 6_400)
    padded += np.random.default_rng(1).normal(0, 8, len(padded))
    return np.clip(padded, -32_768, 32_767).astype(np.int16)


@pytest.fixture(scope="module")
def aligner() -> Iterator[Aligner]:
    base = read_acoustic_model(model_folder() / "en-us")
    found = Aligner(shipped_lexicon(base_dictionary()), base.phones)
    yield found
    found.close()


def laid(aligner: Aligner, said: Samples) -> Aligned:
    found = aligner.align(said, TEXT)
    assert found is not None
    return found


def test_over_the_same_sound_the_features_are_the_same(aligner: Aligner, said: Samples) -> None:
    found = laid(aligner, said)
    again = aligner.in_other_sound(found, said)
    assert again.features == pytest.approx(found.alignment.features, abs=1e-4)


def test_in_noise_the_words_stay_where_they_were_and_the_features_do_not(
    aligner: Aligner, said: Samples
) -> None:
    found = laid(aligner, said)
    noise = np.random.default_rng(2).normal(0, 800, len(said))
    noisy = np.clip(said + noise, -32_768, 32_767).astype(np.int16)
    other = aligner.in_other_sound(found, noisy)
    assert np.array_equal(other.states, found.alignment.states)
    assert np.array_equal(other.codebooks, found.alignment.codebooks)
    assert other.features.shape == found.alignment.features.shape
    # In noise the pauses are louder, so there is less between the loudest and the quietest frame.
    energy, before = other.features[:, 0, 0], found.alignment.features[:, 0, 0]
    assert np.ptp(energy) < np.ptp(before)


def test_words_fit_their_own_sound_better_than_others_do(aligner: Aligner, said: Samples) -> None:
    found, other = laid(aligner, said), aligner.align(said, "four double chops")
    assert other is None or other.loss > found.loss
    assert np.all(np.diff(found.frames) > 0)
