"""Pure: where speech begins and ends, from the voice probability of short chunks.

A segment begins when the probability reaches `on` and ends when it has stayed below `off` for the
hangover. Its parts are handed out while it is spoken, so that the engine decodes meanwhile and only
the hangover is waited for. What is longer than any call (talk, a radio) is given up and the
endpointer waits for silence. Times are sample counts; the blocks' sizes change nothing.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from handsfree.clock import from_seconds
from handsfree.speech.messages import AudioBlock, Samples, SoundFlags, SpeechPart
from handsfree.speech.ports import VoiceActivityDetector
from handsfree.speech.timeline import NS_PER_SAMPLE, FlagTrack, empty_samples, samples_in


@dataclass(frozen=True, slots=True)
class EndpointSettings:
    """When speech has begun and ended; common practice for short commands, tuned on denoised speech."""

    on: float = 0.5
    """Probability at which a segment begins."""
    off: float = 0.35
    """Probability below which a chunk counts as silence within a segment."""
    forget_after_ns: int = from_seconds(1.0)
    """After so much quiet the detector begins anew. Its memory grows deaf over minutes of noise: a word
    rated 1.00 after a fresh start was rated 0.30 after 110 s. Of 112 calls in rehearsed carcasses of the
    development half 101 were found without forgetting and all with it, with 8 stray segments without, 6,
    14 and 12 after 1, 2 and 4 s of quiet."""
    hangover_ns: int = from_seconds(0.30)
    """Silence that ends a segment."""
    pause_ns: int = from_seconds(0.15)
    """Silence after which a segment may be over, so that the engine can begin: its work is then done
    about when the segment is known to have ended."""
    pre_roll_ns: int = from_seconds(0.25)
    """Sound before the first voiced chunk that belongs to the segment: soft onsets, h and f."""
    longest_ns: int = from_seconds(4.5)
    """Longest segment, pre-roll included; beyond it is no call."""


class Endpointer:
    """Cuts denoised sound into segments of speech.

    Args:
        detector: Voice activity; reset where time is missing, and in the quiet between words.
        settings: When speech has begun and ended.
    """

    def __init__(self, detector: VoiceActivityDetector, settings: EndpointSettings | None = None) -> None:
        self._detector = detector
        self._settings = settings or EndpointSettings()
        self._chunk = detector.chunk_samples
        self._pre_roll = samples_in(self._settings.pre_roll_ns)
        self._flags = FlagTrack()
        self._begun = False
        self._at_ns = self._end_ns = 0  # time of the next chunk; time after the last sample fed
        self._waiting: Samples = empty_samples()
        self._before: Samples = empty_samples()
        self._open = self._wait_for_silence = False
        self._start_ns = self._voiced_end_ns = self._given_ns = 0

    def feed(self, block: AudioBlock) -> list[SpeechPart]:
        """The parts of speech that this block completes, in time order."""
        parts: list[SpeechPart] = []
        if self._begun and block.t_ns != self._end_ns:
            parts += self.flush()
            self._detector.reset()
        if not self._begun:
            self._restart(block.t_ns)
            self._begun = True
        self._flags.add(block)
        self._waiting = np.concatenate([self._waiting, block.samples])
        self._end_ns = block.end_ns
        while len(self._waiting) >= self._chunk:
            chunk, self._waiting = self._waiting[: self._chunk], self._waiting[self._chunk :]
            parts += self._judge(chunk, self._detector.probability(chunk))
        return parts

    def flush(self) -> list[SpeechPart]:
        """The end of the sound: an open segment is finished with what there is."""
        rest, self._waiting = self._waiting, empty_samples()
        self._begun = False
        if self._open:
            chunk_end_ns = self._at_ns + len(rest) * NS_PER_SAMPLE
            padded = np.concatenate([rest, np.zeros(self._chunk - len(rest), dtype=np.int16)])
            if len(rest) and self._detector.probability(padded) >= self._settings.off:
                self._voiced_end_ns = chunk_end_ns
            return [self._part(rest, chunk_end_ns, last=True)]
        return []

    def _restart(self, t_ns: int) -> None:
        self._at_ns = self._end_ns = t_ns
        self._waiting = self._before = empty_samples()
        self._open = self._wait_for_silence = False
        self._start_ns = self._voiced_end_ns = self._given_ns = self._forgot_ns = t_ns

    def _judge(self, chunk: Samples, probability: float) -> list[SpeechPart]:
        start_ns, end_ns = self._at_ns, self._at_ns + len(chunk) * NS_PER_SAMPLE
        self._at_ns = end_ns
        if self._open or self._wait_for_silence:
            if probability >= self._settings.off:
                self._voiced_end_ns = end_ns
            quiet = end_ns - self._voiced_end_ns >= self._settings.hangover_ns
        else:
            quiet = probability < self._settings.on
        if self._open:
            return [self._go_on(chunk, end_ns, quiet=quiet)]
        if quiet:
            self._forget(end_ns, probability)
        if quiet or self._wait_for_silence:
            self._wait_for_silence = self._wait_for_silence and not quiet
            before = np.concatenate([self._before, chunk])
            self._before = before[max(0, len(before) - self._pre_roll) :]
            self._flags.forget_before(end_ns - len(self._before) * NS_PER_SAMPLE)
            return []
        self._open = True
        self._voiced_end_ns = end_ns
        self._start_ns = self._given_ns = start_ns - len(self._before) * NS_PER_SAMPLE
        samples, self._before = np.concatenate([self._before, chunk]), empty_samples()
        return [self._part(samples, end_ns, first=True)]

    def _forget(self, end_ns: int, probability: float) -> None:
        """Now and then, in a quiet moment, the detector begins anew: see `forget_after_ns`."""
        since_ns = end_ns - max(self._voiced_end_ns, self._forgot_ns)
        if since_ns >= self._settings.forget_after_ns and probability < self._settings.off:
            self._detector.reset()
            self._forgot_ns = end_ns

    def _go_on(self, chunk: Samples, end_ns: int, *, quiet: bool) -> SpeechPart:
        too_long = not quiet and end_ns - self._start_ns > self._settings.longest_ns
        self._wait_for_silence = too_long
        part = self._part(chunk, end_ns, last=quiet or too_long, too_long=too_long)
        pausing = end_ns - self._voiced_end_ns >= self._settings.pause_ns
        return replace(part, pausing=pausing and not too_long)

    def _part(
        self,
        samples: Samples,
        end_ns: int,
        *,
        first: bool = False,
        last: bool = False,
        too_long: bool = False,
    ) -> SpeechPart:
        flags = self._flags.over(self._given_ns, end_ns) if samples.size else SoundFlags.NONE
        self._flags.forget_before(end_ns)
        self._given_ns = end_ns
        self._open = not last
        ended_ns = self._voiced_end_ns if last else 0
        return SpeechPart(self._start_ns, samples, first, last, too_long, ended_ns, flags)
