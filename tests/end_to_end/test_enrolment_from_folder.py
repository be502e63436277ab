"""A voice read in from recordings: kept when it is better, refused when it is not, used by name."""

from __future__ import annotations

import csv
import json
import shutil
from pathlib import Path

import numpy as np
import pytest
import soundfile
from click.testing import CliRunner

from handsfree.cli.group import group
from handsfree.config import load_config
from handsfree.errors import AudioFileError, GrammarError
from handsfree.speech.enrolment_phrases import phrases_to_read
from handsfree.speech.messages import Samples
from handsfree.testing.rehearsal.voices import ESPEAK_SCOTLAND, speak
from handsfree.testing.shipped_words import shipped_vocabulary
from handsfree.wiring import hearing, words

pytestmark = pytest.mark.skipif(shutil.which("espeak-ng") is None, reason="espeak-ng is not installed")

PHRASES = phrases_to_read(shipped_vocabulary())[:22]


def read_aloud(text: str) -> Samples:
    said = speak(text, ESPEAK_SCOTLAND).astype(np.float64)
    said *= 2_600 / np.sqrt(np.mean(said**2))
    around = np.zeros(6_400)
    sound = np.concatenate([around, said, around])
    noise = np.random.default_rng(len(text)).normal(0, 8, len(sound))
    return np.clip(sound + noise, -32_768, 32_767).astype(np.int16)


def folder_of(path: Path, texts: list[str], spoken: list[str] | None = None) -> Path:
    path.mkdir()
    with (path / "phrases.csv").open("w", newline="") as out:
        rows = csv.writer(out)
        rows.writerow(("file", "text"))
        for number, (text, said) in enumerate(zip(texts, spoken or texts, strict=True)):
            soundfile.write(path / f"{number}.wav", read_aloud(said), 16_000)
            rows.writerow((f"{number}.wav", text))
    return path


@pytest.fixture
def settings(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    file = tmp_path / "handsfree.toml"
    file.write_text('[speech]\ndenoiser = "none"\n')
    return file


def run(*arguments: str) -> str:
    result = CliRunner().invoke(group, arguments, catch_exceptions=False)
    assert result.exit_code == 0, result.output
    return result.output


@pytest.mark.slow
def test_a_voice_is_added_shown_used_and_removed(tmp_path: Path, settings: Path) -> None:
    folder = folder_of(tmp_path / "read", PHRASES)
    added = json.loads(
        run("voice", "add", "Morag", "--from", str(folder), "--config", str(settings), "--json")
    )
    before = sum(gain["before"] for gain in added["gain"])
    after = sum(gain["after"] for gain in added["gain"])
    # This synthesiser is far from the model and says a word the same way each time: it must gain.
    assert added["own_model"] is True
    assert after >= before
    assert added["teaching"] + added["gain"][0]["of"] + len(added["refused"]) == len(PHRASES)
    assert json.loads(run("voice", "list", "--json"))[0]["name"] == "Morag"
    assert "the new model is kept" in run("voice", "show", "Morag")

    run("voice", "use", "Morag", "--config", str(settings))
    config = load_config(settings)
    assert config.speech.voice == "Morag"
    assert config.speech.denoiser == "none"  # everything else stays
    engine = hearing.recogniser(config, words.lexicon(config))
    engine.use(words.vocabulary(config).listening())
    engine.begin()
    engine.feed(read_aloud("left haunch for dice"))
    assert engine.finish().hypotheses[0].text == "left haunch for dice"

    run("voice", "use", "none", "--config", str(settings))
    run("voice", "remove", "Morag")
    assert json.loads(run("voice", "list", "--json")) == []


def test_recordings_of_other_words_are_refused(tmp_path: Path, settings: Path) -> None:
    texts = PHRASES[:16]
    folder = folder_of(tmp_path / "read", texts, [*texts[1:], texts[0]])
    with pytest.raises(AudioFileError, match=r"too few.*did not sound like this phrase"):
        run("voice", "add", "Morag", "--from", str(folder), "--config", str(settings))
    assert json.loads(run("voice", "list", "--json")) == []


def test_a_text_that_is_no_phrase_is_told_with_its_file(tmp_path: Path, settings: Path) -> None:
    folder = folder_of(tmp_path / "read", ["left haunch", "good morning everyone"], ["left haunch"] * 2)
    with pytest.raises(GrammarError, match=r"1\.wav: 'good morning everyone' is no phrase"):
        run("voice", "add", "Morag", "--from", str(folder), "--config", str(settings))


def test_silence_is_no_reading(tmp_path: Path, settings: Path) -> None:
    folder = folder_of(tmp_path / "read", ["left haunch"])
    soundfile.write(folder / "0.wav", np.zeros(32_000, np.int16), 16_000)
    with pytest.raises(AudioFileError, match="nothing was said"):
        run("voice", "add", "Morag", "--from", str(folder), "--config", str(settings))


def test_a_missing_folder_is_told(tmp_path: Path, settings: Path) -> None:
    with pytest.raises(AudioFileError, match="cannot be read"):
        run("voice", "add", "Morag", "--from", str(tmp_path / "nowhere"), "--config", str(settings))
