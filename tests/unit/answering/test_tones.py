"""The tones measured from outside: numpy's FFT and scipy's spectrogram, not the table they are made from."""

from itertools import combinations

import numpy as np
import pytest
from scipy.signal import spectrogram

from handsfree.answering.messages import Tone
from handsfree.answering.tones import duration_s, tone_samples

RATES = (16_000, 22_050, 44_100)


def rhythm_and_pitches(tone: Tone, rate_hz: int = 16_000) -> list[tuple[float, float, float]]:
    """The notes as heard: (length in s, pitch in its first third, pitch in its last third)."""
    samples = tone_samples(tone, rate_hz).astype(float)
    window = round(0.004 * rate_hz)
    level = np.sqrt(np.convolve(samples**2, np.ones(window) / window, mode="same"))
    loud = np.concatenate([[False], level > 0.1 * level.max(), [False]])
    edges = np.flatnonzero(np.diff(loud.astype(int)))
    notes = []
    for start, end in zip(edges[::2], edges[1::2], strict=True):
        note = samples[start:end]
        if len(note) < 0.02 * rate_hz:
            continue
        third = len(note) // 3
        notes.append((len(note) / rate_hz, pitch(note[:third], rate_hz), pitch(note[-third:], rate_hz)))
    # Notes that touch are split where the pitch jumps; gaps in our tones are long enough to see.
    return notes


def pitch(samples, rate_hz: int) -> float:
    spectrum = np.abs(np.fft.rfft(samples * np.hanning(len(samples)), 1 << 15))
    return float(np.argmax(spectrum) * rate_hz / (1 << 15))


def apart(one: list[tuple[float, float, float]], other: list[tuple[float, float, float]]) -> bool:
    """Whether two tones differ plainly: number of notes, or a pitch by a fifth (1.3) or a length by half."""
    if len(one) != len(other):
        return True
    differences = 0
    for (length, start, end), (length2, start2, end2) in zip(one, other, strict=True):
        differences += max(length, length2) / min(length, length2) >= 1.5
        differences += max(start, start2) / min(start, start2) >= 1.3
        differences += max(end, end2) / min(end, end2) >= 1.3
    return differences >= 2


@pytest.mark.parametrize(("one", "other"), list(combinations(Tone, 2)))
def test_every_two_tones_differ_in_at_least_two_ways(one: Tone, other: Tone) -> None:
    assert apart(rhythm_and_pitches(one), rhythm_and_pitches(other))


def test_the_question_rises_and_the_correction_falls() -> None:
    question, corrected = rhythm_and_pitches(Tone.QUESTION), rhythm_and_pitches(Tone.CORRECTED)
    assert len(question) == len(corrected) == 2
    assert question[1][1] > 1.3 * question[0][1]
    assert corrected[1][1] < corrected[0][1] / 1.3


def test_waking_climbs_and_resting_glides_down() -> None:
    awake, resting = rhythm_and_pitches(Tone.AWAKE), rhythm_and_pitches(Tone.RESTING)
    assert awake[2][1] > 1.3 * awake[1][1] > 1.3**2 * awake[0][1]
    assert resting[0][1] > 1.5 * resting[0][2]


@pytest.mark.parametrize(("one", "other"), list(combinations(Tone, 2)))
def test_every_two_tones_can_be_told_apart_by_rhythm_alone(one: Tone, other: Tone) -> None:
    """As through ear defenders or on a screen, where a twin blinks in the tone's rhythm."""
    first, second = ([length for length, _, _ in rhythm_and_pitches(tone)] for tone in (one, other))
    plain = len(first) != len(second) or any(
        max(pair) / min(pair) >= 1.4 for pair in zip(first, second, strict=True)
    )
    assert plain, (first, second)


@pytest.mark.parametrize("tone", list(Tone))
@pytest.mark.parametrize("rate_hz", RATES)
def test_no_tone_clips_clicks_or_lasts(tone: Tone, rate_hz: int) -> None:
    samples = tone_samples(tone, rate_hz)
    assert samples.dtype == np.int16
    assert samples.ndim == 1
    peak = int(np.abs(samples.astype(int)).max())
    assert 8_000 < peak <= 16_384  # loud, and 6 dB below full scale
    # Begins and ends in silence: the raised cosine leaves no step.
    assert abs(int(samples[0])) < 100
    assert abs(int(samples[-1])) < 100
    assert len(samples) / rate_hz == pytest.approx(duration_s(tone), abs=0.001)
    assert len(samples) / rate_hz <= 0.45


@pytest.mark.parametrize("tone", list(Tone))
def test_a_tone_keeps_its_pitch_at_another_rate(tone: Tone) -> None:
    for one, other in zip(rhythm_and_pitches(tone, 16_000), rhythm_and_pitches(tone, 44_100), strict=True):
        assert other[1] == pytest.approx(one[1], rel=0.03)


@pytest.mark.parametrize("tone", list(Tone))
def test_the_energy_lies_where_small_loudspeakers_work(tone: Tone) -> None:
    hz, _, power = spectrogram(tone_samples(tone).astype(float), 16_000)
    total = power.sum()
    assert power[(hz >= 300) & (hz <= 4500)].sum() > 0.98 * total


def test_a_tone_cannot_be_changed_by_who_plays_it() -> None:
    with pytest.raises(ValueError, match="read-only"):
        tone_samples(Tone.ACCEPTED)[0] = 1
