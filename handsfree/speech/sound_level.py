"""Pure: watches the microphone's sound itself: muted, too loud, crackling, a loud room, lost samples.

What it finds are small messages with a beginning and an end, so that the recorder can say them
aloud once and take them back. It never changes the sound.
"""

from __future__ import annotations

import math
from collections import deque
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from handsfree.speech.crackle import pops_in
from handsfree.speech.messages import RATE_HZ, AudioBlock, SoundFlags
from handsfree.speech.timeline import NS_PER_SAMPLE, FlagTrack, empty_samples
from handsfree.speech.usual_floor import UsualFloor

_FRAME = RATE_HZ // 10
_FRAMES_A_S = 10
#: Level of digital silence, decibels below full scale.
NOTHING_DB = -100.0

#: The device of these troubles.
MICROPHONE = "microphone"
#: How the kind of a trouble that is over begins.
OVER = "over: "


class SoundTrouble(StrEnum):
    """What is wrong with the sound, in words that can be said."""

    SILENT = "no sound from the microphone"
    CLIPPING = "the microphone is too loud"
    LOUD_ROOM = "it is very loud here"
    GONE = "the microphone is gone"
    DROPPED = "some sound was lost"
    CRACKLING = "the microphone crackles"
    FAR = "the microphone is too far away"
    MUFFLED = "the microphone sounds muffled"


@dataclass(frozen=True, slots=True)
class SoundNotice:
    """Something about the sound began or ended."""

    t_ns: int
    trouble: SoundTrouble
    began: bool
    """False when it is over."""
    level_db: float
    """Level when it was noticed, decibels of RMS over full scale; of speech, its active level."""

    @property
    def kind(self) -> str:
        """The trouble or its end in words."""
        return self.trouble.value if self.began else f"{OVER}{self.trouble.value}"

    @property
    def detail(self) -> str:
        """The level in words."""
        return f"{-self.level_db:.0f} dB below full scale"


@dataclass(frozen=True, slots=True)
class LevelSettings:
    """When to speak up; common practice, no source."""

    silent_db: float = -90.5
    """Below this a microphone is muted or dead: an RMS under one step of 16 bits (-90.3 dB). Real
    recordings of quiet rooms go down to -86 dB."""
    muted_db: float = -66.0
    """Below this it may be muted all the same: some mute switches leave a hiss. Then it must also be"""
    muted_drop_db: float = 25.0
    """this far below the room's usual noise floor; a fan that is switched off is less."""
    usual_s: float = 30.0
    """How much sound it takes to know the usual floor."""
    silent_s: float = 5.0
    """How long; twice as long after each silence that ended by itself, as some microphones turn
    themselves off between words,"""
    longest_silent_s: float = 40.0
    """but no longer than this."""
    clipped_share: float = 0.002
    """Share of samples at the rails within `clipping_s`; single peaks do not matter."""
    clipping_s: float = 2.0
    loud_room_db: float = -32.0
    """Noise floor above which speech has no room left under full scale."""
    loud_room_s: float = 10.0
    busy_above_floor_db: float = 12.0
    """Sound this far above the room's noise floor is somebody talking or a machine running,"""
    busy_db: float = -50.0
    """unless it is hardly louder than a quiet room."""
    pops: int = 10
    """Short jumps within `pops_s` that are crackle: no recording of speech, washing up or chopping at
    hand has more than four, two crackles a second added to speech give a median of ten."""
    pops_s: float = 5.0
    over_s: float = 5.0
    """How long a trouble must be absent to be over."""


class SoundLevel:
    """Watches level, clipping, noise floor, silence and losses in tenths of a second.

    Args:
        settings: When to speak up.
    """

    def __init__(self, settings: LevelSettings | None = None) -> None:
        self._settings = settings or LevelSettings()
        self._waiting = empty_samples()
        self._at_ns = 0
        self._flags = FlagTrack()
        watched = round(self._settings.loud_room_s * _FRAMES_A_S)
        self._levels: deque[float] = deque(maxlen=watched)
        self._clipped: deque[int] = deque(maxlen=round(self._settings.clipping_s * _FRAMES_A_S))
        self._pops: deque[int] = deque(maxlen=round(self._settings.pops_s * _FRAMES_A_S))
        self._usual = UsualFloor(round(self._settings.usual_s * _FRAMES_A_S))
        self._lasted: dict[SoundTrouble, int] = {}
        self._silent_s = self._settings.silent_s
        self._last_seen: dict[SoundTrouble, int] = {}

    @property
    def level_db(self) -> float:
        """Level of the last tenth of a second, decibels below full scale."""
        return self._levels[-1] if self._levels else NOTHING_DB

    @property
    def floor_db(self) -> float:
        """The quiet tenth of the last ten seconds: the noise of the room."""
        return sorted(self._levels)[len(self._levels) // 10] if self._levels else NOTHING_DB

    @property
    def is_busy(self) -> bool:
        """Whether somebody talks or a saw runs: most of the last half second stands out of the room."""
        latest = list(self._levels)[-5:]
        loud_db = max(self.floor_db + self._settings.busy_above_floor_db, self._settings.busy_db)
        return sum(level >= loud_db for level in latest) >= 3

    @property
    def troubles(self) -> frozenset[SoundTrouble]:
        """What is wrong at the moment."""
        return frozenset(self._last_seen)

    def feed(self, block: AudioBlock) -> list[SoundNotice]:
        """What began or ended with this block."""
        if not len(self._waiting):
            self._at_ns = block.t_ns
        self._flags.add(block)
        self._waiting = np.concatenate([self._waiting, block.samples])
        notices: list[SoundNotice] = []
        while len(self._waiting) >= _FRAME:
            frame, self._waiting = self._waiting[:_FRAME], self._waiting[_FRAME:]
            end_ns = self._at_ns + _FRAME * NS_PER_SAMPLE
            flags = self._flags.over(self._at_ns, end_ns)
            self._flags.forget_before(end_ns)
            self._at_ns = end_ns
            power = float(np.mean((frame.astype(np.float64) / 32_768.0) ** 2))
            self._levels.append(max(NOTHING_DB, 10.0 * math.log10(power + 1e-30)))
            self._clipped.append(int(np.count_nonzero(np.abs(frame.astype(np.int32)) >= 32_760)))
            self._pops.append(pops_in(frame))
            for trouble, there in self._look(flags).items():
                notices += self._judge(trouble, there, end_ns)
        return notices

    def _look(self, flags: SoundFlags) -> dict[SoundTrouble, bool]:
        settings = self._settings
        gone = SoundFlags.GAP in flags
        silent = self._is_silent() and not gone
        if not silent and not gone:
            self._usual.add(self.level_db)
        self._lasted[SoundTrouble.SILENT] = self._lasted.get(SoundTrouble.SILENT, 0) + 1 if silent else 0
        # Silence that has lasted less than its time says neither that it is there nor that it is over.
        muted = self._lasted[SoundTrouble.SILENT] >= self._silent_s * _FRAMES_A_S
        clipped = sum(self._clipped) / (settings.clipping_s * RATE_HZ)
        full = len(self._levels) == self._levels.maxlen
        return {
            SoundTrouble.SILENT: muted,
            SoundTrouble.CLIPPING: clipped >= settings.clipped_share,
            SoundTrouble.LOUD_ROOM: full and self.floor_db > settings.loud_room_db,
            SoundTrouble.GONE: gone,
            SoundTrouble.DROPPED: SoundFlags.OVERFLOW in flags,
            SoundTrouble.CRACKLING: sum(self._pops) >= settings.pops,
        }

    def _is_silent(self) -> bool:
        settings, usual_db = self._settings, self._usual.floor_db
        dropped = usual_db is not None and self.level_db < usual_db - settings.muted_drop_db
        return self.level_db < settings.silent_db or (dropped and self.level_db < settings.muted_db)

    def _judge(self, trouble: SoundTrouble, there: bool, t_ns: int) -> list[SoundNotice]:
        seen = self._last_seen.get(trouble)
        if there:
            self._last_seen[trouble] = t_ns
            return [] if seen is not None else [SoundNotice(t_ns, trouble, True, self.level_db)]
        # Being back is news at once; the others must stay away for a while.
        patience_s = 0.5 if trouble in {SoundTrouble.SILENT, SoundTrouble.GONE} else self._settings.over_s
        if seen is None or t_ns - seen < patience_s * 1e9:
            return []
        del self._last_seen[trouble]
        if trouble is SoundTrouble.SILENT:
            self._silent_s = min(2.0 * self._silent_s, self._settings.longest_silent_s)
        return [SoundNotice(t_ns, trouble, False, self.level_db)]
