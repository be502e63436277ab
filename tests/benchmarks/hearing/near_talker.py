"""Tried, not in the product: turns down what is far quieter than the wearer of the microphone.

A denoiser leaves speech alone, whoever speaks. But a butcher's own microphone hears the butcher louder
than anybody else, so what stays well below the level the wearer has had in the last minutes is not the
wearer. Left in, it keeps segments open and puts words between the wearer's words.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass

import numpy as np

from handsfree.speech.faint_dither import FaintDither
from handsfree.speech.messages import RATE_HZ, AudioBlock
from handsfree.speech.ports import Denoiser, VoiceActivityDetector
from handsfree.speech.resampling import Floats, to_int16
from handsfree.speech.steady_denoiser import SteadyDenoiser

_FRAME = RATE_HZ // 100
_FRAMES_A_S = 100
_FAINTEST_DB = -100.0


@dataclass(frozen=True, slots=True)
class NearTalkerSettings:
    """What counts as near; other values in other_talkers.py."""

    below_db: float = 12.0
    """How far below the wearer's loud syllables sound is half turned down."""
    floor_db: float = -20.0
    """The most that is taken away, decibels."""
    ahead_s: float = 0.08
    """How long before a loud syllable all is let through: soft beginnings. It is also the delay."""
    after_s: float = 0.06
    """How long after it: soft endings."""
    sinks_db_a_minute: float = 2.0
    """How fast old levels are forgotten: a microphone that was moved is believed again."""
    witnesses: int = 3
    """The level is that of the loudest stretch of speech but so many less one: a shout is no measure."""


class NearLevel:
    """The wearer's level, from the loudest stretches of voice of the last ten minutes.

    Args:
        detector: Tells voice from other sound, of any distance.
        settings: How to remember.
    """

    _STRETCH_S = 0.6
    _SHORTEST_S = 0.2
    _REMEMBERED_S = 600.0
    _VOICED = 0.5

    def __init__(self, detector: VoiceActivityDetector, settings: NearTalkerSettings) -> None:
        self._detector = detector
        self._settings = settings
        self._chunk_s = detector.chunk_samples / RATE_HZ
        self._waiting = np.zeros(0, dtype=np.int16)
        self._stretch: list[float] = []
        self._heard: deque[tuple[int, float]] = deque()
        self._chunks = 0
        self._near_db: float | None = None

    @property
    def near_db(self) -> float | None:
        """Level of loud syllables, decibels of RMS over full scale; None before it is known."""
        return self._near_db

    def feed(self, sound: Floats) -> None:
        """The next sound, -1 to 1."""
        self._waiting = np.concatenate([self._waiting, to_int16(sound)])
        size = self._detector.chunk_samples
        while len(self._waiting) >= size:
            chunk, self._waiting = self._waiting[:size], self._waiting[size:]
            self._chunks += 1
            voiced = self._detector.probability(chunk) >= self._VOICED
            if voiced:
                power = float(np.mean((chunk / 32_768.0) ** 2))
                self._stretch.append(10.0 * float(np.log10(power + 1e-10)))
            if self._stretch and (not voiced or len(self._stretch) * self._chunk_s >= self._STRETCH_S):
                self._close()
            if self._chunks % 16 == 0:
                self._judge()

    def restart(self) -> None:
        """Time is missing: the sound is forgotten, the level kept."""
        self._waiting = self._waiting[:0]
        self._stretch = []
        self._detector.reset()

    def _close(self) -> None:
        if len(self._stretch) * self._chunk_s >= self._SHORTEST_S:
            self._heard.append((self._chunks, sorted(self._stretch)[len(self._stretch) * 3 // 4]))
            self._judge()
        self._stretch = []

    def _judge(self) -> None:
        while self._heard and (self._chunks - self._heard[0][0]) * self._chunk_s > self._REMEMBERED_S:
            self._heard.popleft()
        sinks = self._settings.sinks_db_a_minute * self._chunk_s / 60.0
        levels = sorted((level - sinks * (self._chunks - at) for at, level in self._heard), reverse=True)
        wanted = self._settings.witnesses
        self._near_db = levels[wanted - 1] if len(levels) >= wanted else None


class NearTalkerFilter(SteadyDenoiser):
    """Turns down denoised sound that is far below the wearer's level; before that is known, nothing.

    Args:
        detector: Tells voice from other sound; its own, not shared.
        settings: What counts as near.
        dither: Whether to add `FaintDither`.
    """

    def __init__(
        self,
        detector: VoiceActivityDetector,
        settings: NearTalkerSettings | None = None,
        *,
        dither: bool = True,
    ) -> None:
        super().__init__()
        self._settings = settings or NearTalkerSettings()
        self._level = NearLevel(detector, self._settings)
        self._dither = FaintDither() if dither else None
        self._ahead = round(self._settings.ahead_s * _FRAMES_A_S)
        self._after = round(self._settings.after_s * _FRAMES_A_S)
        self._start_run()

    @property
    def name(self) -> str:
        """What it is, for tables and messages."""
        return "near talker"

    @property
    def near_db(self) -> float | None:
        """The wearer's level in loud syllables, decibels of RMS over full scale; None before it is known."""
        return self._level.near_db

    def _start_run(self) -> None:
        self._partial = np.zeros(0, dtype=np.float32)
        self._frames: deque[Floats] = deque()
        # Levels of the frames held, and of those before them that still keep the gate open.
        self._levels: deque[float] = deque([_FAINTEST_DB] * self._after)
        self._gain = 1.0

    def _process(self, sound: Floats) -> Floats:
        self._partial = np.concatenate([self._partial, sound])
        done: list[Floats] = []
        while len(self._partial) >= _FRAME:
            frame, self._partial = self._partial[:_FRAME], self._partial[_FRAME:]
            self._level.feed(frame)
            self._frames.append(frame)
            self._levels.append(10.0 * float(np.log10(float(np.mean(frame * frame)) + 1e-10)))
            if len(self._frames) > self._ahead:
                done.append(self._turned(self._frames.popleft()))
        return self._given(done)

    def _drain(self) -> Floats:
        rest = self._partial
        done: list[Floats] = []
        while self._frames:
            done.append(self._turned(self._frames.popleft()))
        tail = self._given([*done, np.float32(self._gain) * rest])
        self._start_run()
        self._level.restart()
        return tail

    def _turned(self, frame: Floats) -> Floats:
        """The oldest frame with the gain that the frames around it ask for, without steps."""
        before, self._gain = self._gain, self._wanted(max(self._levels))
        self._levels.popleft()
        ramp = np.linspace(before, self._gain, len(frame) + 1, dtype=np.float32)[1:]
        turned: Floats = frame * ramp
        return turned

    def _wanted(self, level_db: float) -> float:
        near_db = self._level.near_db
        if near_db is None:
            return 1.0
        over_db = level_db - near_db + self._settings.below_db
        gain = 1.0 / (1.0 + 10.0 ** (-over_db / 5.0))
        return float(max(gain, 10.0 ** (self._settings.floor_db / 20.0)))

    def _given(self, done: list[Floats]) -> Floats:
        out: Floats = np.concatenate(done) if done else np.zeros(0, dtype=np.float32)
        return self._dither.add(out) if self._dither and len(out) else out


class NearTalkerDenoiser:
    """A `Denoiser` and behind it a `NearTalkerFilter`.

    Args:
        denoiser: Takes noise out first.
        near: Turns far talk down.
    """

    def __init__(self, denoiser: Denoiser, near: NearTalkerFilter) -> None:
        self._denoiser = denoiser
        self._near = near

    @property
    def name(self) -> str:
        """What it is, for tables and messages."""
        return f"{self._denoiser.name}, {self._near.name}"

    def feed(self, block: AudioBlock) -> list[AudioBlock]:
        """Denoised blocks that are ready; stamped with the time of the sound they carry."""
        return [out for clean in self._denoiser.feed(block) for out in self._near.feed(clean)]

    def flush(self) -> list[AudioBlock]:
        """What is still held back at the end of the sound."""
        rest = [out for clean in self._denoiser.flush() for out in self._near.feed(clean)]
        return rest + self._near.flush()
