"""Filters tried against other talkers and reverberation; none of them is in the product.

Each takes a track's sound as it was captured and gives what the engine would hear. They work over the
whole sound at once, which flatters them a little; what does not help this way will not help live.
Sources, from memory: late reverberation by spectral subtraction, Lebart, Boucher & Denbigh, Acta
Acustica 87, 2001; weighted prediction error, Nakatani et al., IEEE Trans. ASLP 18(7), 2010, eq. 19 ff.;
ideal-style level masks, common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from handsfree.speech.denoise_deepfilter import DeepFilterDenoiser
from handsfree.speech.denoise_none import NoDenoiser
from handsfree.speech.denoise_spectral import SpectralDenoiser
from handsfree.speech.messages import Samples
from handsfree.speech.ports import Denoiser
from handsfree.testing.making_sound import in_blocks, joined

_FRAME = 512
_HOP = 128
_WINDOW = np.sqrt(np.hanning(_FRAME + 1)[:-1])
_OVERLAP = 2.0

Spectra = NDArray[np.complex128]


def through(denoiser: Denoiser, sound: Samples) -> Samples:
    """The sound after a denoiser, the same length."""
    clean = joined([out for block in in_blocks(sound) for out in denoiser.feed(block)] + denoiser.flush())
    return (
        np.resize(clean, len(sound))
        if len(clean) > len(sound)
        else np.pad(clean, (0, len(sound) - len(clean)))
    )


def spectra(sound: Samples) -> Spectra:
    """Short-time spectra, shape (frames, bins), of a sound with silence before and after."""
    padded = np.concatenate([np.zeros(_FRAME), sound / 32768.0, np.zeros(2 * _FRAME)])
    frames = np.lib.stride_tricks.sliding_window_view(padded, _FRAME)[::_HOP]
    return np.fft.rfft(frames * _WINDOW, axis=1)


def sounded(spectrum: Spectra, length: int) -> Samples:
    """The sound of short-time spectra as `spectra` gives them."""
    frames = np.fft.irfft(spectrum, axis=1) * _WINDOW / _OVERLAP
    total = np.zeros(len(frames) * _HOP + _FRAME)
    for number in range(_FRAME // _HOP):
        part = frames[:, number * _HOP : (number + 1) * _HOP].reshape(-1)
        total[number * _HOP : number * _HOP + len(part)] += part
    out = total[_FRAME : _FRAME + length]
    return np.asarray(np.clip(np.rint(out * 32768), -32768, 32767), dtype=np.int16)


def level_mask(sound: Samples, below_db: float, floor: float) -> Samples:
    """Bins that are `below_db` under their band's near-talker level are turned down to `floor`.

    The near-talker level of a band is the 98th percentile of its power over the sound.
    """
    spectrum = spectra(sound)
    power = np.abs(spectrum) ** 2
    smooth = np.apply_along_axis(lambda row: np.convolve(row, np.ones(7) / 7, "same"), 1, power)
    near = np.percentile(smooth, 98, axis=0)
    over = 10 * np.log10(smooth / near + 1e-12) + below_db
    gain = np.clip(1.0 / (1.0 + 10 ** (-over / 5)), floor, 1.0)
    return sounded(spectrum * gain, len(sound))


def frame_expander(sound: Samples, below_db: float, floor: float) -> Samples:
    """Frames that are `below_db` under the near-talker level are turned down to `floor`."""
    spectrum = spectra(sound)
    power = np.mean(np.abs(spectrum) ** 2, axis=1)
    held = np.array([power[max(0, i - 6) : i + 12].max() for i in range(len(power))])
    over = 10 * np.log10(held / np.percentile(power, 98) + 1e-12) + below_db
    gain = np.clip(1.0 / (1.0 + 10 ** (-over / 5)), floor, 1.0)
    return sounded(spectrum * gain[:, None], len(sound))


def average_subtraction(sound: Samples, over: float, floor: float) -> Samples:
    """The average spectrum of what is not the near talker is taken off as if it were steady noise."""
    spectrum = spectra(sound)
    power = np.abs(spectrum) ** 2
    total = power.mean(axis=1)
    quiet = total < np.percentile(total, 98) * 0.1
    noise = power[quiet].mean(axis=0)
    gain = np.sqrt(np.maximum(1 - over * noise / np.maximum(power, 1e-12), floor**2))
    return sounded(spectrum * gain, len(sound))


def harmonic_mask(sound: Samples, floor: float) -> Samples:
    """Bins between the harmonics of the strongest pitch are turned down where a frame is voiced."""
    padded = np.concatenate([np.zeros(_FRAME), sound / 32768.0, np.zeros(4 * _FRAME)])
    long = np.lib.stride_tricks.sliding_window_view(padded, 1024)[::_HOP]
    spectrum = spectra(sound)
    hz = np.arange(spectrum.shape[1]) * 16_000 / _FRAME
    gains = np.ones(spectrum.shape)
    window = np.hanning(1024)
    for number in range(min(len(spectrum), len(long))):
        energy = np.abs(np.fft.rfft(long[number] * window, 2048)) ** 2
        lagged = np.fft.irfft(energy)[: 16_000 // 70]
        first = 16_000 // 350
        lag = first + int(np.argmax(lagged[first:]))
        clear = lagged[lag] / (lagged[0] + 1e-12)
        if clear < 0.45:
            continue
        pitch = 16_000 / lag
        off = np.abs(hz / pitch - np.rint(hz / pitch)) * pitch
        comb = np.where((off > 40) & (hz < 3_000), floor, 1.0)
        gains[number] = comb if pitch > 110 else 1.0
    return sounded(spectrum * gains, len(sound))


def late_subtraction(sound: Samples, rt60_s: float, strength: float = 1.0, floor: float = 0.1) -> Samples:
    """Late reverberation, taken for the power 50 ms ago times its decay, subtracted (Lebart)."""
    spectrum = spectra(sound)
    power = np.abs(spectrum) ** 2
    smooth = np.zeros_like(power)
    state = np.zeros(power.shape[1])
    for number, row in enumerate(power):
        state = 0.8 * state + 0.2 * row
        smooth[number] = state
    ago = round(0.05 * 16_000 / _HOP)
    decay = 10 ** (-6 * 0.05 / rt60_s)
    late = np.zeros_like(power)
    late[ago:] = smooth[:-ago] * decay * strength
    gain = np.sqrt(np.maximum(1 - late / np.maximum(power, 1e-12), floor**2))
    return sounded(spectrum * gain, len(sound))


def wpe(sound: Samples, taps: int = 10, delay: int = 3, forget: float = 0.995) -> Samples:
    """Weighted prediction error, recursive (one microphone): what the past predicts is taken off.

    512/128 frames, `taps` frames of past from `delay` frames ago on, recursive least squares a bin.
    """
    spectrum = spectra(sound)
    frames, bins = spectrum.shape
    inverse = np.tile(np.eye(taps, dtype=np.complex128) * 1e2, (bins, 1, 1))
    weights = np.zeros((bins, taps), dtype=np.complex128)
    past = np.zeros((bins, taps + delay), dtype=np.complex128)
    out = np.empty_like(spectrum)
    power = np.full(bins, 1e-6)
    for number in range(frames):
        now = spectrum[number]
        seen = past[:, delay - 1 : delay - 1 + taps]
        power = np.maximum(0.6 * power + 0.4 * np.abs(now) ** 2, 1e-8)
        gained = np.einsum("bij,bj->bi", inverse, seen)
        gain = gained / (forget * power[:, None] + np.einsum("bi,bi->b", seen.conj(), gained).real[:, None])
        error = now - np.einsum("bi,bi->b", weights.conj(), seen)
        weights += gain * error.conj()[:, None]
        inverse = (inverse - np.einsum("bi,bj->bij", gain, gained.conj())) / forget
        out[number] = now - np.einsum("bi,bi->b", weights.conj(), seen)
        past = np.concatenate([now[:, None], past[:, :-1]], axis=1)
    return sounded(out, len(sound))


def _deep(dry: float) -> Callable[[Samples], Samples]:
    return lambda sound: through(DeepFilterDenoiser(dry=dry), sound)


TALKERS: dict[str, Callable[[Samples], Samples]] = {
    "deep 5% dry (shipped)": _deep(0.05),
    "none": lambda sound: through(NoDenoiser(), sound),
    "spectral": lambda sound: through(SpectralDenoiser(), sound),
    "deep 20% dry": _deep(0.2),
    "deep 50% dry": _deep(0.5),
    "level mask 15 dB": lambda sound: through(NoDenoiser(), level_mask(sound, 15, 0.1)),
    "level mask 20 dB, deep 20%": lambda sound: _deep(0.2)(level_mask(sound, 20, 0.2)),
    "frame expander 12 dB, deep 20%": lambda sound: _deep(0.2)(frame_expander(sound, 12, 0.1)),
    "average off, deep 20%": lambda sound: _deep(0.2)(average_subtraction(sound, 1.0, 0.2)),
    "harmonic mask, deep 20%": lambda sound: _deep(0.2)(harmonic_mask(sound, 0.3)),
}

ROOMS: dict[str, Callable[[Samples], Samples]] = {
    "deep 5% dry (shipped)": _deep(0.05),
    "none": lambda sound: through(NoDenoiser(), sound),
    "late off, RT60 right": lambda sound: _deep(0.05)(late_subtraction(sound, 0.5)),
    "late off, half": lambda sound: _deep(0.05)(late_subtraction(sound, 0.5, 0.5, 0.2)),
    "WPE 10": lambda sound: _deep(0.05)(wpe(sound)),
    "WPE 20 slow": lambda sound: _deep(0.05)(wpe(sound, 20, 3, 0.999)),
    "late off after deep": lambda sound: late_subtraction(_deep(0.05)(sound), 0.5, 0.5, 0.2),
}
