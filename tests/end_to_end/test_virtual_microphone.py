"""The real microphone path: PortAudio on a virtual sound card, in a process of its own."""

import json
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest

from handsfree.speech.audio_file import AudioFile
from handsfree.speech.wav_keeper import WavKeeper
from handsfree.testing.making_sound import in_blocks, joined
from handsfree.testing.virtual_sound_card import VirtualSoundCard, why_not

pytestmark = pytest.mark.skipif(bool(why_not()), reason=why_not() or "there is a virtual sound card")

LISTENER = """
import json, sys
from pathlib import Path
from handsfree.clock import SystemClock, from_seconds
from handsfree.errors import MicrophoneError
from handsfree.speech.messages import SoundFlags
from handsfree.speech.microphone import Microphone, list_microphones
from handsfree.speech.wav_keeper import WavKeeper

wav, until_s, give_up_s = Path(sys.argv[1]), float(sys.argv[2]), float(sys.argv[3])
clock = SystemClock()
microphone = Microphone(clock, lost_after_ns=from_seconds(0.5), give_up_ns=from_seconds(give_up_s))
keeper = WavKeeper(wav)
gone, expected, broken, late, told = [], 0, 0, 0.0, ""
try:
    for block in microphone.blocks():
        broken += block.t_ns != expected
        expected = block.end_ns
        keeper.keep(block)
        if bool(block.flags) != bool(len(gone) % 2):
            gone.append(block.t_ns / 1e9)
            print("gone" if block.flags else "back", flush=True)
        if block.t_ns >= 1_500_000_000 and not told:
            told = "ready"
            print(told, flush=True)
        if gone and len(gone) % 2 == 0 and not until_s:
            until_s = block.t_ns / 1e9 + 1.0
        if until_s and block.t_ns > until_s * 1e9:
            late = (clock.now_ns() - block.end_ns) / 1e9
            microphone.close()
except MicrophoneError as error:
    told = str(error)
keeper.close()
print(json.dumps({"gone": gone, "broken": broken, "late_s": late, "told": told, "name": microphone.name}))
"""


@pytest.fixture
def card() -> Iterator[VirtualSoundCard]:
    with VirtualSoundCard() as made:
        yield made


@pytest.fixture
def listen(card: VirtualSoundCard, tmp_path: Path) -> Iterator[Callable[..., subprocess.Popen[str]]]:
    started: list[subprocess.Popen[str]] = []

    def start(until_s: float = 0.0, give_up_s: float = 30.0) -> subprocess.Popen[str]:
        process = subprocess.Popen(
            [
                sys.executable,
                "-W",
                "error",
                "-c",
                LISTENER,
                tmp_path / "heard.wav",
                str(until_s),
                str(give_up_s),
            ],
            env=card.environment(),
            stdout=subprocess.PIPE,
            text=True,
        )
        started.append(process)
        return process

    yield start
    for process in started:
        process.kill()
        process.communicate()


def wait_for(process: subprocess.Popen[str], word: str) -> None:
    assert process.stdout is not None
    for line in process.stdout:
        if line.strip() == word:
            return
    raise AssertionError(f"the listener ended without saying {word!r}")


def result_of(process: subprocess.Popen[str]) -> dict[str, object]:
    out, _ = process.communicate(timeout=60)
    assert process.returncode == 0
    return dict(json.loads(out.splitlines()[-1]))


def test_what_is_played_is_heard_bit_for_bit_at_an_unbroken_time(
    card: VirtualSoundCard, listen: Callable[..., subprocess.Popen[str]], tmp_path: Path
) -> None:
    played = np.random.default_rng(7).normal(0, 2_000, 24_000).astype(np.int16)
    keeper = WavKeeper(tmp_path / "played.wav")
    for block in in_blocks(played):
        keeper.keep(block)
    keeper.close()
    process = listen(until_s=4.5)
    wait_for(process, "ready")
    assert card.play(tmp_path / "played.wav").wait(20) == 0
    result = result_of(process)
    assert result["broken"] == 0
    assert result["gone"] == []
    assert float(str(result["late_s"])) < 0.5
    heard = joined(AudioFile(tmp_path / "heard.wav", strict=True).blocks())
    # The card fades a new stream in; from a tenth of a second on every sample is the same.
    rest = played[1_600:].astype(np.float64)
    size = 1 << 18
    match = np.fft.irfft(np.fft.rfft(heard, size) * np.conj(np.fft.rfft(rest, size)))
    at = int(np.argmax(match))
    assert np.array_equal(heard[at : at + len(rest)], played[1_600:])


def test_a_microphone_unplugged_and_plugged_in_again_leaves_flagged_silence(
    card: VirtualSoundCard, listen: Callable[..., subprocess.Popen[str]], tmp_path: Path
) -> None:
    process = listen()
    wait_for(process, "ready")
    card.stop()
    wait_for(process, "gone")
    card.start()
    result = result_of(process)
    assert result["broken"] == 0
    gone = result["gone"]
    assert isinstance(gone, list)
    assert len(gone) == 2
    kept = AudioFile(tmp_path / "heard.wav", strict=True)
    assert kept.duration_s > gone[1] > gone[0] > 1.0


def test_a_microphone_that_stays_away_is_an_error_that_says_what_was_kept(
    card: VirtualSoundCard, listen: Callable[..., subprocess.Popen[str]], tmp_path: Path
) -> None:
    process = listen(give_up_s=1.0)
    wait_for(process, "ready")
    card.stop()
    result = result_of(process)
    assert "has been gone for" in str(result["told"])
    assert "Everything heard before is kept. Plug it in again" in str(result["told"])
    assert AudioFile(tmp_path / "heard.wav", strict=True).duration_s > 1.0
