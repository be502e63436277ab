"""Every voice and every loudspeaker against the same suite; real ones skip with a visible reason."""

import subprocess
import sys
import wave

import numpy as np
import pytest

from handsfree.answering.espeak_voice import EspeakVoice
from handsfree.answering.loudspeaker import Loudspeaker
from handsfree.answering.messages import Tone
from handsfree.answering.system_voice import SystemVoice
from handsfree.answering.tones import tone_samples
from handsfree.answering.voices import FirstVoice
from handsfree.testing.answering_contract import check_output, check_voice
from handsfree.testing.scripted_voice import ScriptedVoice
from handsfree.testing.silent_output import SilentOutput
from handsfree.testing.virtual_sound_card import VirtualSoundCard, why_not


@pytest.fixture(params=[EspeakVoice, SystemVoice])
def system_voice(request) -> EspeakVoice | SystemVoice:
    voice = request.param()
    if voice.render("neck") is None:
        pytest.skip(f"no voice on this system: {voice.missing}")
    return voice


def test_the_scripted_voice_is_a_voice() -> None:
    check_voice(ScriptedVoice())


def test_the_voice_of_the_system_is_a_voice(system_voice: EspeakVoice | SystemVoice) -> None:
    check_voice(system_voice)


def test_the_voice_of_the_system_prints_nothing(
    system_voice: EspeakVoice | SystemVoice, capfd: pytest.CaptureFixture[str]
) -> None:
    assert system_voice.render("left haunch") is not None
    assert capfd.readouterr() == ("", "")


def test_espeak_speaks_faster_when_asked() -> None:
    text = "left haunch four point one three five"
    slow, fast = (EspeakVoice(words_per_minute=pace).render(text) for pace in (120, 240))
    if slow is None or fast is None:
        pytest.skip("no espeak-ng on this system")
    assert len(slow.samples) / slow.rate_hz > 1.3 * len(fast.samples) / fast.rate_hz


def test_a_system_without_the_program_has_no_such_voice_and_says_why() -> None:
    voice = EspeakVoice(program="no-such-program")
    assert voice.render("neck") is None
    assert "no-such-program is not installed" in voice.missing


def test_words_that_look_like_an_option_are_only_words() -> None:
    voice = EspeakVoice()
    if voice.render("neck") is None:
        pytest.skip(f"no voice on this system: {voice.missing}")
    assert voice.render("--version") is not None


def test_the_first_voice_that_speaks_is_kept() -> None:
    mute, second, third = ScriptedVoice(mute=True), ScriptedVoice(), ScriptedVoice(16_000)
    voice = FirstVoice([mute, second, third])
    check_voice(voice)
    assert mute.said == ["neck"]
    assert third.said == []


def test_of_voices_that_do_not_speak_none_is_found() -> None:
    voice = FirstVoice([ScriptedVoice(mute=True)])
    assert voice.render("neck") is None
    assert voice.render("neck") is None
    assert voice.name == "no voice"


@pytest.mark.parametrize("kind", [EspeakVoice, SystemVoice])
def test_a_voice_the_system_does_not_have_is_no_voice_and_says_why(kind) -> None:
    voice = kind("no/such-voice")
    assert voice.render("neck") is None
    assert voice.missing


def test_a_system_without_the_speech_library_has_no_voice(monkeypatch: pytest.MonkeyPatch) -> None:
    from handsfree.answering import system_voice as edge

    monkeypatch.setattr(edge, "_ENGINE", [])
    monkeypatch.setitem(sys.modules, "pyttsx3", None)
    voice = SystemVoice()
    assert voice.render("neck") is None
    assert "pyttsx3" in voice.missing


def test_the_silent_output_is_a_loudspeaker() -> None:
    check_output(SilentOutput())


_PLAYS = """
from handsfree.answering.loudspeaker import Loudspeaker
from handsfree.testing.answering_contract import check_output
told = []
check_output(Loudspeaker(tell=told.append))
# A second of silence pushes the last tone through the recorder's buffer.
import numpy as np
Loudspeaker(tell=told.append).play(np.zeros(16_000, dtype=np.int16), 16_000)
assert not told, told
"""


def test_the_loudspeaker_is_a_loudspeaker_and_is_heard(tmp_path) -> None:
    """Through PortAudio into a virtual sound card; what is recorded there is the tone of 1320 Hz."""
    if reason := why_not():
        pytest.skip(f"no virtual sound card here: {reason}")
    heard = tmp_path / "heard.raw"
    with VirtualSoundCard() as card, heard.open("wb") as file:
        listen = [
            "parec",
            "-d",
            "larder.monitor",
            "--rate=16000",
            "--channels=1",
            "--format=s16le",
            "--latency-msec=20",
        ]
        recorder = subprocess.Popen(listen, env=card.environment(), stdout=file)
        done = subprocess.run(
            [sys.executable, "-c", _PLAYS],
            env=card.environment(),
            capture_output=True,
            text=True,
            check=False,
        )
        recorder.terminate()
        recorder.wait()
    assert done.returncode == 0, done.stderr
    samples = np.fromfile(heard, dtype="<i2").astype(float)
    loud = samples[np.abs(samples) > 0]
    # Three accepted tones of 0.09 s and a noted one of 0.16 s: none is cut off at its end.
    assert len(loud) == pytest.approx(0.43 * 16_000, rel=0.05)
    spectrum = np.abs(np.fft.rfft(samples))
    hz = np.fft.rfftfreq(len(samples), 1 / 16_000)
    band = (hz > 1000) & (hz < 1900)  # the accepted tone, apart from the noted one at 660 Hz
    assert abs(hz[band][np.argmax(spectrum[band])] - 1320) < 30


def test_a_lost_loudspeaker_is_told_once_and_the_work_goes_on() -> None:
    told: list[str] = []
    output = Loudspeaker("no such loudspeaker", tell=told.append)
    assert not output.play(tone_samples(Tone.ACCEPTED), 16_000)
    assert not output.play(tone_samples(Tone.ACCEPTED), 16_000)
    assert len(told) == 1
    assert "no such loudspeaker" in told[0]
    output.close()


def test_without_the_sound_library_the_loudspeaker_is_quiet_and_says_so_once(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setitem(sys.modules, "sounddevice", None)
    told: list[str] = []
    output = Loudspeaker(tell=told.append)
    assert not output.play(tone_samples(Tone.ACCEPTED), 16_000)
    assert not output.play(tone_samples(Tone.ACCEPTED), 16_000)
    assert len(told) == 1
    assert "goes on without spoken answers" in told[0]
    output.close()


def test_spoken_words_survive_a_wav_file(system_voice: EspeakVoice | SystemVoice, tmp_path) -> None:
    """The samples are what they say they are: a file made of them has the length of the words."""
    spoken = system_voice.render("four point one three five")
    assert spoken is not None
    path = tmp_path / "spoken.wav"
    with wave.open(str(path), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(spoken.rate_hz)
        file.writeframes(spoken.samples.astype("<i2").tobytes())
    with wave.open(str(path), "rb") as file:
        length_s = file.getnframes() / file.getframerate()
    # Six words at 165 a minute are 2.2 s; short words are said faster.
    assert 0.8 < length_s < 3.5
    # A voice has its energy in the band of speech, not in hiss or hum.
    spectrum = np.abs(np.fft.rfft(spoken.samples.astype(float))) ** 2
    hz = np.fft.rfftfreq(len(spoken.samples), 1 / spoken.rate_hz)
    assert spectrum[(hz > 80) & (hz < 5000)].sum() > 0.9 * spectrum.sum()
