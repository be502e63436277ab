"""What is said to a question: it settles it, makes it another one, or leaves it open. Pure."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from math import log

from handsfree.pairing.dialogue import Dialogue, OpenQuestion, Replied
from handsfree.pairing.fusion import LEAST
from handsfree.pairing.hanging import Hanging
from handsfree.pairing.judging import Judge
from handsfree.pairing.messages import Decision, Question, QuestionKind, SpeechRefused
from handsfree.pairing.queues import Waiting
from handsfree.pairing.sayings import together
from handsfree.pairing.settings import PairingSettings
from handsfree.pairing.trays import Trays
from handsfree.pairing.waiting import SpokenCall, Weight
from handsfree.speech.meaning import PLACES, Answer, Call
from handsfree.speech.messages import Refusal, Utterance

NOT_UNDERSTOOD = frozenset({Refusal.NOT_LIKE_SPEECH_WE_KNOW, Refusal.NOT_IN_GRAMMAR})
"""What may have been a reply; the recorder's own voice and running talk are none."""


class Responding:
    """Answers, and calls that are said while a question is open."""

    def __init__(
        self,
        settings: PairingSettings,
        judge: Judge,
        waiting: Waiting,
        dialogue: Dialogue,
        hanging: Hanging,
        trays: Trays,
    ) -> None:
        self._settings = settings
        self._judge = judge
        self._waiting = waiting
        self._dialogue = dialogue
        self._hanging = hanging
        self._trays = trays

    def answer(self, answer: Answer | Call, utterance: Utterance) -> Iterator[Decision]:
        """Yes, no, or a name that the open question waits for."""
        t_ns = utterance.heard_ns
        asked = self._dialogue.open
        if asked is not None and asked.replied is not None:
            yield from self._gone_over(asked, asked.replied, answer, utterance)
            return
        if isinstance(answer, Call) and not self._judge.stands(answer, utterance, self._dialogue.asked_mg):
            yield from self._weigh_both(SpokenCall(answer, utterance, doubtful=True), t_ns)
            return
        if asked is not None and asked.aside:
            yield from self._aside(asked, answer, utterance)
            return
        if asked is None or asked.said is None or asked.weight is None:
            yield SpeechRefused(t_ns, utterance, "no question is open")
            return
        if isinstance(answer, Answer) and answer not in asked.question.replies:
            yield SpeechRefused(t_ns, utterance, "no answer to what was asked")
            return
        weight, said, options = asked.weight, asked.said, asked.question.options
        yield self._dialogue.close(t_ns, answer)
        if isinstance(answer, Call):
            yield weight.piece(t_ns, SpokenCall(_bound_for(answer, options), utterance))
        elif answer is Answer.YES:
            yield weight.piece(t_ns, said)
        elif answer in PLACES:
            yield weight.piece(t_ns, replace(said, call=options[PLACES.index(answer)]))
        else:
            weight.reprieved_ns, weight.denied = t_ns, (*weight.denied, *options)
            self._waiting.weights.insert(0, weight)

    def call(self, said: SpokenCall, t_ns: int) -> Iterator[Decision]:
        """A clear call waits for its weight, unless it surely is for the one that is asked about."""
        asked = self._dialogue.open
        if asked is not None and asked.weight is not None and asked.said is not None:
            judged = self._judge.otherwise(said, asked.question.options, asked.weight)
            if judged is not None and not self._waiting.weights:
                yield self._dialogue.close(t_ns, judged.said.call)
                yield asked.weight.piece(t_ns, judged.said)
                return
            if asked.offered:
                yield self._dialogue.close(t_ns, None)
                asked.weight.asked_ns = asked.question.t_ns
                self._waiting.weights.insert(0, asked.weight)
        self._waiting.calls.append(said)

    def doubtful_call(self, said: SpokenCall, t_ns: int) -> Iterator[Decision]:
        """A doubtful call is weighed with what was heard before of the weight that is asked about."""
        asked = self._dialogue.open
        if asked is not None and asked.replied is not None:
            yield from self._unclear(asked.replied, said.utterance)
            return
        if asked is not None and asked.said is not None and not self._waiting.weights:
            yield from self._weigh_both(said, t_ns)
            return
        about = self._dialogue.about
        if about is not None and about in self._waiting.weights:
            earlier = self._waiting.heard_of(about)
            if earlier is not None:
                self._waiting.calls.remove(earlier)
                yield earlier.unweighed(t_ns)
                both = together(earlier.utterance, said.utterance, self._settings)
                said = SpokenCall(_first_call(both, said.call), both, doubtful=True, again=True)
            if not self._waiting.is_likely(said, about):
                yield from self.not_understood(said.utterance)
        self._waiting.calls.append(said)

    def lapse(self, t_ns: int) -> Iterator[Decision]:
        """A question that nobody answered in time: the piece stays unnamed, with what was heard.

        A load that began an earlier tray is one now: uncalled twice, the same weight, with pieces laid on it.
        """
        lapsed = self._dialogue.lapsed(t_ns)
        if lapsed is None:
            return
        weight = lapsed.weight
        yield from self.unanswered(lapsed, t_ns)
        if (
            weight is not None
            and lapsed.question.kind is QuestionKind.TRAY
            and weight in self._waiting.weights
            and self._trays.came_before(weight)
        ):
            self._waiting.weights.remove(weight)
            yield from self._trays.take(weight, t_ns)

    def unanswered(self, left: OpenQuestion, t_ns: int) -> Iterator[Decision]:
        """Close a question without an answer; a piece whose name it was about stays unnamed."""
        yield self._dialogue.close(t_ns, None)
        if left.weight is not None and left.said is not None:
            yield left.weight.piece(t_ns, left.said, named=False)

    def not_understood(self, utterance: Utterance) -> Iterator[Decision]:
        """What was said to "what was that?" is no phrase that is known: the likeliest is offered, once.

        That is the one cut still to come that weighs it, else, of the first load on a bare pan, the tray,
        else the likeliest few, in a list.
        """
        t_ns, asked = utterance.heard_ns, self._dialogue.open
        weight = asked.weight if asked is not None else None
        if asked is not None and asked.replied is not None:
            yield from self._ask_again(asked.replied, utterance)
            return
        long_enough = utterance.end_ns - utterance.start_ns >= self._settings.reply_least_ns
        if (
            asked is None
            or weight is None
            or asked.question.kind is not QuestionKind.WHAT_WAS_THAT
            or weight not in self._waiting.weights
            or not (weight.is_answered_by_sound(utterance) and long_enough)
        ):
            return
        call = self.suggestion(utterance, weight)
        if call is not None:
            yield self._dialogue.close(t_ns, None)
            yield self.suggest(call, utterance, weight, t_ns)
        elif self._may_be_tray(weight):
            yield from self.ask_tray(weight, t_ns)
        elif names := self._listed(utterance, weight):
            self._waiting.weights.remove(weight)
            yield from self._read_out(names, SpokenCall(names[0], utterance, doubtful=True), weight, t_ns)

    def suggestion(self, heard: Utterance, weight: Weight) -> Call | None:
        """What may be offered, once, for a weight of which something was said and not understood."""
        first, weight.suggested = not weight.suggested, True
        return self._judge.suggestion(heard, weight) if first else None

    def suggest(self, call: Call, heard: Utterance, weight: Weight, t_ns: int) -> Question:
        """Offer it for a weight that waits; the caller has made sure that no question is open."""
        self._waiting.weights.remove(weight)
        said = self._judge.judge(SpokenCall(call, heard, doubtful=True, again=True), weight).said
        return self._dialogue.ask(t_ns, QuestionKind.CONFIRM, (call,), weight, replace(said, call=call))

    def _may_be_tray(self, weight: Weight) -> bool:
        """Whether to ask, once, if a load that nobody could name is the tray."""
        likely = self._trays.may_be_first(weight) or self._trays.may_be_one(weight)
        return likely and not weight.tray_asked

    def ask_tray(self, weight: Weight, t_ns: int) -> Iterator[Decision]:
        """Ask if a load is the tray, in place of what is asked about it now."""
        yield self._dialogue.close(t_ns, None)
        if weight not in self._waiting.weights:
            self._waiting.weights.append(weight)
        weight.asked_ns = t_ns
        yield self._dialogue.ask(t_ns, QuestionKind.TRAY, (), weight, None)

    def _listed(self, heard: Utterance, weight: Weight) -> tuple[Call, ...]:
        """The names that may be read out for a weight now; none when that was done often enough."""
        return self._judge.shortlist(heard, weight) if weight.lists < self._settings.lists else ()

    def _read_out(
        self, names: tuple[Call, ...], said: SpokenCall, weight: Weight, t_ns: int
    ) -> Iterator[Decision]:
        """Names to choose from by number, in place of what is asked now."""
        weight.lists += 1
        yield self._dialogue.close(t_ns, None)
        judged = self._judge.judge(replace(said, again=True), weight).said
        yield self._dialogue.ask(
            t_ns, QuestionKind.CHOOSE, names, weight, replace(judged, call=names[0], doubtful=True)
        )

    def _weigh_both(self, said: SpokenCall, t_ns: int) -> Iterator[Decision]:
        """What was heard before and what is heard now, together, may settle the question or turn it."""
        asked = self._dialogue.open
        if asked is None or asked.said is None or asked.weight is None:
            yield SpeechRefused(t_ns, said.utterance, "too unsure an answer for what this weighs")
            return
        both = together(asked.said.utterance, said.utterance, self._settings)
        likely = SpokenCall(_first_call(both, said.call), both, doubtful=True, again=True)
        judged = self._judge.judge(likely, asked.weight)
        if judged.doubt is None:
            yield self._dialogue.close(t_ns, judged.said.call)
            yield asked.weight.piece(t_ns, judged.said)
            return
        offered = judged.doubt.options
        options = asked.question.options
        already = any(offered[0].same_piece(each) for each in options)
        is_list = asked.question.kind is QuestionKind.CHOOSE
        if not (already or is_list) and self._judge.worth_asking(
            judged, asked.weight, self._settings.answer_ask
        ):
            yield self._dialogue.close(t_ns, None)
            yield self._dialogue.ask(t_ns, judged.doubt.kind, offered, asked.weight, judged.said)
            return
        if asked.offered and self._may_be_tray(asked.weight):
            yield from self.ask_tray(asked.weight, t_ns)
            return
        names = self._listed(both, asked.weight)
        if names and not (is_list and any(names[0].same_piece(each) for each in options)):
            yield from self._read_out(names, likely, asked.weight, t_ns)
            return
        self._dialogue.open = replace(asked, said=replace(asked.said, utterance=both))
        yield SpeechRefused(t_ns, said.utterance, "too unsure an answer for what this weighs")

    def _gone_over(
        self, asked: OpenQuestion, replied: Replied, answer: Answer | Call, heard: Utterance
    ) -> Iterator[Decision]:
        """What is said of a piece that is gone over."""
        t_ns = heard.heard_ns
        if isinstance(answer, Call):
            if not self._judge.stands(answer, heard, asked.question.net_mg):
                yield from self._unclear(replied, heard)
                return
            answer = _bound_for(answer, asked.question.options)
        elif answer not in asked.question.replies:
            yield SpeechRefused(t_ns, heard, "no answer to what was asked")
            return
        replied.answered = True
        if answer is Answer.NO:
            replied.denied += asked.question.options
        yield self._dialogue.close(t_ns, answer)
        instruction = asked.instruction(t_ns, answer, heard.text)
        if instruction is not None:
            yield instruction

    def _unclear(self, replied: Replied, heard: Utterance) -> Iterator[Decision]:
        yield SpeechRefused(heard.heard_ns, heard, "too unsure an answer for what this weighs")
        yield from self._ask_again(replied, heard)

    def _ask_again(self, replied: Replied, heard: Utterance) -> Iterator[Decision]:
        """A reply of which nothing is sure is remembered, and the likeliest names are then read out, once."""
        if heard.end_ns - heard.start_ns < self._settings.reply_least_ns or replied.unclear:
            return
        replied.unclear = replied.answered = True
        replied.heard += tuple(
            (each.meaning, log(max(each.probability or 0.0, LEAST)))
            for each in heard.hypotheses
            if isinstance(each.meaning, Call)
        )
        yield self._dialogue.close(heard.heard_ns, None)

    def _aside(self, asked: OpenQuestion, answer: Answer | Call, heard: Utterance) -> Iterator[Decision]:
        """Yes or no to "tray?", "dressed weight?" and an odd correction."""
        t_ns = heard.heard_ns
        yield self._dialogue.close(t_ns, answer)
        instruction = asked.instruction(t_ns, answer, heard.text)
        if instruction is not None:
            yield instruction
        elif asked.load is not None:
            self._hanging.deny()
        elif answer is Answer.YES and asked.weight in self._waiting.weights:
            self._waiting.weights.remove(asked.weight)
            yield from self._trays.take(asked.weight, t_ns)


def _bound_for(answer: Call, options: Sequence[Call]) -> Call:
    """An answer that does not say where the piece goes keeps what was offered: "left or right, for pet?"."""
    offered = [each for each in options if each.same_piece(answer)] or [
        each for each in options if each.cut == answer.cut
    ]
    keeps = answer.destination is None and offered and all(each.destination for each in offered)
    return replace(answer, destination=offered[0].destination) if keeps else answer


def _first_call(utterance: Utterance, otherwise: Call) -> Call:
    best = utterance.hypotheses[0].meaning if utterance.hypotheses else None
    return best if isinstance(best, Call) else otherwise
