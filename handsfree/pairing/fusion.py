"""Sound, weight and the state of the carcass decide together which reading a weight has. Pure.

For a weight w and an utterance with readings c, Bayes' rule in logarithms:

    log P(c | sound, w, S) = s log p(c | sound) + log P(c | S) + log p(w | c, S) / p(w) - log Z

with s, how far the engine's probabilities are believed (`PairingSettings.sound_weight`), and Z the sum
over the readings that were heard and "no call at all". S is the state of the carcass: what the plan
still expects, what such a piece of it usually weighs. The plan and the weight only weigh readings
against each other; a cut that no engine heard is never among them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from math import exp, log, pi, sqrt

from handsfree.pairing.ports import CarcassInHand, Usual
from handsfree.pairing.settings import PairingSettings
from handsfree.speech.meaning import Call
from handsfree.speech.messages import Hypothesis, Utterance

#: Least probability a reading is given, so that no logarithm is infinite.
LEAST = 1e-6


@dataclass(frozen=True, slots=True)
class Reading:
    """One reading of an utterance held against one weight. Parts are natural logarithms."""

    call: Call
    text: str
    """As the engine heard it."""
    sound: float
    """log p(c | sound): of the engine alone, every kind of phrase taken for equally likely."""
    plan: float
    """log P(c | S) beside a piece that the plan expects: 0 or less."""
    weight: float
    """How much likelier this weight is for such a piece than for any piece at all; 0 if not known."""
    probability: float
    """All of it together, 0 to 1; what all readings lack to 1 is "no call"."""
    against: str = ""
    """What the usual weight rests on (`ports.Usual.against`); empty where none is known."""


class Fusion:
    """Holds utterances against weights."""

    def __init__(
        self,
        settings: PairingSettings,
        carcass: CarcassInHand,
        supposed_mg: Callable[[], int | None] = lambda: None,
    ) -> None:
        self._settings = settings
        self._carcass = carcass
        self._supposed_mg = supposed_mg

    def readings(self, utterance: Utterance, net_mg: int, *, odds: float = 1.0) -> tuple[Reading, ...]:
        """The calls this utterance may have been, likeliest first, beside a weight of `net_mg`.

        Args:
            utterance: With its n-best readings.
            net_mg: The weight; one that is not positive tells nothing.
            odds: How much likelier any call is than none for reasons outside both: how well the two
                fit in time.
        """
        parts, nothing = self._parts(utterance, net_mg)
        likelihoods = [exp(self._together(*part[2:])) for part in parts]
        total = sum(likelihoods) + nothing / (self._settings.weight_waiting_odds * odds)
        readings = [
            Reading(call, text, sound, plan, weight, likelihood / total, self._against(call))
            for (call, text, sound, plan, weight), likelihood in zip(parts, likelihoods, strict=True)
        ]
        return tuple(sorted(readings, key=lambda reading: -reading.probability))

    def remembered(self, heard: Iterable[tuple[Call, float]], net_mg: int) -> tuple[Reading, ...]:
        """Calls that were heard at some time, likeliest first, held against a weight as things stand now.

        Args:
            heard: Each with its log probability by sound; of one heard more than once the best counts.
            net_mg: The weight.
        """
        best: dict[Call, float] = {}
        for call, sound in heard:
            best[call] = max(sound, best.get(call, sound))
        parts = [
            (call, sound, self._plan(call), self.weight_evidence_for(call, net_mg))
            for call, sound in best.items()
        ]
        total = sum(exp(self._together(*each[1:])) for each in parts)
        found = (
            Reading(call, call.words(), sound, plan, weight, exp(self._together(sound, plan, weight)) / total)
            for call, sound, plan, weight in parts
        )
        return tuple(sorted(found, key=lambda reading: -reading.probability))

    def claim(self, utterance: Utterance, net_mg: int) -> float:
        """Log likelihood that the utterance names this weight, by sound, plan and usual weight."""
        parts, _ = self._parts(utterance, net_mg)
        return _log_sum(self._together(*part[2:]) for part in parts)

    def standing(self, utterance: Utterance) -> tuple[float, float]:
        """Log likelihoods, on the scale of `claim`, of its being a call of whatever weight, and no call."""
        parts, nothing = self._parts(utterance, 0)
        is_call = _log_sum(self._together(sound) for _, _, sound, _, _ in parts)
        return is_call, log(nothing / self._settings.weight_waiting_odds)

    def to_come(self, utterance: Utterance) -> float:
        """Log likelihood, on the scale of `claim`, of its being a call of a weight still to come.

        A call off the plan is as strange there as beside a weight that is there.
        """
        parts, _ = self._parts(utterance, 0)
        return _log_sum(self._together(sound, plan) for _, _, sound, plan, _ in parts)

    def _together(self, sound: float, plan: float = 0.0, weight: float = 0.0) -> float:
        """All evidence for a reading, the sound as far as it is believed."""
        return self._settings.sound_weight * sound + plan + weight

    def _parts(
        self, utterance: Utterance, net_mg: int
    ) -> tuple[list[tuple[Call, str, float, float, float]], float]:
        probabilities, nothing = by_sound(utterance, self._settings.close_score)
        # Wordings of one entry, "left haunch" and "haunch left for prime", are one reading: the likeliest's.
        alike: dict[Call, tuple[Call, str, float]] = {}
        for heard, probability in sorted(
            zip(utterance.hypotheses, probabilities, strict=True), key=lambda each: -each[1]
        ):
            if isinstance(call := heard.meaning, Call):
                entry = replace(call, destination=self._carcass.goes_to(call))
                first, text, so_far = alike.get(entry, (call, heard.text, 0.0))
                alike[entry] = (first, text, so_far + probability)
        parts = [
            (
                call,
                text,
                log(max(probability, LEAST)),
                self._plan(call),
                self.weight_evidence_for(call, net_mg),
            )
            for call, text, probability in alike.values()
        ]
        return parts, max(nothing, LEAST) * self._misheard(net_mg)

    def _misheard(self, net_mg: int) -> float:
        """How much likelier the weight is beside a call that is none of the readings than for any piece.

        Such a call was as a rule for a piece the plan still expects: a weight that fits one of those speaks
        against what was heard, though none of them is ever chosen for it.
        """
        due = self._carcass.outstanding() if net_mg > 0 else ()
        if not due:
            return 1.0
        fitting = sum(exp(self.weight_evidence_for(call, net_mg)) for call in due) / len(due)
        return 1.0 - self._settings.misheard_share * (1.0 - fitting)

    def _plan(self, call: Call) -> float:
        settings, several = self._settings, call.count > 1
        number = settings.not_counted if several and not self._carcass.is_counted(call) else 0.0
        if self._carcass.is_complete(call):
            return settings.complete_already + number
        return number if self._carcass.is_expected(call) else settings.off_plan + number

    def _against(self, call: Call) -> str:
        usual = self.usual(call)
        return usual.against if usual is not None else ""

    def usual(self, call: Call) -> Usual | None:
        """What the called pieces usually weigh, with a provisional dressed weight where there is no other."""
        return self._carcass.usual(call, self._supposed_mg())

    def weight_evidence_for(self, call: Call, net_mg: int) -> float:
        """How much likelier this weight is for these pieces than for any, in logarithms; 0 if unknown."""
        usual = self.usual(call)
        return (
            0.0 if usual is None or net_mg <= 0 else weight_evidence(usual, net_mg, self._settings.odd_weight)
        )


def _log_sum(logarithms: Iterable[float]) -> float:
    return log(max(sum(exp(each) for each in logarithms), LEAST**2))


def weight_evidence(usual: Usual, net_mg: int, odd: float) -> float:
    """Log p(w | c) / p(w): how much likelier a weight is for this piece than for any.

    p(w | c) is log-normal, mixed with a share `odd` of pieces cut in a way nobody foresaw, which weigh
    anything; so a likely call is never ruled out by its weight alone. p(w) is flat in the logarithm
    between 5 g and 50 kg: what a piece may weigh when nothing is known of it.
    """
    deviation = log(net_mg / usual.median_mg) / usual.sigma
    density = exp(-0.5 * deviation**2) / (usual.sigma * sqrt(2 * pi))
    return log((1 - odd) * density / _ANY_DENSITY + odd)


_ANY_DENSITY = 1 / log(50_000 / 5)


def by_sound(utterance: Utterance, close_score: float) -> tuple[list[float], float]:
    """Probability of each reading by sound alone, and of none of them; together 1.

    An engine that gives calibrated probabilities is believed. From others there is the confidence in
    the best reading: what it lacks to 1 is shared half by the rivals, by how close they come (a
    factor e for each `close_score` of log likelihood per frame), half by "none of these".
    """
    hypotheses = utterance.hypotheses
    if not hypotheses:
        return [], 1.0
    given = [heard.probability for heard in hypotheses if heard.probability is not None]
    if len(given) == len(hypotheses):
        total = max(sum(given), 1.0)
        return [each / total for each in given], max(0.0, 1.0 - sum(given))
    rivals = [_closeness(hypotheses[0], rival, close_score) for rival in hypotheses[1:]]
    doubt = 1.0 - utterance.confidence
    shared = doubt / 2 * min(1.0, sum(rivals))
    each = [shared * rival / sum(rivals) for rival in rivals]
    return [utterance.confidence, *each], doubt - shared


def _closeness(best: Hypothesis, rival: Hypothesis, close_score: float) -> float:
    return exp(-max(0.0, best.score - rival.score) / close_score)
