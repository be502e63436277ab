"""When the embedded engine settles what was said, so that no other ear is asked."""

from __future__ import annotations

import shutil
from pathlib import Path

import numpy as np
import pytest

from handsfree.speech.acoustic_files import MEANS_FILE, means_file, read_means
from handsfree.speech.messages import Samples
from handsfree.speech.pocketsphinx_decoders import base_dictionary, model_folder
from handsfree.speech.pocketsphinx_engine import SETTLED, PocketSphinxRecogniser
from handsfree.speech.ports import Recognition
from handsfree.testing.making_sound import silence
from handsfree.testing.rehearsal.voices import Voice, speak
from handsfree.testing.shipped_words import shipped_lexicon, shipped_vocabulary

pytestmark = pytest.mark.skipif(shutil.which("flite") is None, reason="flite is not installed")

NOISE_RMS = 2_500.0
"""Against a voice of some 4,000: little is left of it."""


@pytest.fixture(scope="module")
def said() -> Samples:
    return np.concatenate([silence(0.25), speak("left haunch", Voice("flite", "slt")), silence(0.3)])


def heard(sound: Samples, adapted: Path | None) -> Recognition:
    engine = PocketSphinxRecogniser(shipped_lexicon(base_dictionary()), adapted=adapted)
    engine.use(shipped_vocabulary().listening())
    engine.begin()
    engine.feed(sound)
    return engine.finish()


@pytest.fixture
def own_model(tmp_path: Path) -> Path:
    """A model of a speaker's own whose figures are those of the model as it comes."""
    model = model_folder() / "en-us"
    (tmp_path / MEANS_FILE).write_bytes(means_file(model, read_means(model / MEANS_FILE)))
    return tmp_path


def test_only_through_the_speakers_own_model(said: Samples, own_model: Path) -> None:
    own, anybody = heard(said, own_model), heard(said, None)
    assert own.hypotheses[0].text == anybody.hypotheses[0].text == "left haunch"
    assert own.confidence == anybody.confidence >= SETTLED
    assert (own.own_voice, own.settled) == (True, True)
    assert (anybody.own_voice, anybody.settled) == (False, False)


def test_not_where_noise_leaves_it_unsure(said: Samples, own_model: Path) -> None:
    noise = np.random.default_rng(3).normal(0.0, NOISE_RMS, len(said))
    found = heard(np.clip(said + noise, -32_768, 32_767).astype(np.int16), own_model)
    assert found.confidence < SETTLED
    assert not found.settled
