import math

import numpy as np
import pytest

from handsfree.speech.active_level import ActiveLevel
from handsfree.speech.messages import Samples
from handsfree.testing.making_sound import silence, tone


def measured(samples: Samples, sizes: int = 1_000_000) -> ActiveLevel:
    level = ActiveLevel()
    for at in range(0, len(samples), sizes):
        level.feed(samples[at : at + sizes])
    return level


def by_the_letter(samples: Samples) -> tuple[float, float]:
    """Active level and activity sample by sample, after ITU-T P.56 (12/2011), clause 7 (from memory)."""
    kept = math.exp(-1 / (16_000 * 0.03))
    thresholds = [2.0**j for j in range(-15, 0)]
    counts, held = [0] * 15, [3_200] * 15
    p = q = energy = 0.0
    for value in samples.tolist():
        x = value / 32_768
        energy += x * x
        p = kept * p + (1 - kept) * abs(x)
        q = kept * q + (1 - kept) * p
        for j, threshold in enumerate(thresholds):
            if q >= threshold:
                counts[j] += 1
                held[j] = 0
            elif held[j] < 3_200:
                counts[j] += 1
                held[j] += 1
    last: tuple[float, float] | None = None
    for j, threshold in enumerate(thresholds):
        a = 10 * math.log10(energy / counts[j])
        over = a - 20 * math.log10(threshold) - 15.9
        if over <= 0:
            assert last is not None
            found = last[0] + (a - last[0]) * last[1] / (last[1] - over)
            return found, energy / len(samples) / 10 ** (found / 10)
        last = (a, over)
    raise AssertionError


def test_a_tone_without_pause_is_active_all_the_time_at_its_rms() -> None:
    level = measured(tone(10.0, amplitude=3_276.8))
    # A sine of a tenth of full scale: 20 lg(0.1 / sqrt 2) = -23.01 dB. The envelope needs about 0.03 s to
    # rise to a sixth of the RMS, 0.3 % of 10 s or 0.02 dB.
    assert level.long_term_db == pytest.approx(-23.01, abs=0.01)
    assert level.active_db == pytest.approx(-23.01, abs=0.03)
    assert level.activity == pytest.approx(1.0, abs=0.01)


def test_pauses_are_not_active_beyond_hangover_and_decay() -> None:
    burst = np.concatenate([tone(1.0, amplitude=3_276.8), silence(1.0)])
    level = measured(np.tile(burst, 10))
    # By hand: a sine of mean magnitude 2/pi and RMS 1/sqrt 2 of its peak. The threshold is 15.9 dB under
    # the active level L of mean square 1/(2 t) with t active seconds a burst: envelope 0.160/sqrt(2 t).
    # It falls as (1 + u) exp(-u) with u = time/0.03 s from 2/pi: with t = 1.28 s, 0.100 / 0.637 = 0.157,
    # u = 3.3, 0.10 s; rising, 1 - (1 + u) exp(-u) = 0.157, u = 0.69, 0.02 s.
    # So t = 1 - 0.02 + 0.10 + 0.20 = 1.28 s: activity 0.64 and L = -23.01 - 10 lg 1.28 = -24.08 dB.
    assert level.activity == pytest.approx(0.64, abs=0.01)
    assert level.active_db == pytest.approx(-24.08, abs=0.05)


def test_speech_like_sound_has_the_level_of_the_recommendation_sample_by_sample() -> None:
    draw = np.random.default_rng(3)
    envelope = np.repeat(10 ** (draw.uniform(-2.5, 0.0, 40)), 1_600)
    samples = np.clip(draw.standard_normal(64_000) * envelope * 4_000, -32_768, 32_767).astype(np.int16)
    active_db, activity = by_the_letter(samples)
    level = measured(samples)
    assert level.active_db == pytest.approx(active_db, abs=0.01)
    assert level.activity == pytest.approx(activity, abs=0.002)


@pytest.mark.parametrize("size", [1, 7, 480, 481])
def test_how_the_sound_is_cut_changes_nothing(size: int) -> None:
    samples = np.concatenate([tone(0.2, amplitude=900.0), silence(0.3), tone(0.2, amplitude=9_000.0)])
    assert measured(samples, size).active_db == pytest.approx(measured(samples).active_db, abs=1e-6)


@pytest.mark.parametrize("samples", [silence(0.0), silence(1.0)])
def test_silence_has_no_active_level(samples: Samples) -> None:
    level = measured(samples)
    assert level.active_db is None
    assert level.activity is None
    assert level.long_term_db is None
