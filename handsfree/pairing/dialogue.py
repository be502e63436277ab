"""The one question that may be open, and what answers it."""

from __future__ import annotations

from dataclasses import dataclass

from handsfree.pairing.messages import Question, QuestionClosed, QuestionKind
from handsfree.pairing.settings import PairingSettings
from handsfree.pairing.waiting import SpokenCall, Weight
from handsfree.speech.meaning import Answer, Call
from handsfree.weighing.messages import Plateau


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
        question = Question(t_ns, self._number, kind, options, weight.net_mg)
        self.open = OpenQuestion(question, weight, said)
        return question

    def ask_dressed(self, t_ns: int, load: Plateau) -> Question:
        """Ask whether a load was the carcass; the caller has made sure that nothing else is open."""
        self._number += 1
        question = Question(t_ns, self._number, QuestionKind.DRESSED_WEIGHT, (), load.value_mg)
        self.open = OpenQuestion(question, None, None, load)
        return question

    @property
    def must_wait(self) -> bool:
        """Whether a question about a piece would have to wait: another one is open."""
        return self.open is not None and self.open.weight is not None

    def close(self, t_ns: int, answer: Answer | Call | None) -> QuestionClosed:
        """Close the open question with an answer, or lapsed."""
        assert self.open is not None
        number = self.open.question.number
        self.open = None
        return QuestionClosed(t_ns, number, answer)

    def lapsed(self, t_ns: int) -> OpenQuestion | None:
        """The open question, when nobody has answered it in time."""
        if self.open is None or t_ns - self.open.question.t_ns <= self._settings.question_open_ns:
            return None
        return self.open

    def takes(self, call: Call) -> bool:
        """Whether this call answers the open question rather than naming the next piece.

        "Which?" takes one of its options; "a second left shoulder?" takes the same cut, either
        side. "What was that?" and what yes or no answers take nothing here: the call is paired with
        the weight as usual.
        """
        if self.open is None:
            return False
        question = self.open.question
        match question.kind:
            case QuestionKind.WHICH:
                return any((call.cut, call.side) == (o.cut, o.side) for o in question.options)
            case QuestionKind.CONFIRM:
                return any(call.cut == option.cut for option in question.options)
            case QuestionKind.WHAT_WAS_THAT | QuestionKind.TRAY | QuestionKind.DRESSED_WEIGHT:
                return False
