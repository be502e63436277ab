"""Voices on disk: names, recordings, what is damaged or missing."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile

from handsfree.errors import AudioFileError, ConfigError, ModelError
from handsfree.speech.acoustic_files import means_file, read_acoustic_model, read_means
from handsfree.speech.enrolled_voice import EnrolledVoice, Gain
from handsfree.speech.gate import packaged_gate
from handsfree.speech.pocketsphinx_decoders import model_folder
from handsfree.speech.voice_store import VoiceStore, read_recordings
from handsfree.testing.making_sound import tone

MORAG = EnrolledVoice("Morag", "2026-01-05T08:00:00+00:00", None, 1.2, 26, (Gain("quiet", 7, 10, 10),))


def test_a_voice_comes_back_as_it_was_saved(tmp_path: Path) -> None:
    store = VoiceStore(tmp_path)
    saved = store.save(MORAG, b"means")
    assert saved.adapted == tmp_path / "Morag"
    assert store.voice("Morag") == saved
    assert store.names() == ["Morag"]
    assert (tmp_path / "Morag" / "means").read_bytes() == b"means"


def test_a_voice_sets_how_much_rivals_count_in_the_gate() -> None:
    gate = MORAG.gate(packaged_gate())
    assert gate.intercept == packaged_gate().intercept
    assert gate.rival.behind == pytest.approx(packaged_gate().rival.behind * 1.2)


@pytest.mark.parametrize("name", ["", "../other", "a/b", "a\\b", ".hidden", "auto", "None", "x" * 41, "end."])
def test_names_that_could_lead_astray_are_refused(tmp_path: Path, name: str) -> None:
    with pytest.raises(ConfigError, match="cannot be the name of a voice"):
        VoiceStore(tmp_path).voice(name)


def test_an_unknown_voice_is_told_with_what_to_do(tmp_path: Path) -> None:
    with pytest.raises(ModelError, match=r"no voice 'Ann' \(known: none yet\)\. Read it in"):
        VoiceStore(tmp_path).voice("Ann")


def test_a_damaged_voice_says_how_to_work_it_out_again(tmp_path: Path) -> None:
    store = VoiceStore(tmp_path)
    store.save(MORAG, b"means")
    (tmp_path / "Morag" / "means").unlink()
    with pytest.raises(ModelError, match="--from"):
        store.voice("Morag")
    (tmp_path / "Morag" / "voice.toml").write_text("format = 9")
    with pytest.raises(ModelError, match="not the form of this version"):
        store.voice("Morag")


def test_removing_keeps_the_recordings_until_told_otherwise(tmp_path: Path) -> None:
    store = VoiceStore(tmp_path)
    store.begin("Morag")
    store.keep("Morag", 1, "left haunch", tone(0.5))
    store.save(MORAG, None)
    store.remove("Morag")
    assert store.names() == []
    assert len(read_recordings(store.recordings_of("Morag"))) == 1
    store.remove("Morag", recordings=True)
    assert not (tmp_path / "Morag").exists()
    with pytest.raises(ModelError, match="no voice"):
        store.remove("Morag")


def test_recordings_are_never_written_over(tmp_path: Path) -> None:
    store = VoiceStore(tmp_path)
    store.begin("Morag")
    store.keep("Morag", 1, "left haunch", tone(0.5))
    with pytest.raises(AudioFileError, match="recordings of 'Morag' already"):
        store.begin("Morag")


def test_a_folder_that_cannot_be_written_keeps_the_voice_in_use(tmp_path: Path) -> None:
    store = VoiceStore(tmp_path)
    store.save(MORAG, b"old")
    (tmp_path / "Morag" / "means.new").mkdir()  # stands in the way, as a full disk would
    with pytest.raises(ModelError, match="cannot be kept"):
        store.save(MORAG, b"new")
    assert (tmp_path / "Morag" / "means").read_bytes() == b"old"


def test_recordings_made_elsewhere_are_read_with_their_texts(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "a.wav", tone(1.0), 16_000)
    soundfile.write(tmp_path / "b.wav", tone(1.0), 8_000)  # another rate: 2 s of it
    (tmp_path / "phrases.csv").write_text("file,text\na.wav,Left  Haunch\nb.wav,two shanks\n")
    first, second = read_recordings(tmp_path)
    assert (first.text, len(first.samples)) == ("left haunch", 16_000)
    assert (second.text, len(second.samples)) == ("two shanks", 32_000)


@pytest.mark.parametrize(
    ("listing", "match"),
    [
        (None, "cannot be read"),
        ("", "no columns"),
        ("file,text\n", "names no recordings"),
        ("file,text\nnone.wav,left haunch\n", r"phrases\.csv:2: none\.wav cannot be read"),
        ("file,text\nbad.wav,left haunch\n", r"bad\.wav cannot be read"),
        ("file,text\n../a.wav,left haunch\n", "name of a file in this folder"),
        ("file,text\nbad.wav\n", "name of a file in this folder"),
    ],
)
def test_bad_folders_are_told_line_by_line(tmp_path: Path, listing: str | None, match: str) -> None:
    (tmp_path / "bad.wav").write_bytes(b"no sound")
    if listing is not None:
        (tmp_path / "phrases.csv").write_text(listing)
    with pytest.raises(AudioFileError, match=match):
        read_recordings(tmp_path)


def test_the_embedded_model_is_read_and_its_means_written_back_the_same(tmp_path: Path) -> None:
    folder = model_folder() / "en-us"
    model = read_acoustic_model(folder)
    # The model's own README and feat.params: phonetically tied, 128 Gaussians in each of three streams.
    assert model.means.shape == (42, 3, 128, 13)
    assert "SIL" in model.phones
    # Weights are probabilities; eight bits hold them to some percent.
    assert abs(float(np.exp(model.log_weights).sum(axis=1).mean()) - 1.0) < 0.1
    file = tmp_path / "means"
    file.write_bytes(means_file(folder, model.means))
    assert (read_means(file) == model.means).all()


def test_damaged_means_are_told(tmp_path: Path) -> None:
    (tmp_path / "means").write_bytes(b"s3\nendhdr\n\x00")
    with pytest.raises(ModelError, match="cannot be read"):
        read_means(tmp_path / "means")
    with pytest.raises(ModelError, match="cannot be read"):
        read_acoustic_model(tmp_path)
