"""One microphone track from a scenario: voices, single sounds and the room's bed. Pure.

The butcher's active-speech level is the reference; everything else is set relative to it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from handsfree.errors import SessionError
from handsfree.testing.rehearsal import noises
from handsfree.testing.rehearsal.noises import RATE_HZ, Sound
from handsfree.testing.rehearsal.scenario import Act, Noise, Put, Say, Scenario, Take, spoken_s

VOICE_DBFS = -23.0
"""Active-speech level of the butcher relative to full scale; leaves room for peaks (ITU-T P.56
measures active level; the figure is a common recording level, no source)."""

_THUD_DB = -7.0
_SLOWER_S = 0.3
"""So much longer than it was given may a clip take: a slow voice only pauses less before what comes next."""
_MOST_PEAK = 1.4
"""Of full scale, 3 dB: a clang now and then is clipped, as a sound card does it."""
_FRAME = 320
_ACTIVE_BELOW_PEAK_DB = 30.0


RECORDED = "file:"
"""A kind that begins so is a recording, by its path."""

Recording = Callable[[str], Sound]
"""Gives the sound of a recording at 16 kHz by its path."""


def _none_recorded(path: str) -> Sound:
    raise SessionError(f"no recordings can be read here, and {path} is one")


def mix(
    scenario: Scenario, clip: Callable[[Say], NDArray[np.int16]], recording: Recording = _none_recorded
) -> NDArray[np.int16]:
    """The whole track: 16 kHz mono 16-bit, second 0 at the scenario's start.

    Args:
        scenario: What happens.
        clip: Gives the spoken words of one `Say` at 16 kHz, without silence around them.
        recording: Gives the sounds whose kind begins with `RECORDED`.

    Raises:
        SessionError: The scenario is impossible, a clip is longer than the time it was given, or
            the sum would clip by more than 3 dB.
    """
    track = Soundtrack(scenario, clip, recording, bed_s=scenario.duration_s)
    faults = scenario.faults()
    track.lay(sorted(scenario.acts, key=lambda act: act.at_s))
    faults += track.faults
    peak = track.peak
    if peak >= _MOST_PEAK:
        faults.append(f"the track clips (peak {peak:.2f} of full scale)")
    if faults:
        raise SessionError(f"the scenario {scenario.title!r} cannot be played: {'; '.join(faults)}")
    return track.until(scenario.duration_s)


class Soundtrack:
    """A track that grows: sounds are laid into it, and it is taken out up to a time.

    Args:
        scenario: Who speaks, the bed of noise and the seed; its acts are not looked at. One that has no
            duration yet grows as long as it must.
        clip: As for `mix`.
        recording: As for `mix`.
        bed_s: Length of a stretch of the bed; another one is made where the session is longer.
    """

    def __init__(
        self,
        scenario: Scenario,
        clip: Callable[[Say], NDArray[np.int16]],
        recording: Recording = _none_recorded,
        *,
        bed_s: float = 600.0,
    ) -> None:
        self._scenario, self._clip, self._recording, self._bed_s = scenario, clip, recording, bed_s
        self._rng = np.random.default_rng([scenario.seed, 2])
        self._grows = not scenario.duration_s
        self._stretches = 1
        self._track = _bed(scenario, recording, bed_s, [scenario.seed, 1])
        self._taken = 0
        self.faults: list[str] = []
        """What could not be played as it was meant to be, as sentences."""

    @property
    def peak(self) -> float:
        """The loudest sample so far, 1 at full scale."""
        return float(np.max(np.abs(self._track)))

    def lay(self, acts: Sequence[Act]) -> None:
        """Lay the sounds of these acts into what has not been taken yet, in the order given."""
        reference = 10 ** (VOICE_DBFS / 20)
        for say in (act for act in acts if isinstance(act, Say)):
            sound = self._clip(say).astype(np.float64)
            # Talk that takes longer than it was given only runs into what comes after it.
            most_s = spoken_s(say.text) * say.pace + _SLOWER_S
            if say.to_recorder and len(sound) / RATE_HZ > most_s:
                self.faults.append(f"{say.text!r} takes {len(sound) / RATE_HZ:.2f} s, more than {most_s:.2f}")
            level_db = self._scenario.speakers[say.speaker].level_db
            self._lay(say.at_s, sound * reference * 10 ** (level_db / 20) / active_rms(sound))
        for act in acts:
            if isinstance(act, Noise):
                self._lay(act.at_s, self._noise(act.kind, act.seconds, act.level_db))
            elif isinstance(act, Put | Take):
                # What lands is heard; a heavier piece lands louder.
                louder_db = 6 * np.log10(max(act.mass_g, 50.0) / 1000)
                step_db = -12.0 if isinstance(act, Take) else 0.0
                self._lay(act.at_s, self._noise("thud", 0.4, _THUD_DB + float(louder_db) + step_db))

    def until(self, t_s: float) -> NDArray[np.int16]:
        """The samples from where the last call ended up to this time; what is too loud is clipped."""
        end = round(t_s * RATE_HZ)
        self._reach(end)
        part = self._track[self._taken : end]
        self._taken = end
        # Rounding without dither: the bed is far above one step of 16 bits.
        return np.round(np.clip(part, -1.0, 1.0) * 32767).astype(np.int16)

    def _lay(self, at_s: float, sound: Sound) -> None:
        at = round(at_s * RATE_HZ)
        if self._grows:
            self._reach(at + len(sound))
        part = sound[: max(0, len(self._track) - at)]
        self._track[at : at + len(part)] += part

    def _reach(self, end: int) -> None:
        while len(self._track) < end:
            more = _bed(
                self._scenario, self._recording, self._bed_s, [self._scenario.seed, 1, self._stretches]
            )
            self._stretches += 1
            self._track = np.concatenate([self._track, more])

    def _noise(self, kind: str, seconds: float, level_db: float) -> Sound:
        return _noise(kind, seconds, level_db, self._rng, self._recording)


def active_rms(sound: Sound) -> float:
    """Root mean square over the frames within 30 dB of the loudest: the level while speaking."""
    frames = len(sound) // _FRAME
    if not frames:
        return float(np.sqrt(np.mean(sound**2))) or 1.0
    power = np.mean(sound[: frames * _FRAME].reshape(frames, _FRAME) ** 2, axis=1)
    active = power[power >= power.max() * 10 ** (-_ACTIVE_BELOW_PEAK_DB / 10)]
    return float(np.sqrt(active.mean())) or 1.0


def _bed(scenario: Scenario, recording: Recording, seconds: float, seed: list[int]) -> Sound:
    track: Sound = np.zeros(round(seconds * RATE_HZ))
    rng = np.random.default_rng(seed)
    for kind, level_db in scenario.bed:
        track += _noise(kind, seconds, level_db, rng, recording)[: len(track)]
    return track


def _noise(
    kind: str, seconds: float, level_db: float, rng: np.random.Generator, recording: Recording
) -> Sound:
    if kind.startswith(RECORDED):
        sound = recording(kind.removeprefix(RECORDED))
        if not sound.size:
            raise SessionError(f"{kind.removeprefix(RECORDED)} holds no sound")
        start = int(rng.integers(0, sound.size))
        laid = np.resize(np.roll(sound, -start), round(seconds * RATE_HZ))
        # Talk is levelled as speech is, by its active part; a steady noise is active all the time.
        return laid * 10 ** ((VOICE_DBFS + level_db) / 20) / active_rms(laid)
    try:
        maker = noises.MAKERS[kind]
    except KeyError:
        raise SessionError(
            f"{kind!r} is not a larder sound known here", next_step=f"use one of {', '.join(noises.MAKERS)}"
        ) from None
    return maker(seconds, rng) * 10 ** ((VOICE_DBFS + level_db + noises.CREST_DB.get(kind, 0.0)) / 20)
