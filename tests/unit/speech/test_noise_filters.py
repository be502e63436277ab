"""The parts of the denoisers that have an outside truth."""

import numpy as np
import pytest
import scipy.special

from handsfree.speech import denoise_deepfilter, denoise_spectral
from handsfree.speech.denoise_none import NoDenoiser
from handsfree.speech.denoise_spectral import SpectralDenoiser
from handsfree.speech.faint_dither import FaintDither
from handsfree.speech.ports import Denoiser
from handsfree.testing.making_sound import in_blocks, joined


def test_the_exponential_integral_agrees_with_scipy() -> None:
    x = np.concatenate([np.logspace(-6, 2, 2_000)])
    ours = denoise_spectral._exponential_integral(x)
    assert np.abs(ours / scipy.special.exp1(x) - 1.0).max() < 1e-4


def test_dither_is_35_db_below_speech_level() -> None:
    # A tone of 0.1 RMS is speech of -20 dB throughout; dither must settle at -55 dB.
    at = np.arange(8 * 16_000) / 16_000
    speech = (0.1 * np.sqrt(2) * np.sin(2 * np.pi * 1_000 * at)).astype(np.float32)
    added = (FaintDither().add(speech) - speech)[16_000:].astype(np.float64)
    assert abs(20 * np.log10(np.sqrt(np.mean(added**2))) + 55.0) < 0.5


def test_dither_is_pink() -> None:
    quiet = np.zeros(1 << 17, dtype=np.float32)
    power = np.abs(np.fft.rfft(FaintDither().add(quiet))) ** 2
    hz = np.fft.rfftfreq(1 << 17, 1 / 16_000)

    def octave_db(low: float) -> float:
        return float(10 * np.log10(power[(hz >= low) & (hz < 2 * low)].sum()))

    # Pink noise has the same power in every octave.
    levels = [octave_db(low) for low in (100, 200, 400, 800, 1_600, 3_200)]
    assert max(levels) - min(levels) < 1.0


def test_dither_is_the_same_in_every_run() -> None:
    quiet = np.zeros(5_000, dtype=np.float32)
    whole = FaintDither().add(quiet)
    cut = FaintDither()
    assert np.array_equal(whole, np.concatenate([cut.add(quiet[:1_234]), cut.add(quiet[1_234:])]))


def filters() -> list[type[Denoiser]]:
    return [
        SpectralDenoiser,
        *([denoise_deepfilter.DeepFilterDenoiser] if denoise_deepfilter.available() else []),
    ]


@pytest.mark.parametrize("kind", filters())
def test_steady_noise_is_taken_down_by_ten_decibels(kind: type[Denoiser]) -> None:
    noise = np.random.default_rng(5).normal(0, 600, 6 * 16_000).astype(np.int16)
    denoiser = kind()
    out = [clean for block in in_blocks(noise) for clean in denoiser.feed(block)] + denoiser.flush()
    before, after = noise[48_000:].astype(np.float64), joined(out)[48_000:].astype(np.float64)
    assert 20 * np.log10(np.std(after) / np.std(before)) < -10.0


def test_none_changes_nothing() -> None:
    block = in_blocks(np.arange(320, dtype=np.int16))[0]
    assert NoDenoiser().feed(block) == [block]
