import collections
import os
from pathlib import Path

import numpy as np
import pytest
import soundfile

from handsfree.errors import AudioFileError
from handsfree.speech.audio_file import AudioFile
from handsfree.speech.messages import RATE_HZ, AudioBlock
from handsfree.testing.making_sound import joined, silence, tone


def write(path: Path, sound: np.ndarray, rate_hz: int, subtype: str = "PCM_16") -> Path:
    soundfile.write(path, sound, rate_hz, subtype=subtype)
    return path


def test_a_16_khz_mono_wav_passes_bit_for_bit_in_20_ms_blocks(tmp_path: Path) -> None:
    sound = np.random.default_rng(3).integers(-32_768, 32_768, 16_100).astype(np.int16)
    blocks = list(AudioFile(write(tmp_path / "a.wav", sound, RATE_HZ), strict=True).blocks())
    assert np.array_equal(joined(blocks), sound)
    assert {len(block.samples) for block in blocks[:-1]} == {320}
    assert [block.t_ns for block in blocks[:3]] == [0, 20_000_000, 40_000_000]


@pytest.mark.parametrize("rate_hz", [8_000, 11_025, 22_050, 44_100, 48_000, 96_000])
@pytest.mark.parametrize("channels", [1, 2, 6])
@pytest.mark.parametrize("suffix", ["wav", "flac"])
def test_any_rate_and_channel_count_keeps_pitch_level_and_length(
    tmp_path: Path, rate_hz: int, channels: int, suffix: str
) -> None:
    at = np.arange(rate_hz) / rate_hz
    sound = np.tile((0.5 * np.sin(2 * np.pi * 1_000 * at))[:, None], (1, channels))
    out = joined(AudioFile(write(tmp_path / f"a.{suffix}", sound, rate_hz)).blocks()) / 32_768.0
    assert abs(len(out) - RATE_HZ) <= 1
    # Against the same sine sampled at 16 kHz, away from the ends: no shift in time, no change in level.
    ideal = 0.5 * np.sin(2 * np.pi * 1_000 * np.arange(len(out)) / RATE_HZ)
    assert np.abs(out - ideal)[800:-800].max() < 0.002


def test_channels_are_averaged(tmp_path: Path) -> None:
    left, right = tone(0.1, amplitude=8_000), tone(0.1, amplitude=4_000)
    path = write(tmp_path / "a.wav", np.stack([left, right], axis=1), RATE_HZ)
    assert np.abs(joined(AudioFile(path).blocks()) - tone(0.1, amplitude=6_000)).max() <= 1


def test_float_files_beyond_full_scale_are_limited_and_not_numbers_are_silence(tmp_path: Path) -> None:
    sound = np.array([0.0, 2.0, -2.0, np.nan, np.inf], dtype=np.float32)
    path = write(tmp_path / "a.wav", sound, RATE_HZ, "FLOAT")
    assert joined(AudioFile(path).blocks()).tolist() == [0, 32_767, -32_768, 0, 32_767]


def test_a_missing_file_says_which(tmp_path: Path) -> None:
    with pytest.raises(AudioFileError, match=r"^There is no file .*nothere\.wav\. Check the name\.$"):
        AudioFile(tmp_path / "nothere.wav")


def test_an_empty_file_says_so(tmp_path: Path) -> None:
    (tmp_path / "a.wav").touch()
    with pytest.raises(AudioFileError, match=r"a\.wav is empty \(0 bytes\)"):
        AudioFile(tmp_path / "a.wav")


@pytest.mark.parametrize("name", ["a.wav", "a.raw", "a.flac", "a.txt"])
def test_what_is_no_sound_says_so(tmp_path: Path, name: str) -> None:
    (tmp_path / name).write_text("seconds,scale,line\n0.0,bench,ST\n")
    with pytest.raises(AudioFileError, match="is not a sound file that can be read"):
        AudioFile(tmp_path / name)


def test_a_folder_is_no_sound_file(tmp_path: Path) -> None:
    with pytest.raises(AudioFileError, match="is a folder, not a sound file"):
        AudioFile(tmp_path)


def test_a_file_without_a_sample_says_so(tmp_path: Path) -> None:
    with pytest.raises(AudioFileError, match=r"holds no sound \(0 samples\)"):
        AudioFile(write(tmp_path / "a.wav", silence(0), RATE_HZ))


def test_a_rate_too_low_for_speech_is_refused(tmp_path: Path) -> None:
    with pytest.raises(AudioFileError, match="100 samples per second, too few"):
        AudioFile(write(tmp_path / "a.wav", silence(0.1), 100))


def test_a_truncated_wav_is_read_to_its_last_sample_and_says_what_is_missing(tmp_path: Path) -> None:
    path = write(tmp_path / "a.wav", tone(2.0), RATE_HZ)
    os.truncate(path, 44 + 2 * RATE_HZ)
    file = AudioFile(path)
    assert np.array_equal(joined(file.blocks()), tone(2.0)[:RATE_HZ])
    assert "its header promises 2.00 s, it holds 1.00 s. The first 1.00 s were read" in str(file.cut_short)


def test_a_strict_reader_raises_after_all_that_could_be_read(tmp_path: Path) -> None:
    path = write(tmp_path / "a.wav", tone(2.0), RATE_HZ)
    os.truncate(path, 44 + 2 * RATE_HZ + 1)
    heard: list[AudioBlock] = []
    blocks = AudioFile(path, strict=True).blocks()
    with pytest.raises(AudioFileError, match="cut short"):
        collections.deque(map(heard.append, blocks), maxlen=0)
    assert len(joined(heard)) == RATE_HZ


def test_a_truncated_flac_gives_what_it_holds_and_says_it_was_cut_short(tmp_path: Path) -> None:
    noise = np.random.default_rng(1).integers(-9_000, 9_000, 3 * RATE_HZ).astype(np.int16)
    path = write(tmp_path / "a.flac", noise, RATE_HZ)
    os.truncate(path, path.stat().st_size // 2)
    file = AudioFile(path)
    heard = joined(file.blocks())
    assert RATE_HZ < len(heard) < 2 * RATE_HZ
    assert np.array_equal(heard, noise[: len(heard)])
    assert file.cut_short is not None


def test_a_whole_file_was_not_cut_short(tmp_path: Path) -> None:
    file = AudioFile(write(tmp_path / "a.wav", tone(0.5), 44_100))
    assert len(list(file.blocks())) > 0
    assert file.cut_short is None


def test_closing_ends_the_blocks(tmp_path: Path) -> None:
    file = AudioFile(write(tmp_path / "a.wav", tone(5.0), RATE_HZ))
    blocks = file.blocks()
    next(blocks)
    file.close()
    file.close()
    assert len(list(blocks)) < 20
