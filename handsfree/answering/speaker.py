"""Answers aloud, one saying after the other, and tells when it is speaking so as not to hear itself."""

from __future__ import annotations

import threading
from collections import OrderedDict, deque
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from handsfree.answering.messages import Saying
from handsfree.answering.ports import SoundOutput, Spoken, Voice
from handsfree.answering.tones import tone_samples
from handsfree.clock import Clock, from_seconds
from handsfree.speech.messages import RATE_HZ, Samples

#: How long after the last sample the room still carries the voice (common practice, no source).
TAIL_S = 0.25

#: An answer that waited longer than this is no longer worth its words; its tone is still given.
STALE_S = 6.0

#: Pause between the tone and the words.
_PAUSE_S = 0.06

#: Rendered parts kept: cuts and weights come again, and a rendering costs some hundredths of a second.
_CACHE_PARTS = 512

#: Stretches of speaking kept for the recorder to ask about.
_KEPT_STRETCHES = 64


@dataclass(frozen=True, slots=True)
class Speaking:
    """A stretch of time in which the recorder makes sound, tail included."""

    start_ns: int
    end_ns: int


@dataclass(frozen=True, slots=True)
class _Waiting:
    saying: Saying
    since_ns: int


class Answerer:
    """A queue of sayings and the one hand that plays them.

    `say` may be called from any thread and returns at once. Sayings are played in order; urgent ones
    go first, end a lesser one that is playing, and take the words (not the tones) from the lesser
    ones still waiting. `work` plays the next one; `start` runs `work` in a thread of its own.

    Args:
        voice: Turns words into sound; without a voice the tones are all there is.
        output: The loudspeaker.
        clock: The session's clock, the one audio blocks are stamped with.
        tell: Called once, with one sentence, when there is no voice.
        tail_s: How long the room carries the voice on.
        loudness: Factor on tones and voice, above 0 to 1.
    """

    def __init__(
        self,
        voice: Voice,
        output: SoundOutput,
        clock: Clock,
        *,
        tell: Callable[[str], None] = lambda _: None,
        tail_s: float = TAIL_S,
        loudness: float = 1.0,
    ) -> None:
        self._loudness = loudness
        self._voice = voice
        self._output = output
        self._clock = clock
        self._tell = tell
        self._tail_ns = from_seconds(tail_s)
        self._waiting: deque[_Waiting] = deque()
        self._playing: Saying | None = None
        self._interrupted = False
        self._stretches: deque[Speaking] = deque(maxlen=_KEPT_STRETCHES)
        self._parts: OrderedDict[str, Spoken] = OrderedDict()
        self._changed = threading.Condition()
        self._closing = False
        self._thread: threading.Thread | None = None
        self._told = False
        self.words_dropped = 0
        """Sayings whose words were left out because they came too late."""

    def say(self, saying: Saying) -> None:
        """Put a saying in the queue."""
        with self._changed:
            if self._closing:
                return
            now_ns = self._clock.now_ns()
            if saying.urgent:
                place = sum(waiting.saying.urgent for waiting in self._waiting)
                for index in range(place, len(self._waiting)):
                    self._waiting[index] = self._without_words(self._waiting[index])
                self._waiting.insert(place, _Waiting(saying, now_ns))
                if self._playing is not None and not self._playing.urgent:
                    self._interrupted = True
                    self._output.stop()
            else:
                self._waiting.append(_Waiting(saying, now_ns))
            self._changed.notify_all()

    def hush(self) -> None:
        """The butcher speaks: what is being said ends, and what waits is left with its tones."""
        with self._changed:
            for index, waiting in enumerate(self._waiting):
                if not waiting.saying.urgent:
                    self._waiting[index] = self._without_words(waiting)
            if self._playing is not None:
                self._interrupted = True
                self._output.stop()

    def work(self) -> bool:
        """Play the next saying to its end; False when none is waiting."""
        with self._changed:
            if not self._waiting:
                return False
            waiting = self._waiting.popleft()
            late_ns = self._clock.now_ns() - waiting.since_ns
            if not waiting.saying.urgent and late_ns > from_seconds(STALE_S):
                waiting = self._without_words(waiting)
            self._playing, self._interrupted = waiting.saying, False
        try:
            self._play(waiting.saying)
        finally:
            with self._changed:
                self._playing = None
                self._changed.notify_all()
        return True

    @property
    def speaking_until_ns(self) -> int:
        """Until when the recorder is, or was last, to be heard (tail included); 0 before the first."""
        with self._changed:
            return self._stretches[-1].end_ns if self._stretches else 0

    def was_speaking(self, start_ns: int, end_ns: int) -> bool:
        """Whether the recorder was to be heard at any time from `start_ns` to `end_ns`."""
        with self._changed:
            return any(one.start_ns < end_ns and start_ns < one.end_ns for one in self._stretches)

    def start(self) -> None:
        """Play from a thread of its own until `close`."""
        self._thread = threading.Thread(target=self._run, name="answering", daemon=True)
        self._thread.start()

    def wait_until_quiet(self, timeout_s: float | None = None) -> bool:
        """Wait until nothing is waiting or playing; False when the time ran out."""
        with self._changed:
            return self._changed.wait_for(lambda: not self._waiting and self._playing is None, timeout_s)

    def close(self) -> None:
        """Stop at once and free the loudspeaker. Safe to call twice."""
        with self._changed:
            self._closing = True
            self._waiting.clear()
            self._changed.notify_all()
        self._output.stop()
        if self._thread is not None:
            self._thread.join()
            self._thread = None
        self._output.close()

    def _run(self) -> None:
        while True:
            with self._changed:
                self._changed.wait_for(lambda: bool(self._waiting) or self._closing)
                if self._closing:
                    return
            self.work()

    def _without_words(self, waiting: _Waiting) -> _Waiting:
        if not waiting.saying.text:
            return waiting
        self.words_dropped += 1
        return _Waiting(Saying(waiting.saying.tone), waiting.since_ns)

    def _play(self, saying: Saying) -> None:
        samples, rate_hz = self._sound(saying)
        with self._changed:
            if self._interrupted:  # while the words were rendered, before there was sound to stop
                samples, rate_hz = tone_samples(saying.tone), RATE_HZ
        if self._loudness < 1:
            samples = np.round(samples * self._loudness).astype(np.int16)
        start_ns = self._clock.now_ns()
        length_ns = from_seconds(len(samples) / rate_hz + self._output.latency_s)
        # Known before the first sample, so that no block is missed; corrected when it took longer.
        with self._changed:
            self._stretches.append(Speaking(start_ns, start_ns + length_ns + self._tail_ns))
        whole = self._output.play(samples, rate_hz)
        ended_ns = self._clock.now_ns()
        with self._changed:
            if whole:
                ended_ns = max(ended_ns, start_ns + length_ns)
            self._stretches[-1] = Speaking(start_ns, ended_ns + self._tail_ns)

    def _sound(self, saying: Saying) -> tuple[Samples, int]:
        spoken = [part for part in map(self._render, _parts(saying.text)) if part is not None]
        rate_hz = spoken[0].rate_hz if spoken else RATE_HZ
        pieces = [tone_samples(saying.tone, rate_hz)]
        if spoken:
            pieces.append(np.zeros(round(_PAUSE_S * rate_hz), dtype=np.int16))
        pieces += [part.samples for part in spoken if part.rate_hz == rate_hz]
        return np.concatenate(pieces), rate_hz

    def _render(self, part: str) -> Spoken | None:
        if part in self._parts:
            self._parts.move_to_end(part)
            return self._parts[part]
        spoken = self._voice.render(part)
        if spoken is None:
            if not self._told:
                self._told = True
                self._tell("There is no voice on this machine: answers are tones only.")
            return None  # asked again next time: the voice may only have stumbled
        self._parts[part] = spoken
        if len(self._parts) > _CACHE_PARTS:
            self._parts.popitem(last=False)
        return spoken


def _parts(text: str) -> list[str]:
    """The text at its commas: cuts and weights come again, whole sentences do not."""
    return [part.strip() for part in text.split(",") if part.strip()]
