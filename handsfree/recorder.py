"""The one live loop: steps of sound and scale in order of time in, outcomes out.

A live session and a replay both feed steps here; nothing in it knows which. It holds no state of
the larder of its own: that is in the books, rebuilt from the ledger at the start.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace

from handsfree.clerk import Clerk, DeviceTrouble, Outcome
from handsfree.clock import NS_PER_S
from handsfree.merging import DeviceStep, ScaleStep, SoundStep, Step
from handsfree.pairing.messages import CallUnweighed, QuestionKind, Tick
from handsfree.pairing.pairing import Pairing, PairingInput
from handsfree.speech.grammar import Grammar
from handsfree.speech.hearing import LOST_SOUND, Listener
from handsfree.speech.meaning import Call
from handsfree.speech.messages import Refusal, Utterance
from handsfree.speech.sound_level import MICROPHONE, SoundNotice
from handsfree.speech.speech_watch import SpeechWatch
from handsfree.speech.vocabulary import Vocabulary
from handsfree.weighing.messages import Indication, LoadChange, Plateau, ScaleEvent, Torn
from handsfree.weighing.ports import Ended
from handsfree.weighing.weigher import Weighed, Weigher

_SURE_OVER_AN_ANSWER = 0.85
"""Least confidence in a call said while the recorder speaks."""
_IN_BETWEEN = frozenset({"for"})
"""Words that tell nothing of who spoke: "saddle for pet" answered, "neck for stock" called."""
_ANSWERS_LAST_NS = 15 * NS_PER_S
"""What was answered this long before a word may still be sounding: answers wait for each other."""


class Recorder:
    """Feeds sound and scales through hearing, weighing and pairing into the ledger.

    Args:
        clerk: Writes the ledger.
        pairing: Joins calls and weights; sees the same books as the clerk.
        vocabulary: Makes the grammar of the moment.
        listener: Recognises; None for a session without sound.
        weigher_for: Makes the weigher of a scale when its first bytes come.
        carcass_scales: Scales on which no piece is weighed.
        overheard: Told of every utterance, refused ones too, before anything is decided.
        words_said: The words of each answer since a time; None where that is not known.
    """

    def __init__(
        self,
        clerk: Clerk,
        pairing: Pairing,
        vocabulary: Vocabulary,
        *,
        listener: Listener | None = None,
        weigher_for: Callable[[str], Weigher],
        carcass_scales: frozenset[str] = frozenset(),
        overheard: Callable[[Utterance], None] = lambda _utterance: None,
        words_said: Callable[[int], Sequence[frozenset[str]]] | None = None,
    ) -> None:
        self._words_said = words_said
        self._clerk = clerk
        self._pairing = pairing
        self._listener = listener
        self._weigher_for = weigher_for
        self._carcass_scales = carcass_scales
        self._overheard = overheard
        self._weighers: dict[str, Weigher] = {}
        self._grammars = _Grammars(vocabulary)
        self._speech_watch = SpeechWatch()
        self._now_ns = 0

    @property
    def weighers(self) -> Mapping[str, Weigher]:
        """The scales heard from so far."""
        return self._weighers

    def expect(self, scales: Iterable[str]) -> None:
        """Scales that should send: one that never says a word is told as silent too."""
        for scale in scales:
            self._weigher(scale)

    def take(self, step: Step) -> Iterator[Outcome]:
        """What follows from one step; each outcome is on disk when it is handed out."""
        self._now_ns = max(self._now_ns, step.t_ns)
        match step:
            case ScaleStep():
                yield from self._weighed(self._weigher(step.scale).feed(step.received))
            case SoundStep():
                for weigher in self._weighers.values():
                    yield from self._weighed(weigher.tick(step.t_ns))
                yield from self._hear(step)
            case DeviceStep():
                yield self._clerk.note_trouble(DeviceTrouble(step.t_ns, step.device, step.kind, step.detail))
        yield from self.feed(Tick(step.t_ns, busy=self._is_busy(step)))

    def _is_busy(self, step: Step) -> bool | None:
        """Whether somebody talks or a saw runs; in loud noise a word stands out to the endpointer alone."""
        if not isinstance(step, SoundStep):
            return None
        return step.busy or (self._listener is not None and self._listener.is_hearing)

    def feed(self, message: PairingInput) -> Iterator[Outcome]:
        """What follows from one message of hearing or weighing."""
        for decision in self._pairing.feed(message):
            yield self._clerk.carry_out(decision)
            if isinstance(decision, CallUnweighed):
                yield from self._unmoved(decision.t_ns)
        self.tune()

    def tune(self) -> None:
        """Hearing as things stand: the grammar of the moment, the voice of who is at the bench."""
        if self._listener is not None:
            self._listener.use(self.grammar())
            self._listener.listen_to(self._clerk.books.bench.name)

    def grammar(self) -> Grammar:
        """What may be said at this moment."""
        return self._grammars.of(self._pairing)

    def finish(self, reason: str) -> Iterator[Outcome]:
        """The end of the session: what waits is decided, and the end is noted in the ledger."""
        for weigher in self._weighers.values():
            yield from self._weighed(weigher.feed(Ended(self._now_ns)))
        for decision in self._pairing.finish(self._now_ns):
            yield self._clerk.carry_out(decision)
        self._clerk.end(self._now_ns, reason)

    def _weigher(self, scale: str) -> Weigher:
        if scale not in self._weighers:
            self._weighers[scale] = self._weigher_for(scale)
        return self._weighers[scale]

    def _weighed(self, messages: list[Weighed]) -> Iterator[Outcome]:
        for message in messages:
            match message:
                case Plateau() | LoadChange():
                    yield from self.feed(message)
                case ScaleEvent():
                    yield self._clerk.note_trouble(message)
                    yield from self.feed(message)
                case Torn():
                    self._clerk.counts["torn scale lines"] += 1
                case Indication():
                    pass

    def _unmoved(self, t_ns: int) -> Iterator[Outcome]:
        """A piece was called and no weight came: the scale for pieces may have stopped moving."""
        pieces = [each for name, each in self._weighers.items() if name not in self._carcass_scales]
        if len(pieces) == 1:  # with several nobody knows on which the piece was put
            for event in pieces[0].expected(t_ns):
                yield self._clerk.note_trouble(event)

    def _hear(self, step: SoundStep) -> Iterator[Outcome]:
        if self._listener is None:
            return
        for part in step.parts:
            for heard in self._listener.feed(part):
                utterance = self._said_over_an_answer(heard)
                self._overheard(utterance)
                yield from self.feed(utterance)
                for notice in self._speech_watch.feed(utterance):
                    yield self._clerk.note_trouble(_microphone_trouble(notice))

    def _said_over_an_answer(self, heard: Utterance) -> Utterance:
        """A call heard surely while the recorder spoke is the butcher's, when no answer has all of its words.

        Whoever calls the next piece does not wait for "tray" or the last read-back to end. "Right flank" over
        "left flank" shares a word with it: that is a doubtful call, which only a weight can make good.
        """
        if heard.refusal is not Refusal.OWN_VOICE or self._words_said is None or not heard.hypotheses:
            return heard
        best = heard.hypotheses[0]
        sure = heard.confidence >= _SURE_OVER_AN_ANSWER and not heard.flags & LOST_SOUND
        if not sure or not isinstance(best.meaning, Call):
            return heard
        answered = self._words_said(heard.start_ns - _ANSWERS_LAST_NS)
        said = set(best.text.split()) - _IN_BETWEEN
        if any(said <= words for words in answered):
            return heard
        clear = all(words.isdisjoint(said) for words in answered)
        return replace(heard, refusal=None if clear else Refusal.NOT_LIKE_SPEECH_WE_KNOW)


def _microphone_trouble(notice: SoundNotice) -> DeviceTrouble:
    return DeviceTrouble(notice.t_ns, MICROPHONE, notice.kind, notice.detail)


class _Grammars:
    """The grammar of each state of the dialogue, made once where it does not depend on a question."""

    def __init__(self, vocabulary: Vocabulary) -> None:
        self._vocabulary = vocabulary
        self._listening = vocabulary.listening()
        self._resting = vocabulary.resting()
        self._answering: tuple[int, Grammar] | None = None

    def of(self, pairing: Pairing) -> Grammar:
        if pairing.resting:
            return self._resting
        asked = pairing.dialogue.open
        if asked is None or asked.question.kind is QuestionKind.WHAT_WAS_THAT:
            return self._listening
        question = asked.question
        if self._answering is None or self._answering[0] != question.number:
            grammar = self._vocabulary.answering(question.options, question.replies)
            self._answering = (question.number, grammar)
        return self._answering[1]
