"""Pure: what a sound card delivers, made into one unbroken timeline from the session's start.

A card delivers late, in bursts, with a clock of its own, and sometimes not at all. Downstream sees
none of that: blocks follow each other without a hole from t = 0, lost time is silence flagged
`GAP`, and the sample count is held against the session's clock, so that a call in the fourth hour
still lies beside its weight. What is handed out is exactly what a kept wav holds, which makes a
replay of that wav the same run.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass

import numpy as np

from handsfree.clock import from_seconds
from handsfree.speech.messages import RATE_HZ, AudioBlock, Samples, SoundFlags
from handsfree.speech.timeline import NS_PER_SAMPLE, BlockCutter, samples_in

#: A card is taken for gone when it has not called back for this long.
LOST_AFTER_NS = from_seconds(2.0)

# A sound server takes a second or two to deliver its first sound; that is not a loss.
_STARTING_NS = from_seconds(5.0)
# While a card is gone, silence is handed out up to this much before now, so that what it
# delivers when it is back still finds its place.
_MARGIN_NS = from_seconds(0.3)
# The earliest arrival within this window shows the card's clock; single arrivals are late by
# anything (scheduling, bursts), never early.
_WINDOW_NS = from_seconds(5.0)
_SETTLED_NS = from_seconds(1.0)
# Put right in a quiet moment beyond the first, at once beyond the second. Pairing works in tenths
# of a second; a crystal 100 ppm off takes ten minutes to reach 60 ms.
_QUIETLY_NS = from_seconds(0.06)
_AT_ONCE_NS = from_seconds(0.25)
# After an overflow samples are known to be missing: put right as soon as the loss can be measured.
_AFTER_OVERFLOW_NS = from_seconds(0.02)


@dataclass(frozen=True, slots=True, eq=False)
class Captured:
    """What one callback of the sound system brought."""

    arrived_ns: int
    """Session time of the callback."""
    samples: Samples
    """Mono int16 at 16 kHz, shape (n,)."""
    overflow: bool = False
    """The sound system had to drop samples before these."""


class CaptureTimeline:
    """Puts captured sound at its time, fills lost time with flagged silence.

    Args:
        lost_after_ns: How long without a callback means that the device is gone.
    """

    def __init__(self, lost_after_ns: int = LOST_AFTER_NS) -> None:
        self._lost_after_ns = lost_after_ns
        self._cutter = BlockCutter(0)
        self._last_arrival_ns: int | None = None
        self._anchored = False
        self._ever = False
        self._lateness: deque[tuple[int, int]] = deque()
        self._after_overflow = False
        self._to_leave_out = 0
        self._loudness = deque[float](maxlen=250)

    @property
    def lost(self) -> bool:
        """Whether the device is gone at the moment."""
        return self._ever and not self._anchored

    def feed(self, captured: Captured) -> list[AudioBlock]:
        """The blocks that this delivery completes."""
        if not len(captured.samples):
            return []
        blocks: list[AudioBlock] = []
        if not self._anchored:
            starts_ns = captured.arrived_ns - len(captured.samples) * NS_PER_SAMPLE
            flag = SoundFlags.GAP if self._ever else SoundFlags.NONE
            blocks += self._silence_until(starts_ns, flag)
            self._anchored = self._ever = True
            self._to_leave_out = 0
            self._lateness.clear()
        self._last_arrival_ns = captured.arrived_ns
        if captured.overflow:
            self._lateness.clear()
            self._after_overflow = True
        samples, flags = captured.samples, SoundFlags.OVERFLOW if captured.overflow else SoundFlags.NONE
        wrong = self._samples_wrong(captured)
        if wrong > 0:
            blocks += self._cutter.feed(np.zeros(wrong, dtype=np.int16), SoundFlags.GAP)
        elif wrong < 0:
            self._to_leave_out = -wrong
        if self._to_leave_out:
            out = min(self._to_leave_out, len(samples))
            self._to_leave_out -= out
            samples, flags = samples[out:], flags | SoundFlags.GAP
        return blocks + self._cutter.feed(samples, flags)

    def tick(self, now_ns: int) -> list[AudioBlock]:
        """Nothing came until `now_ns`: silence for the time that passes while the device is gone."""
        if self._last_arrival_ns is None:
            self._last_arrival_ns = now_ns
        patience_ns = self._lost_after_ns if self._ever else max(self._lost_after_ns, _STARTING_NS)
        if now_ns - self._last_arrival_ns <= patience_ns:
            return []
        self._anchored, self._ever = False, True
        return self._silence_until(now_ns - _MARGIN_NS, SoundFlags.GAP)

    def flush(self) -> list[AudioBlock]:
        """The last, short block."""
        return self._cutter.flush()

    def _silence_until(self, t_ns: int, flag: SoundFlags) -> list[AudioBlock]:
        blocks: list[AudioBlock] = []
        missing = samples_in(max(0, t_ns - self._cutter.end_ns))
        while missing > 0:
            piece = min(missing, RATE_HZ)
            blocks += self._cutter.feed(np.zeros(piece, dtype=np.int16), flag)
            missing -= piece
        return blocks

    def _samples_wrong(self, captured: Captured) -> int:
        """How many samples to put in (positive) or leave out (negative) before these."""
        ends_ns = self._cutter.end_ns + len(captured.samples) * NS_PER_SAMPLE
        self._lateness.append((captured.arrived_ns, captured.arrived_ns - ends_ns))
        while self._lateness[0][0] < captured.arrived_ns - _WINDOW_NS:
            self._lateness.popleft()
        watched_ns = captured.arrived_ns - self._lateness[0][0]
        loudness = float(np.mean(np.abs(captured.samples.astype(np.float32))))
        quiet = loudness <= 2.0 * min(self._loudness, default=0.0)
        self._loudness.append(loudness)
        if watched_ns < _SETTLED_NS:
            return 0
        off_ns = min(late for _, late in self._lateness)
        limit_ns = _QUIETLY_NS if quiet else _AT_ONCE_NS
        if self._after_overflow:
            limit_ns, self._after_overflow = _AFTER_OVERFLOW_NS, False
        if abs(off_ns) <= limit_ns:
            return 0
        self._lateness.clear()
        return samples_in(off_ns)
