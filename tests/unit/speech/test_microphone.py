"""The microphone's edge against a scripted sound system, and really without PortAudio or a device."""

import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from handsfree.clock import from_seconds
from handsfree.errors import MicrophoneError
from handsfree.speech.messages import AudioBlock, SoundFlags
from handsfree.speech.microphone import Microphone, list_microphones
from handsfree.testing.making_sound import joined, silence, tone
from handsfree.testing.manual_clock import ManualClock
from handsfree.testing.scripted_sound_system import ScriptedDevice, ScriptedSoundSystem


def deliver(system: ScriptedSoundSystem, clock: ManualClock, samples: np.ndarray, **how: bool) -> None:
    """Deliver in 20 ms pieces at the stream's own rate, the clock moving along."""
    stream = system.streams[-1]
    size = stream.settings["blocksize"]
    for at in range(0, len(samples), size):
        clock.advance_ns(20_000_000)
        frames = samples[at : at + size].reshape(-1, 1)
        stream.deliver(np.repeat(frames, stream.settings["channels"], axis=1), **how)


def ended(microphone: Microphone, blocks: list[AudioBlock], until_ns: int) -> list[AudioBlock]:
    """Read on until the sound reaches `until_ns`."""
    for block in microphone.blocks():
        blocks.append(block)
        if block.end_ns >= until_ns:
            break
    return blocks


def test_what_is_delivered_is_handed_on_in_stamped_blocks() -> None:
    system, clock = ScriptedSoundSystem([ScriptedDevice("bench headset")]), ManualClock()
    microphone = Microphone(clock, sound_system=system)
    deliver(system, clock, tone(0.2))
    blocks = ended(microphone, [], 200_000_000)
    microphone.close()
    assert microphone.name == "bench headset"
    assert np.array_equal(joined(blocks), tone(0.2))
    assert [block.t_ns for block in blocks] == list(range(0, 200_000_000, 20_000_000))
    assert system.streams[0].closed


def test_a_device_that_refuses_16_khz_is_opened_at_its_own_rate() -> None:
    device = ScriptedDevice("a", rates_hz=(48_000.0, 44_100.0), channels=2)
    system, clock = ScriptedSoundSystem([device]), ManualClock()
    microphone = Microphone(clock, sound_system=system)
    assert system.streams[-1].settings["samplerate"] == 48_000
    at = np.arange(48_000) / 48_000
    deliver(system, clock, np.rint(8_000 * np.sin(2 * np.pi * 440 * at)).astype(np.int16))
    heard = joined(ended(microphone, [], 900_000_000))[:14_400].astype(np.float64)
    # The first callback brings nothing yet (the resampler fills), so time begins with a silence.
    quiet = int(np.argmax(np.abs(heard) > 100))
    assert quiet < 16_000 // 10
    spectrum = np.abs(np.fft.rfft(heard[2_000:10_000]))
    assert int(np.argmax(spectrum)) * 2 == 440


def test_overflow_travels_with_its_sound() -> None:
    system, clock = ScriptedSoundSystem([ScriptedDevice("a")]), ManualClock()
    microphone = Microphone(clock, sound_system=system)
    deliver(system, clock, tone(0.1))
    deliver(system, clock, tone(0.02), overflow=True)
    deliver(system, clock, tone(0.1))
    blocks = ended(microphone, [], 220_000_000)
    assert [n for n, block in enumerate(blocks) if block.flags] == [5]
    assert blocks[5].flags == SoundFlags.OVERFLOW


@pytest.mark.parametrize(
    ("device", "name"), [(None, "built in"), (1, "Bench Headset"), ("headset", "Bench Headset")]
)
def test_a_device_is_chosen_by_default_index_or_part_of_its_name(device: int | str | None, name: str) -> None:
    system = ScriptedSoundSystem([ScriptedDevice("built in"), ScriptedDevice("Bench Headset")])
    assert Microphone(ManualClock(), device, sound_system=system).name == name


def test_an_unknown_device_names_those_there_are() -> None:
    system = ScriptedSoundSystem([ScriptedDevice("built in"), ScriptedDevice("speaker", channels=0)])
    with pytest.raises(
        MicrophoneError, match=r"^There is no microphone 'headset'\. There are: 0 built in\.$"
    ):
        Microphone(ManualClock(), "headset", sound_system=system)


def test_no_microphone_at_all_is_an_error() -> None:
    with pytest.raises(MicrophoneError, match=r"^There is no microphone\. Plug one in and start again\.$"):
        Microphone(ManualClock(), sound_system=ScriptedSoundSystem([]))


def test_a_device_that_refuses_every_rate_says_what_was_tried() -> None:
    system = ScriptedSoundSystem([ScriptedDevice("odd", rates_hz=(22_050.0,))])
    system.devices[0].rates_hz = ()
    system.query_devices = lambda: [  # type: ignore[method-assign]
        {"name": "odd", "max_input_channels": 1, "default_samplerate": 22_050.0}
    ]
    with pytest.raises(
        MicrophoneError, match=r"microphone odd cannot be opened \(16000 Hz: Invalid sample rate .* 22050 Hz"
    ):
        Microphone(ManualClock(), sound_system=system)


def test_unplugged_and_back_is_flagged_silence_and_then_sound_again() -> None:
    system, clock = ScriptedSoundSystem([ScriptedDevice("a")]), ManualClock()
    microphone = Microphone(clock, sound_system=system)
    deliver(system, clock, tone(0.2))
    source = microphone.blocks()
    blocks: list[AudioBlock] = []

    def read_until(end_s: float) -> None:
        while not blocks or blocks[-1].end_ns < from_seconds(end_s):
            blocks.append(next(source))

    def move_to(t_s: float) -> None:
        clock.advance_ns(from_seconds(t_s) - clock.now_ns())

    read_until(0.2)
    plug, system.devices[:] = system.devices[:], []
    move_to(3.0)
    read_until(2.7)
    move_to(4.0)
    read_until(3.7)  # on the way to here it was tried to open it again, in vain
    assert system.fresh_starts == 1
    system.devices[:] = plug
    move_to(6.0)
    read_until(5.7)
    move_to(7.0)
    read_until(6.7)
    assert len(system.streams) == 2
    deliver(system, clock, tone(0.2))
    read_until(7.2)
    heard = joined(blocks)
    assert np.array_equal(heard, np.concatenate([tone(0.2), silence(6.8), tone(0.2)]))
    assert [bool(block.flags) for block in blocks] == [False] * 10 + [True] * 340 + [False] * 10


def test_a_microphone_that_does_not_come_back_is_an_error_in_the_end() -> None:
    system, clock = ScriptedSoundSystem([ScriptedDevice("a")]), ManualClock()
    microphone = Microphone(clock, sound_system=system, give_up_ns=from_seconds(10.0))
    deliver(system, clock, tone(0.2))
    system.devices.clear()
    heard: list[AudioBlock] = []

    def read_to_the_end() -> None:
        for block in microphone.blocks():
            heard.append(block)
            clock.advance_ns(max(0, block.end_ns + from_seconds(3.0) - clock.now_ns()))

    with pytest.raises(
        MicrophoneError, match=r"a has been gone for 1[0-9] s\. Everything heard before is kept"
    ):
        read_to_the_end()
    assert heard[-1].end_ns > from_seconds(10.0)


def test_closing_ends_the_blocks() -> None:
    system, clock = ScriptedSoundSystem([ScriptedDevice("a")]), ManualClock()
    microphone = Microphone(clock, sound_system=system)
    deliver(system, clock, tone(0.1)[:1_000])
    blocks = microphone.blocks()
    next(blocks)
    microphone.close()
    microphone.close()
    list(blocks)


def test_devices_are_listed_with_what_one_needs_to_choose() -> None:
    system = ScriptedSoundSystem([ScriptedDevice("a", (44_100.0,), 2), ScriptedDevice("speaker", channels=0)])
    assert list_microphones(system) == [
        {"index": 0, "name": "a", "channels": 2, "rate_hz": 44_100.0, "default": True}
    ]


def in_a_process(program: str, env: dict[str, str] | None = None) -> str:
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", program], capture_output=True, text=True, env=env, check=False
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


def test_without_portaudio_everything_else_loads_and_the_microphone_says_what_to_install() -> None:
    # The real module's own import fails when the system's loader finds no library of that name.
    said = in_a_process(
        "import ctypes.util\n"
        "ctypes.util.find_library = lambda name: None\n"
        "from handsfree.clock import SystemClock\n"
        "from handsfree.errors import MicrophoneError\n"
        "import handsfree.speech.microphone as edge, handsfree.speech.hearing, handsfree.speech.audio_file\n"
        "try:\n    edge.Microphone(SystemClock())\n"
        "except MicrophoneError as error:\n    print(error)\n"
    )
    assert said.startswith("The sound library PortAudio is missing (PortAudio library not found)")
    assert "apt install libportaudio2" in said


def test_on_a_machine_without_a_sound_card_there_is_no_microphone(tmp_path: Path) -> None:
    pytest.importorskip("sounddevice", reason="PortAudio is not installed", exc_type=OSError)
    nothing = tmp_path / "asound.conf"
    nothing.write_text("pcm.!default { type null }\n")
    if list(Path("/proc/asound").glob("card*")):
        pytest.skip("this machine has a sound card")
    said = in_a_process(
        "from handsfree.clock import SystemClock\n"
        "from handsfree.errors import MicrophoneError\n"
        "from handsfree.speech.microphone import Microphone\n"
        "try:\n    Microphone(SystemClock(), 'headset')\n"
        "except MicrophoneError as error:\n    print(error)\n",
        env={"ALSA_CONFIG_PATH": str(nothing), "PATH": "/usr/bin:/bin"},
    )
    assert said.startswith("There is no microphone")
