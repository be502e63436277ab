"""Pure: recordings laid out as one run of sound, so that the denoiser hears them as it would live."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from handsfree.speech.endpointing import Endpointer
from handsfree.speech.messages import RATE_HZ, AudioBlock, Samples
from handsfree.speech.ports import Denoiser
from handsfree.speech.timeline import BLOCK_SAMPLES, NS_PER_SAMPLE

_LEAD = 2 * RATE_HZ
_PAUSE = RATE_HZ // 2
_BEFORE = RATE_HZ // 4
_AFTER = 3 * RATE_HZ // 10
"""Around the speech: the endpointer's pre-roll and hangover."""


@dataclass(frozen=True, slots=True, eq=False)
class ReadingTrack:
    """All recordings one after the other."""

    samples: Samples
    """Two seconds of the first recording's quietest sound, then the recordings half a second apart."""
    places: tuple[tuple[int, int], ...]
    """First sample of each recording, and the one after its last."""


def laid_out(recordings: Sequence[Samples]) -> ReadingTrack:
    """The recordings on one track; the gaps carry the room of the recording before.

    Args:
        recordings: Not empty; each shape (n,), int16 at 16 kHz.
    """
    parts = [_room(recordings[0], _LEAD)]
    places: list[tuple[int, int]] = []
    at = len(parts[0])
    for recording in recordings:
        places.append((at, at + len(recording)))
        parts += [recording, _room(recording, _PAUSE)]
        at += len(recording) + _PAUSE
    return ReadingTrack(np.concatenate(parts), tuple(places))


def with_noise(track: ReadingTrack, noise: NDArray[np.float64], snr_db: float) -> Samples:
    """The track in noise, every recording with the same ratio of its speech to it.

    Args:
        track: What is said.
        noise: RMS 1, as long as the track.
        snr_db: Speech (its RMS within 30 dB of its loudest 20 ms) over noise, in decibels.
    """
    mixed = track.samples.astype(np.float64)
    gain = np.zeros(len(mixed))
    edges = [*(first for first, _ in track.places[1:]), len(mixed)]
    start = 0
    for (first, after), end in zip(track.places, edges, strict=True):
        gain[start:end] = active_rms(track.samples[first:after])
        start = end
    mixed += noise * gain * 10 ** (-snr_db / 20)
    most = float(np.abs(mixed).max())
    if most > 32_000:  # a loud voice and its noise together must not clip: that would be another trouble
        mixed *= 32_000 / most
    quiet: Samples = np.rint(mixed).astype(np.int16)
    return quiet


def active_rms(sound: Samples) -> float:
    """RMS where the sound is within 30 dB of its loudest 20 ms, in 16-bit steps; at least 1."""
    frames = sound[: len(sound) // 320 * 320].reshape(-1, 320).astype(np.float64)
    if not len(frames):
        return 1.0
    power = np.mean(frames**2, axis=1)
    return max(1.0, float(np.sqrt(np.mean(power[power >= power.max() * 1e-3]))))


def denoised(samples: Samples, denoiser: Denoiser) -> Samples:
    """All of it through the denoiser, in blocks, as long as before."""
    blocks = [
        AudioBlock(at * NS_PER_SAMPLE, samples[at : at + BLOCK_SAMPLES])
        for at in range(0, len(samples), BLOCK_SAMPLES)
    ]
    clean = [out.samples for block in blocks for out in denoiser.feed(block)]
    clean += [out.samples for out in denoiser.flush()]
    joined = np.concatenate([np.zeros(0, np.int16), *clean])[: len(samples)]
    return np.pad(joined, (0, len(samples) - len(joined)))


def spoken_spans(
    clean: Samples, places: Sequence[tuple[int, int]], endpointer: Endpointer
) -> list[tuple[int, int] | None]:
    """Where in each recording the voice is, from its first sound to its last; None where it is not.

    A recording in which the voice pauses is taken from its first stretch to its last.
    """
    stretches: list[tuple[int, int]] = []
    for at in range(0, len(clean), BLOCK_SAMPLES):
        block = AudioBlock(at * NS_PER_SAMPLE, clean[at : at + BLOCK_SAMPLES])
        stretches += [_span(part.start_ns, part.end_ns) for part in endpointer.feed(block) if part.last]
    stretches += [_span(part.start_ns, part.end_ns) for part in endpointer.flush() if part.last]
    spans: list[tuple[int, int] | None] = []
    for first, after in places:
        inside = [each for each in stretches if each[1] > first and each[0] + _BEFORE < after]
        spans.append(
            (max(inside[0][0], first - _BEFORE), min(inside[-1][1], after) + _AFTER) if inside else None
        )
    return spans


def _span(start_ns: int, end_ns: int) -> tuple[int, int]:
    return start_ns // NS_PER_SAMPLE, end_ns // NS_PER_SAMPLE


def _room(recording: Samples, length: int) -> Samples:
    """The quietest tenth of a second of a recording, again and again, to and fro without a jump."""
    step = RATE_HZ // 10
    frames = recording[: len(recording) // step * step].reshape(-1, step)
    if not len(frames):
        return np.zeros(length, np.int16)
    quietest = frames[int(np.argmin(np.mean(frames.astype(np.float64) ** 2, axis=1)))]
    return np.resize(np.concatenate([quietest, quietest[::-1]]), length)
