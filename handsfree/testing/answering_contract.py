"""What every voice and every loudspeaker has to keep to."""

from __future__ import annotations

import numpy as np

from handsfree.answering.messages import Tone
from handsfree.answering.ports import SoundOutput, Spoken, Voice
from handsfree.answering.tones import tone_samples


def check_voice(voice: Voice) -> None:
    """A voice that is there speaks: right type, mono, not empty, not silent, longer for more words.

    Raises:
        AssertionError: It does not.
    """
    assert voice.name
    short, long = voice.render("neck"), voice.render("left haunch four point one three five kilos")
    for spoken in (short, long):
        assert isinstance(spoken, Spoken)
        assert spoken.samples.dtype == np.int16
        assert spoken.samples.ndim == 1
        assert 8_000 <= spoken.rate_hz <= 48_000
        assert int(np.abs(spoken.samples.astype(np.int32)).max()) > 1000
    assert short is not None
    assert long is not None
    assert long.rate_hz == short.rate_hz
    assert len(long.samples) > len(short.samples) > 0.1 * short.rate_hz
    assert voice.render("") is None
    assert voice.render("   ") is None


def check_output(output: SoundOutput) -> None:
    """An output plays at any common rate, forgets a stop, and is quiet without complaint once closed.

    Raises:
        AssertionError: It does not.
    """
    assert output.name
    assert output.latency_s >= 0
    for rate_hz in (16_000, 22_050, 16_000):
        assert output.play(tone_samples(Tone.ACCEPTED, rate_hz), rate_hz)
    output.stop()
    assert output.play(tone_samples(Tone.NOTED, 16_000), 16_000), "an earlier stop must not end a later sound"
    output.close()
    output.close()
    assert not output.play(tone_samples(Tone.NOTED, 16_000), 16_000)
