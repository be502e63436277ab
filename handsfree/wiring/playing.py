"""Plays a rehearsal to the recorder while it is told, so that the rehearsed butcher can answer.

Everything the room holds is worked through as a live session would: sound block by block through the
whole path of hearing, scale lines as they come, entries in a real ledger. What was played is kept as a
session folder, and its replay takes the same steps.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterator, Sequence
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from handsfree.answering.messages import Saying
from handsfree.answering.speaker import TAIL_S
from handsfree.clerk import Outcome
from handsfree.clock import from_seconds, seconds
from handsfree.config import Config, ScaleSettings
from handsfree.ledger.ports import LedgerStore
from handsfree.merging import ScaleStep, SoundStep, Step
from handsfree.speech.messages import AudioBlock
from handsfree.speech.timeline import BlockCutter
from handsfree.testing.rehearsal.ears import Answer
from handsfree.testing.rehearsal.scale_lines import Row, instruments
from handsfree.testing.rehearsal.scenario import Act, Scenario
from handsfree.testing.rehearsal.session_writer import growing_track
from handsfree.weighing.ports import Chunk
from handsfree.wiring import hearing, scales, words
from handsfree.wiring.sound_steps import flagged, sound_steps
from handsfree.wiring.workplace import Occasion, Workplace, workplace

#: From the recorder's decision to its tone: what recognising and rendering take live (lateness.py).
LATENCY_S = 0.3
#: A tone with the pause after it, and a letter of the words after that: a short read-back takes 1.2 s.
_TONE_S = 0.3
_LETTER_S = 0.06


class PlayedRoom:
    """The room as microphone and scales have it, and the recorder in it.

    Args:
        scene: Who and what is in the room; nothing has happened yet.
        config: The settings the recorder works by.
        store: The ledger it writes.
        told: Told of every outcome and of what is said about it.

    Raises:
        HandsfreeError: Any of the grammar, model or ledger errors.
    """

    def __init__(
        self,
        scene: Scenario,
        config: Config,
        store: LedgerStore,
        told: Callable[[Outcome, Sequence[Saying]], None] = lambda _outcome, _sayings: None,
    ) -> None:
        self._told = told
        self._track = growing_track(scene)
        self._instruments = instruments(scene)
        self._laid = 0
        self._cutter = BlockCutter()
        self._blocks: deque[AudioBlock] = deque()
        self._steps = sound_steps(self._fed(), hearing.speech_parts(config))
        self._lines_to_come: deque[ScaleStep] = deque()
        self._answers: list[Answer] = []
        self.samples: list[NDArray[np.int16]] = []
        """The sound played so far."""
        self.lines: list[Row] = []
        """What the scales have sent so far."""
        self.own_voice: list[tuple[int, int, str]] = []
        """When the recorder was heard, from and to in ns, and its words."""
        self.place = self._workplace(scene, config, store)

    def hear(self, until_s: float, acts: Sequence[Act]) -> list[Answer]:
        """Play on up to a time; see `Ears`."""
        self._track.lay(acts[self._laid :])
        self._laid = len(acts)
        samples = self._track.until(until_s)
        self.samples.append(samples)
        self._send(until_s, acts)
        for block in self._cutter.feed(samples):
            self._play(block)
        heard = [answer for answer in self._answers if answer.t_s <= until_s]
        self._answers = self._answers[len(heard) :]
        return heard

    def is_speaking(self, t_s: float) -> bool:
        """Whether the recorder is heard; see `Ears`."""
        t_ns = from_seconds(t_s)
        return self._is_heard(t_ns, t_ns + 1)

    def finish(self, until_s: float, acts: Sequence[Act]) -> None:
        """Play to the end, and end the session."""
        self.hear(until_s, acts)
        for block in self._cutter.flush():
            self._play(block)
        self._blocks.clear()
        for step in self._steps:
            self._take(step)
        for line in self._lines_to_come:
            self._take(line)
        for outcome in self.place.recorder.finish("end of the recording"):
            self._told(outcome, self.place.replies.to(outcome))

    @staticmethod
    def _workplace(scene: Scenario, config: Config, store: LedgerStore) -> Workplace:
        own = {
            name: ScaleSettings(name, d_g=scale.d_g, max_kg=scale.max_kg)
            for name, scale in scene.scales.items()
        }
        vocabulary = words.vocabulary(config)
        engine = hearing.recogniser(config, words.lexicon(config))
        place = workplace(
            config,
            store,
            vocabulary,
            Occasion("replay", datetime.fromisoformat(scene.start), engine.name, plan=scene.plan),
            scales=scales.all_settings(config, own),
            listener=hearing.listener(config, engine, vocabulary.listening()),
        )
        place.recorder.expect(own)
        return place

    def _send(self, until_s: float, acts: Sequence[Act]) -> None:
        """The scales' lines up to a time wait for the sound to reach them."""
        rows = [row for each in self._instruments for row in each.until(until_s, acts)]
        for t_s, name, line in sorted(rows, key=lambda row: row[0]):
            at_s = round(t_s, 4)  # as scale.csv will have it
            self.lines.append((at_s, name, line))
            t_ns = from_seconds(at_s)
            self._lines_to_come.append(ScaleStep(t_ns, name, Chunk(t_ns, line.encode("latin-1"))))

    def _fed(self) -> Iterator[AudioBlock]:
        while self._blocks:
            yield self._blocks.popleft()

    def _play(self, block: AudioBlock) -> None:
        """One block, after what the scales sent before its end."""
        own = self._is_heard(block.t_ns, block.end_ns)
        self._blocks.append(flagged(block) if own else block)
        for step in self._steps:
            while self._lines_to_come and self._lines_to_come[0].t_ns <= step.t_ns:
                self._take(self._lines_to_come.popleft())
            self._take(step)
            if isinstance(step, SoundStep):
                return

    def _is_heard(self, from_ns: int, to_ns: int) -> bool:
        """Whether the recorder speaks within this span; what it says follows one upon the other."""
        for said_ns, over_ns, _ in reversed(self.own_voice):
            if over_ns <= from_ns:
                break
            if said_ns < to_ns:
                return True
        return False

    def _take(self, step: Step) -> None:
        for outcome in self.place.recorder.take(step):
            sayings = self.place.replies.to(outcome)
            self._told(outcome, sayings)
            for saying in sayings:
                self._say(step.t_ns, saying)

    def _say(self, t_ns: int, saying: Saying) -> None:
        """The recorder is heard a little later, after what it is saying already."""
        letters = sum(letter.isalpha() for letter in saying.text)
        from_ns = t_ns + from_seconds(LATENCY_S)
        if self.own_voice:
            from_ns = max(from_ns, self.own_voice[-1][1])
        end_ns = from_ns + from_seconds(_TONE_S + _LETTER_S * letters)
        to_ns = end_ns + from_seconds(TAIL_S)
        self.own_voice.append((from_ns, to_ns, saying.text))
        self._answers.append(Answer(seconds(end_ns), saying.tone, saying.text))
