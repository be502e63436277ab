import numpy as np
import pytest

from handsfree.speech.messages import Samples, VoiceFigures
from handsfree.speech.speech_meter import SpeechMeter
from handsfree.testing.making_sound import silence, tone


def figures(samples: Samples, size: int = 512) -> VoiceFigures | None:
    meter = SpeechMeter()
    for at in range(0, len(samples), size):
        meter.feed(samples[at : at + size])
    return meter.figures()


def test_brightness_is_the_ratio_of_high_to_low_power() -> None:
    # Two sines, 4 kHz a tenth of the amplitude of 500 Hz: 20 lg 0.1 = -20 dB.
    found = figures(tone(2.0, hz=500.0, amplitude=8_000.0) + tone(2.0, hz=4_000.0, amplitude=800.0))
    assert found is not None
    assert found.brightness_db == pytest.approx(-20.0, abs=0.1)
    # RMS of 8000 and 800 together over 32768: 10 lg((8000^2 + 800^2) / 2 / 32768^2) = -15.21 dB.
    assert found.level_db == pytest.approx(-15.21, abs=0.1)


def test_pauses_do_not_count_into_brightness() -> None:
    voiced = tone(1.0, hz=500.0, amplitude=8_000.0)
    hiss = (np.random.default_rng(1).standard_normal(16_000) * 20).astype(np.int16)
    alone, with_hiss = figures(voiced), figures(np.concatenate([hiss, voiced, hiss]))
    assert alone is not None
    assert with_hiss is not None
    assert alone.brightness_db < -50.0
    assert with_hiss.brightness_db < -35.0


def test_how_speech_is_cut_changes_nothing() -> None:
    sound = tone(0.7, hz=700.0, amplitude=3_000.0)
    one, other = figures(sound, 100), figures(sound, 5_000)
    assert one is not None
    assert other is not None
    assert one.brightness_db == pytest.approx(other.brightness_db)
    assert one.level_db == pytest.approx(other.level_db)


@pytest.mark.parametrize("samples", [silence(0.0), silence(1.0)])
def test_silence_has_no_figures(samples: Samples) -> None:
    assert figures(samples) is None
