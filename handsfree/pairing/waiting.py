"""Calls and weights that wait for each other, and how well two of them fit in time."""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, inf

from handsfree.clock import seconds
from handsfree.pairing.messages import CallUnweighed, Method, PieceWeighed
from handsfree.pairing.settings import PairingSettings
from handsfree.speech.meaning import Call
from handsfree.speech.messages import Utterance
from handsfree.weighing.messages import LoadChange


@dataclass(frozen=True, slots=True)
class SpokenCall:
    """A call heard, waiting for a weight."""

    call: Call
    utterance: Utterance

    @property
    def alternatives(self) -> tuple[str, ...]:
        """What else it may have been, in words."""
        return tuple(hypothesis.text for hypothesis in self.utterance.hypotheses[1:])

    def unweighed(self, t_ns: int) -> CallUnweighed:
        """The decision that nothing was weighed for it."""
        return CallUnweighed(t_ns, self.call, self.utterance.text)


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
    reprieved_ns: int = 0
    """Start of the wait again, after an answer "no"."""

    @property
    def since_ns(self) -> int:
        """From when its wait for a call counts."""
        return max(self.settled_ns, self.reprieved_ns)

    def piece(self, t_ns: int, said: SpokenCall | None, *, named: bool = True) -> PieceWeighed:
        """The decision that this is a piece, named by `said` (or only remembering what was heard)."""
        return PieceWeighed(
            t_ns=t_ns,
            call=said.call if said is not None and named else None,
            net_mg=self.net_mg,
            u_mg=self.u_mg,
            method=self.method,
            change=self.change,
            heard=said.utterance.text if said is not None else "",
            confidence=said.utterance.confidence if said is not None else 0.0,
            alternatives=said.alternatives if said is not None else (),
        )


def lag_score(said: SpokenCall, weight: Weight, settings: PairingSettings) -> float:
    """Log score of a call and a weight belonging together by time alone; -inf outside the waits.

    A call said while the load was moving fits best (0); before and after, half-normal in the lag.
    """
    start_ns, end_ns = said.utterance.start_ns, said.utterance.end_ns
    onset_ns, settled_ns = weight.onset_ns, weight.since_ns
    if end_ns <= onset_ns:
        lag_ns, limit_ns, sigma_s = onset_ns - end_ns, settings.call_before_ns, settings.sigma_before_s
    elif start_ns >= settled_ns:
        lag_ns, limit_ns, sigma_s = start_ns - settled_ns, settings.call_after_ns, settings.sigma_after_s
    else:
        return 0.0
    if lag_ns > limit_ns:
        return -inf
    return -0.5 * (seconds(lag_ns) / sigma_s) ** 2


def gated_probability(said: SpokenCall, weight: Weight, settings: PairingSettings) -> float:
    """How likely a doubtful call was meant for a weight that no clear call has claimed.

    Bayes in odds: the gate's confidence, times how much likelier a call is beside a waiting weight,
    times how well it fits in time; 0 outside the waits.
    """
    confidence = min(said.utterance.confidence, 1 - 1e-9)
    odds = confidence / (1 - confidence) * settings.weight_waiting_odds
    odds *= exp(lag_score(said, weight, settings))
    return odds / (1 + odds)
