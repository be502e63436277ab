"""The one question that may be open, and what answers it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from handsfree.pairing.doubt import doubtful_answer
from handsfree.pairing.messages import Instruction, Question, QuestionClosed, QuestionKind
from handsfree.pairing.ports import Nameless
from handsfree.pairing.settings import PairingSettings
from handsfree.pairing.waiting import SpokenCall, Weight
from handsfree.speech.meaning import PLACES, Answer, Call, Command, Verb
from handsfree.speech.messages import Utterance
from handsfree.weighing.messages import Plateau


@dataclass(slots=True)
class Replied:
    """What was said of a piece that is gone over, from question to question."""

    denied: tuple[Call, ...] = ()
    """What it is not."""
    heard: tuple[tuple[Call, float], ...] = ()
    """What replies that were not understood may have been, each with its log probability by sound."""
    unclear: bool = False
    """Whether a reply was not understood: then several names are read out, to be answered by number."""
    answered: bool = False
    """Whether anything was said to the last question."""


@dataclass(frozen=True, slots=True)
class OpenQuestion:
    """A question asked and not yet answered or lapsed."""

    question: Question
    weight: Weight | None
    """What it is about; None where that is no piece."""
    said: SpokenCall | None
    """The call in doubt; None for "what was that?", which any call answers by being paired."""
    load: Plateau | None = None
    """What may be the carcass."""
    carries_out: Instruction | None = None
    """What is carried out on yes: an odd correction, the name of a piece that is gone over, a tag."""
    replied: Replied | None = None
    """Of a piece that is gone over."""

    @property
    def offered(self) -> bool:
        """Whether it stands for "what was that?": then any clear call is paired with the weight as usual."""
        return self.said is not None and self.said.doubtful

    @property
    def aside(self) -> bool:
        """Whether it is about something else than the name of a weight that waits for one."""
        return (
            self.question.kind is QuestionKind.TRAY or self.load is not None or self.carries_out is not None
        )

    def instruction(self, t_ns: int, answer: Answer | Call, heard: str) -> Instruction | None:
        """What an answer to a question about no waiting weight has carried out; None for nothing."""
        if self.load is not None and answer is Answer.YES:
            return Instruction(t_ns, Command(Verb.DRESSED_WEIGHT), heard, (self.load,))
        if self.carries_out is not None and answer is Answer.YES:
            return replace(self.carries_out, t_ns=t_ns, heard=self.carries_out.heard or heard)
        if isinstance(answer, Answer) and answer in PLACES:
            answer = self.question.options[PLACES.index(answer)]
        if self.carries_out is not None and isinstance(answer, Call):
            return replace(
                self.carries_out,
                t_ns=t_ns,
                command=replace(self.carries_out.command, call=answer),
                heard=heard,
            )
        return None


class Dialogue:
    """Keeps at most one question open; ignoring it is always allowed."""

    def __init__(self, settings: PairingSettings) -> None:
        self._settings = settings
        self._number = 0
        self.open: OpenQuestion | None = None

    def ask(
        self,
        t_ns: int,
        kind: QuestionKind,
        options: tuple[Call, ...],
        weight: Weight,
        said: SpokenCall | None,
    ) -> Question:
        """Open a question; the caller has made sure that none is open."""
        self._number += 1
        weight.asked = kind
        weight.tray_asked |= kind is QuestionKind.TRAY
        question = Question(t_ns, self._number, kind, options, weight.net_mg)
        self.open = OpenQuestion(question, weight, said)
        return question

    def ask_dressed(self, t_ns: int, load: Plateau) -> Question:
        """Ask whether a load was the carcass; the caller has made sure that nothing else is open."""
        self._number += 1
        question = Question(t_ns, self._number, QuestionKind.DRESSED_WEIGHT, (), load.value_mg)
        self.open = OpenQuestion(question, None, None, load)
        return question

    def ask_rename(self, renames: Instruction, call: Call, mass_mg: int) -> Question:
        """Ask whether the last piece is truly that; the caller has made sure that nothing else is open."""
        self._number += 1
        question = Question(renames.t_ns, self._number, QuestionKind.CONFIRM, (call,), mass_mg)
        self.open = OpenQuestion(question, None, None, carries_out=renames)
        return question

    def go_over(
        self, t_ns: int, kind: QuestionKind, options: tuple[Call, ...], piece: Nameless, replied: Replied
    ) -> Question:
        """Ask about a piece without a name; the caller has made sure that nothing else is open."""
        self._number += 1
        question = Question(t_ns, self._number, kind, options, piece.mass_mg, piece.piece)
        command = Command(Verb.THAT_WAS, call=options[0] if options else None)
        renames = Instruction(t_ns, command, "", piece=piece.piece)
        self.open = OpenQuestion(question, None, None, carries_out=renames, replied=replied)
        return question

    def ask_tag(self, tags: Instruction) -> Question:
        """Ask whether a tag was heard right; the caller has made sure that nothing else is open."""
        self._number += 1
        question = Question(tags.t_ns, self._number, QuestionKind.TAG, (), 0, digits=tags.command.digits)
        self.open = OpenQuestion(question, None, None, carries_out=tags)
        return question

    @property
    def gone_over(self) -> Replied | None:
        """What was said of the piece that is gone over; None where no such question is open."""
        return self.open.replied if self.open is not None else None

    @property
    def about(self) -> Weight | None:
        """The weight that is asked about; None where no question is open, or one about something else."""
        return self.open.weight if self.open is not None else None

    @property
    def since_ns(self) -> int:
        """When the open question was asked; 0 where none is open."""
        return self.open.question.t_ns if self.open is not None else 0

    @property
    def asked_mg(self) -> int:
        """The mass that is asked about; 0 where no question is open."""
        return self.open.question.net_mg if self.open is not None else 0

    @property
    def only_offers(self) -> bool:
        """Whether the open question offers what was itself doubtful; see `OpenQuestion.offered`."""
        return self.open is not None and self.open.offered

    @property
    def must_wait(self) -> bool:
        """Whether a question about a piece would have to wait: another one is open."""
        return self.open is not None and self.open.weight is not None

    def close(self, t_ns: int, answer: Answer | Call | None) -> QuestionClosed:
        """Close the open question with an answer, or lapsed."""
        assert self.open is not None
        question, self.open = self.open.question, None
        return QuestionClosed(t_ns, question, answer)

    def give_way(self, t_ns: int) -> Iterator[QuestionClosed]:
        """A question about the carcass gives way to one about a piece."""
        if self.open is not None and not self.must_wait:
            yield self.close(t_ns, None)

    def lapsed(self, t_ns: int) -> OpenQuestion | None:
        """The open question, when nobody has answered it in time."""
        if self.open is None:
            return None
        is_list = self.open.question.kind is QuestionKind.CHOOSE
        longest_ns = self._settings.list_open_ns if is_list else self._settings.question_open_ns
        if t_ns - self.open.question.t_ns <= longest_ns:
            return None
        return self.open

    def takes_doubtful(self, call: Call) -> bool:
        """As `takes`, for a call that the gate refused: it settles no question that was doubtful itself."""
        if self.open is not None and self.open.replied is not None:
            return any(call.same_piece(option) for option in self.open.question.options)
        return self.takes(call) and not self.only_offers

    def doubtful_answer(self, utterance: Utterance) -> Answer | None:
        """What a refused utterance answers all the same; see `doubt.doubtful_answer`."""
        return doubtful_answer(utterance, self.open.question, self._settings) if self.open else None

    def takes(self, call: Call) -> bool:
        """Whether this call answers the open question rather than naming the next piece.

        "Which?" and a list take one of their options; "a second left shoulder?" takes the same cut, either
        side. "What was that?" and what yes or no answers take nothing here: the call is paired with
        the weight as usual. A piece that is gone over takes any: nothing else waits for a name by then.
        """
        if self.open is None:
            return False
        question = self.open.question
        if question.piece is not None:
            return True
        match question.kind:
            case QuestionKind.WHICH | QuestionKind.CHOOSE:
                return any(call.same_piece(option) for option in question.options)
            case QuestionKind.CONFIRM:
                return any(call.cut == option.cut for option in question.options)
            case _:
                return False
