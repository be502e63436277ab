"""Whether a call may name its weight without a question, and if not, which question. Pure."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import exp, log

from handsfree.pairing.fusion import Fusion, Reading
from handsfree.pairing.messages import QuestionKind
from handsfree.pairing.ports import CarcassInHand
from handsfree.pairing.settings import PairingSettings
from handsfree.pairing.waiting import SpokenCall, Weight
from handsfree.speech.meaning import Call


@dataclass(frozen=True, slots=True)
class Doubt:
    """What to ask before a weight is named."""

    kind: QuestionKind
    options: tuple[Call, ...]


@dataclass(frozen=True, slots=True)
class Judgement:
    """The likeliest reading of a call beside its weight, and what must be asked first."""

    said: SpokenCall
    """With the likeliest reading as its call."""
    probability: float
    doubt: Doubt | None


class Judge:
    """Holds readings against the plan, the weight and each other.

    Only readings that were heard are ever taken or offered: the plan and the weight never choose a
    cut that was not.
    """

    def __init__(self, settings: PairingSettings, carcass: CarcassInHand) -> None:
        self._settings = settings
        self._carcass = carcass
        self._fusion = Fusion(settings, carcass)

    def claim(self, said: SpokenCall, weight: Weight) -> float:
        """Log likelihood that a call names a weight, time left aside; see `Fusion.claim`."""
        return self._fusion.claim(said.utterance, weight.net_mg)

    def standing(self, said: SpokenCall) -> tuple[float, float]:
        """Log likelihoods of its being a call, and of its being none; see `Fusion.standing`."""
        return self._fusion.standing(said.utterance)

    def may_be(self, call: Call, weight: Weight) -> bool:
        """Whether a call names a cut, and one that may weigh this."""
        return bool(call.cut) and not self._is_unlikely(call, weight)

    def judge(self, said: SpokenCall, weight: Weight, *, odds: float = 1.0) -> Judgement:
        """What this call names this weight, and whether it must be asked.

        Args:
            said: The call.
            weight: The weight it was aligned with.
            odds: How much likelier the two belong together for other reasons.
        """
        readings = self._fusion.readings(said.utterance, weight.net_mg, odds=odds)
        if not readings:
            return Judgement(said, said.utterance.confidence, None)
        best = readings[0]
        least = self._settings.doubtful_accept if said.doubtful else self._settings.accept
        chosen = replace(said, call=best.call, readings=readings)
        return Judgement(chosen, best.probability, self._doubt(readings, weight, least))

    def _doubt(self, readings: tuple[Reading, ...], weight: Weight, accept: float) -> Doubt | None:
        best = readings[0]
        sure = best.probability >= accept and exp(best.sound) >= self._settings.heard_least
        if sure and not self._carcass.is_complete(best.call) and not self._is_unlikely(best.call, weight):
            return None
        rival = next((each for each in readings[1:] if self._is_rival(each, best)), None)
        if rival is None:
            return Doubt(QuestionKind.CONFIRM, (best.call,))
        return Doubt(QuestionKind.WHICH, (best.call, rival.call))

    def _is_rival(self, reading: Reading, best: Reading) -> bool:
        """Whether a reading is likely enough to offer, and another piece than the best."""
        other = (reading.call.cut, reading.call.side) != (best.call.cut, best.call.side)
        return other and bool(reading.call.cut) and reading.probability >= self._settings.rival_least

    def _is_unlikely(self, call: Call, weight: Weight) -> bool:
        """Whether hardly any such piece of this carcass weighs this much or this little."""
        usual = self._carcass.usual(call)
        if usual is None or weight.net_mg <= 0:
            return False
        return abs(log(weight.net_mg / usual.median_mg)) > self._settings.unlikely_sigma * usual.sigma
