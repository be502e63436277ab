"""What happened in a session, as plain values for programs and lines for people."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from handsfree.answering.messages import Saying
from handsfree.clerk import Outcome
from handsfree.cli.words import meaning_json
from handsfree.clock import seconds
from handsfree.ledger.entries import body_to_json
from handsfree.mass import format_g
from handsfree.pairing.messages import LoadPassed, Question, QuestionClosed, SpeechRefused
from handsfree.reconciliation.outcome import outcome_to_json
from handsfree.reporting.export import pieces_json
from handsfree.speech.meaning import Answer, Call
from handsfree.speech.messages import Utterance
from handsfree.wiring.replaying import Replayed


class SessionLog:
    """Collects what happened; `echo` gets each happening at once."""

    def __init__(self, echo: Callable[[dict[str, Any]], None] | None = None) -> None:
        self.utterances: list[dict[str, Any]] = []
        self.happenings: list[dict[str, Any]] = []
        self.questions: list[dict[str, Any]] = []
        self.refusals: list[dict[str, Any]] = []
        self.reconciliations: list[dict[str, Any]] = []
        self._echo = echo or (lambda _happening: None)

    def utterance(self, utterance: Utterance) -> None:
        """Note an utterance, taken or refused."""
        values = utterance_json(utterance)
        self.utterances.append(values)
        self._echo({"utterance": values})

    def outcome(self, outcome: Outcome, sayings: list[Saying]) -> None:
        """Note what came of a decision."""
        at_s = round(seconds(outcome.t_ns), 3)
        cause = outcome.cause
        match cause:
            case Question():
                self.questions.append(
                    {
                        "t_s": at_s,
                        "number": cause.number,
                        "kind": cause.kind.value,
                        "options": [option.words() for option in cause.options],
                        "net_g": format_g(cause.net_mg),
                        "entry": cause.piece,
                        "tag": cause.digits or None,
                        "answer": None,
                    }
                )
            case QuestionClosed():
                for asked in self.questions:
                    if asked["number"] == cause.question.number:
                        asked["answer"] = _answer(cause.answer)
            case SpeechRefused():
                self.refusals.append({"t_s": at_s, "what": "speech", "why": cause.why})
            case LoadPassed():
                grams = format_g(cause.change.delta_mg)
                self.refusals.append(
                    {
                        "t_s": at_s,
                        "what": "load",
                        "why": cause.reason.value,
                        "scale": cause.change.scale,
                        "g": grams,
                    }
                )
        if outcome.reconciliation is not None:
            self.reconciliations.append(outcome_to_json(outcome.reconciliation))
        happening = {
            "t_s": at_s,
            "cause": type(cause).__name__,
            "entries": [
                {"entry": entry.seq, "kind": type(entry.body).__name__, **body_to_json(entry.body)}
                for entry in outcome.entries
            ],
            "refused": outcome.refused,
            "answer": "; ".join(saying.text or saying.tone.value for saying in sayings),
        }
        if happening["entries"] or happening["refused"] or happening["answer"]:
            self.happenings.append(happening)
            self._echo(happening)

    def lines(self, outcome: Outcome, sayings: list[Saying]) -> list[str]:
        """The same for a person watching the terminal."""
        at_s = seconds(outcome.t_ns)
        said = [saying.text or f"({saying.tone.value})" for saying in sayings]
        return [f"{at_s:8.1f} s  {text}" for text in said]


def utterance_json(utterance: Utterance) -> dict[str, Any]:
    """An utterance as plain values: the form of `handsfree hear --json`."""
    return {
        "start_s": round(seconds(utterance.start_ns), 3),
        "end_s": round(seconds(utterance.end_ns), 3),
        "text": utterance.text,
        "accepted": utterance.refusal is None and bool(utterance.hypotheses),
        "confidence": round(utterance.confidence, 4),
        "refusal": utterance.refusal.value if utterance.refusal else None,
        "meaning": meaning_json(utterance.meaning),
        "alternatives": [
            {"text": each.text, "score": round(each.score, 5), "meaning": meaning_json(each.meaning)}
            for each in utterance.hypotheses[1:]
        ],
    }


def session_json(done: Replayed, log: SessionLog) -> dict[str, Any]:
    """A whole replay as plain values: the form of `handsfree replay --json`."""
    books = done.workplace.books
    carcasses = [carcass for number in sorted(done.carcasses) if (carcass := books.by_number(number))]
    return {
        "format": 1,
        "engine": done.engine,
        "duration_s": round(done.duration_s, 3),
        "pieces": [piece for piece in pieces_json(carcasses) if piece["status"] == "standing"],
        "struck": [piece for piece in pieces_json(carcasses) if piece["status"] == "struck"],
        "questions": log.questions,
        "refusals": log.refusals,
        "reconciliations": log.reconciliations,
        "open_carcass": books.current,
        "utterances": log.utterances,
        "warnings": list(done.warnings),
    }


def _answer(answer: Answer | Call | None) -> str | None:
    match answer:
        case None:
            return None
        case Answer():
            return answer.value
        case Call():
            return answer.words()
