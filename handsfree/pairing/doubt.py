"""Calls the gate refused, remembered for a weight that no clear call claims."""

from __future__ import annotations

from collections.abc import Iterator
from math import exp, inf

from handsfree.pairing.judging import Judge, Judgement
from handsfree.pairing.messages import SpeechRefused
from handsfree.pairing.queues import Waiting
from handsfree.pairing.settings import PairingSettings
from handsfree.pairing.waiting import SpokenCall, Weight
from handsfree.speech.meaning import Call
from handsfree.speech.messages import Refusal, Utterance


class DoubtfulCalls:
    """The scale is the second gate: beside a waiting weight a doubtful call may be believed.

    One that is never needed ends as what it was, refused speech.
    """

    def __init__(self, settings: PairingSettings, judge: Judge, waiting: Waiting) -> None:
        self._settings = settings
        self._judge = judge
        self._waiting = waiting
        self._calls: list[SpokenCall] = []

    def takes(self, utterance: Utterance) -> bool:
        """Whether this refused utterance is a call worth remembering; if so it is."""
        call = self.call_in(utterance)
        if call is None:
            return False
        self._calls.append(SpokenCall(call, utterance))
        return True

    def call_in(self, utterance: Utterance) -> Call | None:
        """The call a refused utterance may have been, None when it is too unlikely to remember."""
        if utterance.refusal is not Refusal.NOT_LIKE_SPEECH_WE_KNOW or not utterance.hypotheses:
            return None
        meaning = utterance.hypotheses[0].meaning
        likely = utterance.confidence >= self._settings.doubtful_least
        return meaning if likely and isinstance(meaning, Call) else None

    def best_for(self, weight: Weight) -> tuple[SpokenCall, Judgement] | None:
        """The likeliest call for a weight, and what it names; None when none is likely enough to ask."""
        rated = [(said, self._judged(said, weight)) for said in self._calls]
        likely = [
            (said, judged)
            for said, judged in rated
            if judged is not None and judged.probability >= self._settings.doubtful_ask
        ]
        return max(likely, key=lambda pair: pair[1].probability, default=None)

    def _judged(self, said: SpokenCall, weight: Weight) -> Judgement | None:
        timing = self._waiting.timing(said, weight)
        if timing == -inf:
            return None
        return self._judge.judge(said, weight, odds=exp(timing), accept=self._settings.doubtful_accept)

    def use(self, said: SpokenCall) -> None:
        """This call was needed; it and those before it are done with."""
        self._calls = self._calls[self._calls.index(said) + 1 :]

    def expire(self, t_ns: int) -> Iterator[SpeechRefused]:
        """Those that have waited longer than a call may."""
        longest_ns = self._settings.call_before_ns + self._settings.settle_allowance_ns
        longest_ns += self._settings.ask_after_ns
        for said in list(self._calls):
            if t_ns - said.utterance.end_ns > longest_ns:
                self._calls.remove(said)
                yield self._refused(t_ns, said)

    def give_up(self, t_ns: int) -> Iterator[SpeechRefused]:
        """All of them, refused after all."""
        calls, self._calls = self._calls, []
        for said in calls:
            yield self._refused(t_ns, said)

    def _refused(self, t_ns: int, said: SpokenCall) -> SpeechRefused:
        return SpeechRefused(t_ns, said.utterance, Refusal.NOT_LIKE_SPEECH_WE_KNOW.value)
