"""Calls and weights that wait for each other."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from handsfree.pairing.fusion import Reading
from handsfree.pairing.messages import CallUnweighed, Method, PieceWeighed, QuestionKind, SpeechRefused
from handsfree.pairing.rhythm import lag_s
from handsfree.speech.meaning import Call, Command
from handsfree.speech.messages import Refusal, Utterance
from handsfree.weighing.messages import LoadChange


@dataclass(frozen=True, slots=True)
class SpokenCall:
    """A call heard, waiting for a weight."""

    call: Call
    utterance: Utterance
    doubtful: bool = False
    """Refused by the gate, and remembered: beside a weight that nothing clear claims it may be meant."""
    again: bool = False
    """Said a second time: what was heard the first time is weighed in."""
    readings: tuple[Reading, ...] = ()
    """Held against a weight, likeliest first; empty before that."""

    @property
    def heard(self) -> str:
        """The words of the reading that was taken."""
        return next(
            (reading.text for reading in self.readings if reading.call == self.call), self.utterance.text
        )

    @property
    def alternatives(self) -> tuple[str, ...]:
        """What else it may have been, in words."""
        heard = self.heard
        return tuple(each.text for each in self.utterance.hypotheses if each.text != heard)

    @property
    def confidence(self) -> float:
        """Probability, 0 to 1, of the call: held against a weight where it was, 0 where it was not heard."""
        if not self.readings:
            return self.utterance.confidence
        return next((each.probability for each in self.readings if each.call == self.call), 0.0)

    def unweighed(self, t_ns: int) -> CallUnweighed | SpeechRefused:
        """The decision that nothing was weighed for it; a doubtful one ends as refused speech."""
        if self.doubtful:
            return SpeechRefused(t_ns, self.utterance, Refusal.NOT_LIKE_SPEECH_WE_KNOW.value)
        return CallUnweighed(t_ns, self.call, self.utterance.text)


def correction(call: Call, utterance: Utterance) -> SpokenCall:
    """A call said as a correction, "that was left haunch", with whatever else it may have been."""
    heard = [
        replace(each, meaning=each.meaning.call)
        for each in utterance.hypotheses
        if isinstance(each.meaning, Command) and each.meaning.call is not None
    ]
    return SpokenCall(call, replace(utterance, hypotheses=tuple(heard)))


def is_among(call: Call, denied: Sequence[Call]) -> bool:
    """Whether a call is one of those that were denied; "no" to a destination leaves the piece."""
    return any(each.same_piece(call) and each.destination in {None, call.destination} for each in denied)


@dataclass(slots=True)
class Weight:
    """A load change (or a spoken weight) that may be a piece, waiting for a call."""

    net_mg: int
    u_mg: float
    method: Method
    onset_ns: int
    settled_ns: int
    change: LoadChange | None
    asked_ns: int | None = None
    """When "what was that?" was asked about it."""
    asked: QuestionKind | None = None
    """The last question asked about it."""
    reprieved_ns: int = 0
    """Start of the wait again, after an answer "no"."""
    denied: tuple[Call, ...] = ()
    """What it was said not to be."""
    tray_asked: bool = False
    """Whether it was asked about as a tray."""
    lists: int = 0
    """How often names were read out in a list for it."""
    suggested: bool = False
    """Whether something was offered for it that was not heard."""
    may_be_tray: bool = False
    """As heavy as a known tray, on a bare pan."""

    @property
    def on_top(self) -> bool:
        """Whether it was laid on top of another load."""
        return self.method is Method.TRAY_BUILDING

    @property
    def since_ns(self) -> int:
        """From when its wait for a call counts."""
        return max(self.settled_ns, self.reprieved_ns)

    def is_denied(self, call: Call) -> bool:
        """Whether it was said not to be this."""
        return is_among(call, self.denied)

    def is_answered_by(self, said: SpokenCall) -> bool:
        """Whether a call came after this weight was asked about."""
        return self.is_answered_by_sound(said.utterance)

    def is_answered_by_sound(self, utterance: Utterance) -> bool:
        """Whether something was said after this weight was asked about."""
        return self.asked_ns is not None and utterance.start_ns >= self.asked_ns

    def lag_s(self, said: SpokenCall) -> float:
        """Seconds between a call and this weight, or the question about it, as `rhythm.lag_s` counts them."""
        since_ns = self.since_ns
        if self.asked_ns is not None and self.is_answered_by(said):
            since_ns = max(since_ns, self.asked_ns)
        return lag_s(said.utterance, self.onset_ns, since_ns)

    def piece(self, t_ns: int, said: SpokenCall | None, *, named: bool = True) -> PieceWeighed:
        """The decision that this is a piece, named by `said` (or only remembering what was heard)."""
        if said is None:
            return PieceWeighed(
                t_ns, None, self.net_mg, self.u_mg, self.method, self.change, confidence=0.0, asked=self.asked
            )
        return PieceWeighed(
            t_ns=t_ns,
            call=said.call if named else None,
            net_mg=self.net_mg,
            u_mg=self.u_mg,
            method=self.method,
            change=self.change,
            heard=said.heard,
            confidence=said.confidence,
            alternatives=said.alternatives,
            readings=said.readings,
            lag_s=None if self.change is None or self.is_answered_by(said) else self.lag_s(said),
            asked=self.asked,
        )
