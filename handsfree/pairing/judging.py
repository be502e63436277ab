"""Whether a call may name its weight without a question, and if not, which question. Pure."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from math import exp, log

from handsfree.pairing.fusion import Fusion, Reading
from handsfree.pairing.messages import QuestionKind
from handsfree.pairing.ports import CarcassInHand
from handsfree.pairing.settings import PairingSettings
from handsfree.pairing.waiting import SpokenCall, Weight, is_among
from handsfree.speech.meaning import PLACES, Call, Side
from handsfree.speech.messages import Utterance


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

    Only readings that were heard are ever taken: the plan and the weight never choose a cut that was not.
    The other side of a cut that was heard may be asked about, and, when what was said to "what was that?" was
    not understood either, the one cut still to come that weighs this.
    """

    def __init__(
        self,
        settings: PairingSettings,
        carcass: CarcassInHand,
        supposed_mg: Callable[[], int | None] = lambda: None,
    ) -> None:
        self._settings = settings
        self._carcass = carcass
        self._fusion = Fusion(settings, carcass, supposed_mg)

    def claim(self, said: SpokenCall, weight: Weight) -> float:
        """Log likelihood that a call names a weight, time left aside; see `Fusion.claim`."""
        return self._fusion.claim(said.utterance, weight.net_mg)

    def standing(self, said: SpokenCall) -> tuple[float, float]:
        """Log likelihoods of its being a call, and of its being none; see `Fusion.standing`."""
        return self._fusion.standing(said.utterance)

    def to_come(self, said: SpokenCall) -> float:
        """Log likelihood of its being a call of a weight still to come; see `Fusion.to_come`."""
        return self._fusion.to_come(said.utterance)

    def may_be(self, call: Call, weight: Weight) -> bool:
        """Whether a call names a cut, and one that may weigh this."""
        return bool(call.cut) and not self._weighs_oddly(call, weight.net_mg)

    def worth_asking(self, judged: Judgement, weight: Weight, least: float) -> bool:
        """Whether what a doubtful call may name is worth a question about this weight.

        Args:
            judged: The call beside the weight.
            weight: What is asked about.
            least: How likely the call must be, unless the weight speaks for what would be offered.
        """
        if judged.doubt is None:
            return True
        call = judged.doubt.options[0]
        if weight.is_denied(call) or self._carcass.is_complete(call) or not self.may_be(call, weight):
            return False
        evidence = self._fusion.weight_evidence_for(call, weight.net_mg)
        return evidence >= self._settings.offer_weight or (evidence >= 0.0 and judged.probability >= least)

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
        doubt = self._doubt(readings, weight, least, again=said.again)
        call = doubt.options[0] if doubt is not None and doubt.kind is QuestionKind.CONFIRM else best.call
        return Judgement(replace(said, call=call, readings=readings), best.probability, doubt)

    def otherwise(self, said: SpokenCall, offered: Sequence[Call], weight: Weight) -> Judgement | None:
        """The judgement when a cut that was not offered surely is for the weight for which others were.

        Else None: it may be the next piece that is called while the question is left alone. Sure is what
        needs no question, and what the weight speaks for clearly more than for any that was offered.
        """
        judged = self.judge(said, weight)
        evidence = self._fusion.weight_evidence_for(judged.said.call, weight.net_mg)
        lead = min(
            evidence - max(0.0, self._fusion.weight_evidence_for(each, weight.net_mg)) for each in offered
        )
        return judged if judged.doubt is None and lead >= self._settings.clear_weight else None

    def stands(self, call: Call, utterance: Utterance, net_mg: int) -> bool:
        """Whether a call may settle a question: it was heard surely, or the weight does not speak against it.

        What was misheard once is misheard again: to hear the same a second time, just as badly, settles
        nothing where the weight is another piece's.
        """
        sure = utterance.confidence >= self._settings.accept
        return sure or self._fusion.weight_evidence_for(call, net_mg) >= 0.0

    def corrected(self, said: SpokenCall, mass_mg: int) -> tuple[Call, bool]:
        """The likeliest reading of a correction beside the mass it is for, and whether it needs no question.

        Nothing waits for a name any more, so it must stand by itself: it is as sure as sound, plan and mass
        make it, without the odds that a call comes beside a weight.
        """
        by_itself = 1 / self._settings.weight_waiting_odds
        every = self._fusion.readings(said.utterance, mass_mg, odds=by_itself)
        heard = [each for each in every if exp(each.sound) >= self._settings.heard_least]
        if not heard:
            return said.call, not self._weighs_oddly(said.call, mass_mg)
        best = max(heard, key=lambda each: self._settings.sound_weight * each.sound + each.weight)
        if best.weight < 0.0 and exp(best.sound) < self._settings.clear_sound:
            fitting = [each for each in self._by_weight(every) if each.weight >= self._settings.offer_weight]
            if fitting:
                return fitting[0].call, False
        sure = best.probability >= self._settings.accept
        return best.call, sure and not self._weighs_oddly(best.call, mass_mg)

    def suggestion(self, heard: Utterance, weight: Weight) -> Call | None:
        """The one cut still to come by plan that weighs this; None where there is none or another comes near.

        Args:
            heard: What was said and not understood: it may tell the side.
            weight: What is asked about.
        """
        due = [
            (self._fusion.weight_evidence_for(call, weight.net_mg), call)
            for call in self._carcass.outstanding()
            if not weight.is_denied(call)
        ]
        due.sort(key=lambda each: (-each[0], -self._sided(heard, each[1])))
        if not due or due[0][0] < self._settings.offer_weight:
            return None
        best, others = due[0], [each for each in due if each[1].cut != due[0][1].cut]
        near = any(best[0] - each[0] < self._settings.suggestion_lead for each in others)
        sides = [each[1] for each in due if each[1].cut == best[1].cut]
        return None if near else max(sides, key=lambda call: self._sided(heard, call))

    def shortlist(self, heard: Utterance, weight: Weight) -> tuple[Call, ...]:
        """What may be read out to choose from, likeliest first; empty where it is not several.

        Args:
            heard: All that was said of this weight, weighed together.
            weight: What is asked about.
        """
        readings = self._fusion.readings(heard, weight.net_mg)
        found = self._likely(
            readings, weight.net_mg, weight.denied, due_worth=lambda call: self._sided(heard, call)
        )
        return tuple(call for _, call in found) if len(found) > 1 else ()

    def names_for(
        self, heard: Sequence[tuple[Call, float]], mass_mg: int, denied: Sequence[Call], *, several: bool
    ) -> tuple[Call, ...]:
        """What a piece that has been in the ledger without a name may be, likeliest first; often none.

        Only the likeliest where it leads, unless `several` are wanted.

        Args:
            heard: Calls that may have been meant for it, each with its log probability by sound.
            mass_mg: What it weighs.
            denied: What it was said not to be.
            several: Whether what comes after one that leads is wanted too.
        """
        readings = self._fusion.remembered(heard, mass_mg)
        clear = any(exp(each.sound) >= self._settings.clear_sound for each in readings)
        found = self._likely(readings, mass_mg, denied, sound_share=1.0 if clear else None)
        leads = len(found) > 1 and found[0][0] - found[1][0] >= self._settings.suggestion_lead
        return tuple(call for _, call in found[: 1 if leads and not several else None])

    def _likely(
        self,
        readings: Sequence[Reading],
        mass_mg: int,
        denied: Sequence[Call],
        due_worth: Callable[[Call], float] = lambda _call: 0.0,
        sound_share: float | None = None,
    ) -> list[tuple[float, Call]]:
        """What was heard and what is still to come, by how well it may be offered, but what is far behind."""
        share = self._settings.offer_sound if sound_share is None else sound_share
        worth = [
            (self._offer_worth(each, share), self._offered(each.call, denied))
            for each in readings
            # A number of any cut weighs right: it must have been heard.
            if each.call.count == 1 or exp(each.sound) >= self._settings.heard_least
        ]
        worth += [
            (
                share * self._settings.unheard_sound
                + self._fusion.weight_evidence_for(call, mass_mg)
                + due_worth(call),
                call,
            )
            for call in self._carcass.outstanding()
        ]
        worth.sort(key=lambda each: -each[0])
        found: list[tuple[float, Call]] = []
        for value, call in worth:
            known = is_among(call, denied) or any(call.same_piece(each) for _, each in found)
            if known or not call.cut or self._weighs_oddly(call, mass_mg) or self._carcass.is_complete(call):
                continue
            if not found or value >= found[0][0] - self._settings.list_reach:
                found.append((value, call))
        return found[: len(PLACES)]

    def _sided(self, heard: Utterance, call: Call) -> float:
        """How likely the side of a call is by what was heard, whatever the cut."""
        return sum(
            each.probability or 0.0
            for each in heard.hypotheses
            if isinstance(each.meaning, Call) and each.meaning.side is call.side
        )

    def _doubt(
        self, readings: tuple[Reading, ...], weight: Weight, accept: float, *, again: bool
    ) -> Doubt | None:
        best = readings[0]
        sure = best.probability >= accept and exp(best.sound) >= self._settings.heard_least
        if (
            sure
            # What was misheard once is misheard again: two sayings do not stand against the weight.
            and (best.weight >= 0.0 or not again)
            and not self._carcass.is_complete(best.call)
            and not self._weighs_oddly(best.call, weight.net_mg)
        ):
            return None
        best, *others = self._as_offered(readings)
        likely = self._offered(best.call, weight.denied)
        rivals = (self._offered(each.call, weight.denied) for each in others if self._is_rival(each, best))
        rival = next((each for each in rivals if not self._same_entry(each, likely)), None)
        if rival is None:
            return Doubt(QuestionKind.CONFIRM, (likely,))
        return Doubt(QuestionKind.WHICH, (likely, rival))

    def _as_offered(self, readings: tuple[Reading, ...]) -> list[Reading]:
        """What may be offered, first what is best: where the sound is no help, the weight leads."""
        if max(exp(each.sound) for each in readings) >= self._settings.clear_sound:
            return list(readings)
        ordered = self._by_weight(readings)
        fitting = ordered[0].weight >= 0.0
        return [each for each in ordered if each.weight >= 0.0 or not fitting]

    def _by_weight(self, readings: Sequence[Reading]) -> list[Reading]:
        share = self._settings.offer_sound
        return sorted(readings, key=lambda each: self._offer_worth(each, share), reverse=True)

    def _offer_worth(self, each: Reading, sound_share: float) -> float:
        """What an offer goes by; where the sound is little help a share of it counts."""
        several = self._settings.faint_count if each.call.count > 1 else 0.0
        return sound_share * each.sound + each.plan + each.weight + several

    def _offered(self, call: Call, denied: Sequence[Call]) -> Call:
        """What is asked about: the other side when by plan this one is all in and the other is not.

        Left and right are a word that the sound can hardly tell apart; the plan can, but it only asks: the
        other side is never entered without a word from the butcher.
        """
        if call.side is None or not self._carcass.is_complete(call):
            return call
        other = replace(call, side=Side.RIGHT if call.side is Side.LEFT else Side.LEFT)
        due = self._carcass.is_expected(other) and not self._carcass.is_complete(other)
        return other if due and not is_among(other, denied) else call

    def _is_rival(self, reading: Reading, best: Reading) -> bool:
        """Whether a reading is likely enough to offer, and another piece than the best or bound elsewhere."""
        return (
            not self._same_entry(reading.call, best.call)
            and bool(reading.call.cut)
            and reading.probability >= self._settings.rival_least
        )

    def _same_entry(self, one: Call, other: Call) -> bool:
        return one.same_piece(other) and self._carcass.goes_to(one) == self._carcass.goes_to(other)

    def _weighs_oddly(self, call: Call, mass_mg: int) -> bool:
        """Whether hardly any such piece of this carcass weighs this much or this little."""
        usual = self._fusion.usual(call)
        if usual is None or mass_mg <= 0:
            return False
        return abs(log(mass_mg / usual.median_mg)) > self._settings.unlikely_sigma * usual.sigma
