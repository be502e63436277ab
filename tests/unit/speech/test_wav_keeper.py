import subprocess
import sys
import wave
from pathlib import Path

import numpy as np
import pytest

from handsfree.errors import AudioFileError
from handsfree.speech.audio_file import AudioFile
from handsfree.speech.messages import RATE_HZ
from handsfree.speech.wav_keeper import WavKeeper
from handsfree.testing.making_sound import in_blocks, joined, silence, tone


def test_kept_sound_is_read_back_bit_for_bit(tmp_path: Path) -> None:
    keeper = WavKeeper(tmp_path / "k.wav")
    for block in in_blocks(tone(1.5), sizes=(320, 77)):
        keeper.keep(block)
    keeper.close()
    keeper.close()
    assert np.array_equal(joined(AudioFile(tmp_path / "k.wav", strict=True).blocks()), tone(1.5))


def test_time_without_blocks_is_kept_as_silence(tmp_path: Path) -> None:
    keeper = WavKeeper(tmp_path / "k.wav")
    for block in in_blocks(tone(0.5), start_ns=2_500_000_000):
        keeper.keep(block)
    keeper.close()
    kept = joined(AudioFile(tmp_path / "k.wav").blocks())
    assert np.array_equal(kept, np.concatenate([silence(2.5), tone(0.5)]))


def test_sound_that_comes_twice_is_kept_once(tmp_path: Path) -> None:
    keeper = WavKeeper(tmp_path / "k.wav")
    for block in in_blocks(tone(0.1)):
        keeper.keep(block)
        keeper.keep(block)
    keeper.close()
    assert np.array_equal(joined(AudioFile(tmp_path / "k.wav").blocks()), tone(0.1))


def test_a_file_that_exists_is_not_touched(tmp_path: Path) -> None:
    (tmp_path / "k.wav").write_bytes(b"precious")
    with pytest.raises(AudioFileError, match="exists already"):
        WavKeeper(tmp_path / "k.wav")
    assert (tmp_path / "k.wav").read_bytes() == b"precious"


def test_the_kept_file_is_whole_to_the_second_when_the_process_is_killed(tmp_path: Path) -> None:
    path = tmp_path / "k.wav"
    program = (
        "import os, sys\nfrom pathlib import Path\n"
        "from handsfree.speech.wav_keeper import WavKeeper\n"
        "from handsfree.testing.making_sound import in_blocks, tone\n"
        "keeper = WavKeeper(Path(sys.argv[1]))\n"
        "[keeper.keep(block) for block in in_blocks(tone(3.5))]\n"
        "os.kill(os.getpid(), 9)\n"
    )
    assert subprocess.run([sys.executable, "-c", program, path], check=False).returncode == -9
    file = AudioFile(path, strict=True)
    kept = joined(file.blocks())
    assert len(kept) >= 3 * RATE_HZ
    assert np.array_equal(kept, tone(3.5)[: len(kept)])


def test_a_disk_that_fills_is_told_once_and_what_was_kept_can_be_read(tmp_path: Path) -> None:
    path = tmp_path / "k.wav"
    # The system refuses to let this process write a file beyond 100 kB, as a full disk would.
    program = (
        "import resource, sys\nfrom pathlib import Path\n"
        "from handsfree.errors import AudioFileError\n"
        "from handsfree.speech.wav_keeper import WavKeeper\n"
        "from handsfree.testing.making_sound import in_blocks, tone\n"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (100_000, 100_000))\n"
        "keeper, told = WavKeeper(Path(sys.argv[1])), []\n"
        "for block in in_blocks(tone(9.0)):\n"
        "    try:\n        keeper.keep(block)\n"
        "    except AudioFileError as error:\n        told.append(str(error))\n"
        "keeper.close()\nkeeper.close()\n"
        "print(told)\n"
    )
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", program, path], capture_output=True, text=True, check=True
    )
    assert done.stderr == ""
    assert done.stdout.count("cannot be written") == 1
    assert "The first 3.0 s of sound are kept. Free some disk space" in done.stdout
    kept = joined(AudioFile(path).blocks())
    assert np.array_equal(kept, tone(9.0)[: len(kept)])
    assert len(kept) >= 3 * RATE_HZ


def test_the_file_is_plain_to_another_reader(tmp_path: Path) -> None:
    keeper = WavKeeper(tmp_path / "k.wav")
    for block in in_blocks(tone(0.25)):
        keeper.keep(block)
    keeper.close()
    # The standard library's reader knows nothing of ours.
    with wave.open(str(tmp_path / "k.wav")) as file:
        assert file.getparams()[:4] == (1, 2, RATE_HZ, RATE_HZ // 4)
        assert file.readframes(RATE_HZ) == tone(0.25).tobytes()


def test_a_folder_that_does_not_exist_is_an_error(tmp_path: Path) -> None:
    with pytest.raises(AudioFileError, match="cannot be written: No such file or directory"):
        WavKeeper(tmp_path / "nowhere" / "k.wav")
