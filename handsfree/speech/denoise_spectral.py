"""Pure: the noise filter that needs nothing but numpy, for machines the better one has no build for.

A log-spectral amplitude estimator with a noise floor tracked by speech presence. Sources, from
memory: gain, Ephraim & Malah, IEEE Trans. ASSP 33(2), 1985, eq. 20; decision-directed a-priori SNR,
Ephraim & Malah 1984, eq. 51; tracking the noise by the probability of speech presence, Cohen &
Berdugo 2001/2003, in the form with a fixed a-priori SNR of Gerkmann & Hendriks, IEEE Trans. ASLP
20(4), 2012, whose smoothing of 0.8 this is. Exponential integral: Abramowitz & Stegun 5.1.53 and
5.1.56.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from handsfree.speech.faint_dither import FaintDither
from handsfree.speech.resampling import Floats
from handsfree.speech.steady_denoiser import SteadyDenoiser

_FRAME = 512
_HOP = 128
_LEAD = _FRAME - _HOP
_WINDOW = np.sqrt(np.hanning(_FRAME + 1)[:-1])
# Squared Hann windows at a quarter frame add up to this.
_OVERLAP = 2.0
_DECISION_DIRECTED = 0.98
_NOISE_SMOOTHING = 0.8
_GAIN_FLOOR = 0.05
_SNR_FLOOR = 10.0 ** (-25.0 / 10.0)
_SPEECH_SNR = 10.0 ** (15.0 / 10.0)
_PRESENCE_SMOOTHING = 0.9
_PRESENCE_CEILING = 0.99
_TINY = 1e-12
# The first 50 ms are taken for noise: people do not start talking within a frame of the start.
_FRAMES_OF_NOISE = 6

Spectrum = NDArray[np.float64]


class SpectralDenoiser(SteadyDenoiser):
    """Causal log-spectral amplitude estimator, 512/128, and faint dither.

    Args:
        dither: Whether to add `FaintDither`.
    """

    def __init__(self, *, dither: bool = True) -> None:
        super().__init__()
        self._dither = FaintDither() if dither else None
        bins = _FRAME // 2 + 1
        self._noise: Spectrum = np.zeros(bins)
        self._presence: Spectrum = np.zeros(bins)
        self._clean: Spectrum = np.zeros(bins)
        self._frames = 0
        self._start_run()

    @property
    def name(self) -> str:
        """What it is, for tables and messages."""
        return "spectral"

    def _start_run(self) -> None:
        # Silence before the start lets the first samples lie under as many frames as all others.
        self._waiting = np.zeros(_LEAD, dtype=np.float64)
        self._overlap = np.zeros(_FRAME)
        self._to_skip = _LEAD

    def _process(self, sound: Floats) -> Floats:
        self._waiting = np.concatenate([self._waiting, sound])
        done: list[Spectrum] = []
        at = 0
        while at + _FRAME <= len(self._waiting):
            spectrum = np.fft.rfft(self._waiting[at : at + _FRAME] * _WINDOW)
            self._overlap += np.fft.irfft(spectrum * self._gain(np.abs(spectrum) ** 2)) * _WINDOW / _OVERLAP
            done.append(self._overlap[:_HOP].copy())
            self._overlap = np.concatenate([self._overlap[_HOP:], np.zeros(_HOP)])
            at += _HOP
        self._waiting = self._waiting[at:]
        out = np.concatenate(done).astype(np.float32) if done else np.zeros(0, dtype=np.float32)
        skip = min(self._to_skip, len(out))
        self._to_skip -= skip
        out = out[skip:]
        return self._dither.add(out) if self._dither else out

    def _drain(self) -> Floats:
        tail = self._process(np.zeros(_FRAME + _LEAD, dtype=np.float32))
        self._start_run()
        return tail

    def _gain(self, power: Spectrum) -> Spectrum:
        """The gain a bin, from this frame's power a bin; updates the noise floor."""
        if self._frames < _FRAMES_OF_NOISE:
            self._frames += 1
            self._noise += (power - self._noise) / self._frames
        noise = np.maximum(self._noise, _TINY)
        posterior = np.minimum(power / noise, 1e6)
        before = self._clean / noise
        prior = np.maximum(
            _DECISION_DIRECTED * before + (1.0 - _DECISION_DIRECTED) * np.maximum(posterior - 1.0, 0.0),
            _SNR_FLOOR,
        )
        share = prior / (1.0 + prior)
        gain = np.clip(share * np.exp(0.5 * _exponential_integral(share * posterior)), _GAIN_FLOOR, 1.0)
        self._clean = gain**2 * power
        self._track(power, noise)
        return np.asarray(gain)

    def _track(self, power: Spectrum, noise: Spectrum) -> None:
        odds = (1.0 + _SPEECH_SNR) * np.exp(
            -np.minimum(power / noise, 200.0) * _SPEECH_SNR / (1.0 + _SPEECH_SNR)
        )
        speech = 1.0 / (1.0 + odds)
        self._presence = _PRESENCE_SMOOTHING * self._presence + (1.0 - _PRESENCE_SMOOTHING) * speech
        # A bin that seems to be speech for ever is a floor that rose: never quite believe it.
        stuck = self._presence > _PRESENCE_CEILING
        speech = np.where(stuck, np.minimum(speech, _PRESENCE_CEILING), speech)
        heard = speech * noise + (1.0 - speech) * power
        self._noise = _NOISE_SMOOTHING * noise + (1.0 - _NOISE_SMOOTHING) * heard


def _exponential_integral(x: Spectrum) -> Spectrum:
    """E1(x) for x > 0, relative error below 1e-4: Abramowitz & Stegun 5.1.53 (x <= 1), 5.1.56 (x > 1)."""
    x = np.maximum(x, 1e-10)
    low = np.minimum(x, 1.0)
    small = -np.log(low) + _polynomial(
        (0.00107857, -0.00976004, 0.05519968, -0.24991055, 0.99999193, -0.57721566), low
    )
    high = np.maximum(x, 1.0)
    top = _polynomial((1.0, 8.5733287401, 18.0590169730, 8.6347608925, 0.2677737343), high)
    bottom = _polynomial((1.0, 9.5733223454, 25.6329561486, 21.0996530827, 3.9584969228), high)
    large = np.exp(-np.minimum(high, 700.0)) / high * top / bottom
    return np.asarray(np.where(x <= 1.0, small, large))


def _polynomial(coefficients: tuple[float, ...], x: Spectrum) -> Spectrum:
    """Horner's rule in place, highest power first: `numpy.polyval` without its arrays for every step."""
    value: Spectrum = np.full_like(x, coefficients[0])
    for coefficient in coefficients[1:]:
        value *= x
        value += coefficient
    return value
