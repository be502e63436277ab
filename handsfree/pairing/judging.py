"""Whether a call may name its weight without a question, and if not, which question. Pure."""

from __future__ import annotations

from collections.abc import Iterator

from handsfree.pairing.messages import QuestionKind
from handsfree.pairing.ports import CarcassInHand
from handsfree.pairing.settings import PairingSettings
from handsfree.pairing.waiting import SpokenCall, Weight
from handsfree.speech.meaning import Call

Doubt = tuple[QuestionKind, tuple[Call, ...]]
"""What to ask, and the options."""


class Judge:
    """Holds a reading against the plan, the weight and its rivals.

    Only readings that were heard are ever offered: the plan and the weight never choose a cut.
    """

    def __init__(self, settings: PairingSettings, carcass: CarcassInHand) -> None:
        self._settings = settings
        self._carcass = carcass

    def doubt(self, said: SpokenCall, weight: Weight) -> Doubt | None:
        """The question that must be asked before this call names this weight; None for none."""
        if self._carcass.is_complete(said.call):
            return QuestionKind.CONFIRM, (said.call,)
        if self.is_unlikely(said.call, weight):
            fitting = next(
                (
                    call
                    for call in _rivals(said)
                    if self._surprise(call, weight) <= self._settings.fitting_sigma
                ),
                None,
            )
            if fitting is None:
                return QuestionKind.CONFIRM, (said.call,)
            return QuestionKind.WHICH, (said.call, fitting)
        rival = self._close_rival(said)
        if rival is not None and not self.is_unlikely(rival, weight):
            return QuestionKind.WHICH, (said.call, rival)
        return None

    def is_unlikely(self, call: Call, weight: Weight) -> bool:
        """Whether hardly any such piece of this carcass weighs this much or this little."""
        return self._surprise(call, weight) > self._settings.unlikely_sigma

    def _surprise(self, call: Call, weight: Weight) -> float:
        return self._carcass.surprise(call, weight.net_mg) or 0.0

    def _close_rival(self, said: SpokenCall) -> Call | None:
        """The second reading, when it is another cut too close to the first to choose alone."""
        hypotheses = said.utterance.hypotheses
        if len(hypotheses) < 2 or said.utterance.confidence >= self._settings.sure_confidence:
            return None
        rival = hypotheses[1]
        near = hypotheses[0].score - rival.score <= self._settings.close_score
        if near and isinstance(rival.meaning, Call) and rival.meaning.cut != said.call.cut:
            return rival.meaning
        return None


def _rivals(said: SpokenCall) -> Iterator[Call]:
    for hypothesis in said.utterance.hypotheses[1:]:
        meaning = hypothesis.meaning
        if isinstance(meaning, Call) and meaning.cut and meaning.cut != said.call.cut:
            yield meaning
