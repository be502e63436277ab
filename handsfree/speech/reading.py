"""Pure: sound in, takes out, steps of the enrolment back: the live half of reading a voice in."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable

import numpy as np

from handsfree.speech.enrolment import Enrolment, Step, Take
from handsfree.speech.hearing import SpeechParts
from handsfree.speech.messages import RATE_HZ, AudioBlock, Samples, SoundFlags, SpeechPart
from handsfree.speech.take_checks import Fault, fault_of
from handsfree.speech.timeline import NS_PER_SAMPLE

_LOST = SoundFlags.GAP | SoundFlags.OVERFLOW
_KEPT_NS = 15_000_000_000
"""How much sound as it came in is held: more than the longest utterance and the denoiser's delay."""
_MARGIN_NS = 400_000_000

Plausible = Callable[[Samples, str], bool]
"""Whether denoised sound may be this phrase."""


class Reading:
    """Listens to a person who reads phrases.

    What overlaps the recorder's own voice is no take: it neither counts nor is asked for again.

    Args:
        enrolment: Which phrase is waited for.
        parts: Denoiser and endpointer.
        plausible: Judges a take.
    """

    def __init__(self, enrolment: Enrolment, parts: SpeechParts, plausible: Plausible) -> None:
        self._enrolment = enrolment
        self._parts = parts
        self._plausible = plausible
        self._held: deque[AudioBlock] = deque()
        self._clean: list[Samples] = []
        self._flags = SoundFlags.NONE

    def feed(self, block: AudioBlock) -> list[Step]:
        """What is to be done after this block."""
        self._held.append(block)
        while block.end_ns - self._held[0].end_ns > _KEPT_NS:
            self._held.popleft()
        return self._taken(self._parts.feed(block))

    def flush(self) -> list[Step]:
        """The end of the sound."""
        return self._taken(self._parts.flush())

    def _taken(self, parts: list[SpeechPart]) -> list[Step]:
        steps: list[Step] = []
        for part in parts:
            if part.first:
                self._clean, self._flags = [], SoundFlags.NONE
            self._clean.append(part.samples)
            self._flags |= part.flags
            if part.last and SoundFlags.OWN_VOICE not in self._flags and self._enrolment.phrase is not None:
                steps += self._enrolment.feed(self._take(part, self._enrolment.phrase))
        return steps

    def _take(self, part: SpeechPart, phrase: str) -> Take:
        raw = self._raw(part.start_ns - _MARGIN_NS, part.end_ns + _MARGIN_NS)
        if self._flags & _LOST:
            return Take(raw, Fault.LOST)
        if part.too_long:
            return Take(raw, Fault.LONG)
        clean = np.concatenate(self._clean)
        # A quarter of a second of pre-roll is in the part before the voice begins.
        speech_s = (part.end_ns - part.start_ns) / 1e9 - 0.25
        fault = fault_of(raw, speech_s, phrase)
        if fault is None and not self._plausible(clean, phrase):
            fault = Fault.OTHER_WORDS
        return Take(raw, fault)

    def _raw(self, start_ns: int, end_ns: int) -> Samples:
        """The sound as it came in; where blocks are missing it is shorter."""
        blocks = [block for block in self._held if block.end_ns > start_ns and block.t_ns < end_ns]
        if not blocks:
            return np.zeros(0, np.int16)
        sound = np.concatenate([block.samples for block in blocks])
        first = max(0, (start_ns - blocks[0].t_ns) // NS_PER_SAMPLE)
        length = min(len(sound), (end_ns - start_ns) // NS_PER_SAMPLE, 15 * RATE_HZ)
        return sound[first : first + length]
