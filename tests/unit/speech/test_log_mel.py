"""The spectrogram against the published formula, worked out by hand."""

from __future__ import annotations

import numpy as np
import pytest

from handsfree.speech.log_mel import log_mel, mel_filters


def test_a_band_s_triangle_stands_where_slaney_s_scale_puts_it() -> None:
    # Slaney 1998: linear below 1 kHz, 3 mels to 200 Hz; above, 27 mels are a factor of 6.4. 82 equally
    # spaced edges from 0 to 8 kHz: 8 kHz is 15 + 27 ln 8 / ln 6.4 = 45.245 mel, one step 0.55859 mel,
    # which is 37.239 Hz. Band 0 rises from 0 to 37.239 Hz and falls to 74.478 Hz; its area is 1, so its
    # height at 40 Hz (bin 1 of 400 points at 16 kHz) is 2 / 74.478 * (74.478 - 40) / 37.239.
    filters = mel_filters()
    assert filters.shape == (80, 201)
    assert filters[0, 1] == pytest.approx(2 / 74.478 * (74.478 - 40) / 37.239, rel=1e-3)
    assert filters[0, 0] == 0
    assert filters[0, 2] == 0


def test_each_band_has_area_one() -> None:
    # The widest bands span many bins of 40 Hz, so the sum comes near the integral.
    assert mel_filters()[60:].sum(axis=1) * 40 == pytest.approx(np.ones(20), rel=0.02)


def test_a_tone_is_loudest_in_the_band_around_it() -> None:
    # 1 kHz is 15 mel = edge 26.85 of steps of 0.55859 mel: between the centres of bands 25 and 26.
    t_s = np.arange(16_000) / 16_000
    tone = (0.5 * np.sin(2 * np.pi * 1000 * t_s) * 32767).astype(np.int16)
    spectrogram = log_mel(tone, 100)
    assert spectrogram.shape == (80, 100)
    assert set(spectrogram[:, 10:90].argmax(axis=0)) <= {25, 26}
    # Power of a windowed tone: (A * sum(w) / 2)^2 = (0.5 * 200 / 2)^2 = 2500, into a band of weight
    # w: log10(2500 w), then (x + 4) / 4.
    weight = mel_filters()[[25, 26], 25].max()
    assert spectrogram[:, 50].max() == pytest.approx((np.log10(2500 * weight) + 4) / 4, abs=0.02)


def test_silence_is_the_floor_everywhere() -> None:
    # log10 of 1e-10 is -10: (-10 + 4) / 4 = -1.5.
    assert np.allclose(log_mel(np.zeros(8_000, np.int16), 100), -1.5)


def test_what_is_more_than_eight_decades_down_is_held_there() -> None:
    sound = np.zeros(16_000, np.int16)
    sound[:8_000] = (np.random.default_rng(1).standard_normal(8_000) * 8_000).astype(np.int16)
    spectrogram = log_mel(sound, 100)
    assert spectrogram.max() - spectrogram.min() == pytest.approx(2.0)  # 8 / 4


def test_the_end_is_cut_and_filled_to_the_frames_asked_for() -> None:
    sound = (np.random.default_rng(2).standard_normal(32_000) * 3_000).astype(np.int16)
    long, short = log_mel(sound, 200), log_mel(sound[:24_000], 200)
    assert long.shape == short.shape == (80, 200)
    assert np.all(short[:, 155:] == short.min())
    assert np.allclose(long[:, 2:140], short[:, 2:140], atol=0.1)


def test_no_samples_at_all_are_silence() -> None:
    assert np.allclose(log_mel(np.zeros(0, np.int16), 10), -1.5)
