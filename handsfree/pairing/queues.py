"""The calls and weights that wait for each other, and which pair may be committed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, inf, log

from handsfree.clock import seconds
from handsfree.pairing.alignment import Costs, ToCome, align, margin_of
from handsfree.pairing.judging import Judge, Judgement
from handsfree.pairing.rhythm import Rhythms, lag_score
from handsfree.pairing.settings import PairingSettings
from handsfree.pairing.waiting import SpokenCall, Weight
from handsfree.speech.meaning import Call
from handsfree.speech.messages import Utterance
from handsfree.weighing.messages import LoadChange

_NO_CALL = Call("")
"""Of speech that is no call that is known."""


@dataclass(frozen=True, slots=True)
class Guess:
    """What a weight may be by a call too doubtful to name it."""

    heard: SpokenCall
    """As it waits."""
    judged: Judgement
    """Beside the weight."""


class Waiting:
    """Two queues in order of time; doubtful calls wait among the clear ones."""

    def __init__(self, settings: PairingSettings, judge: Judge, rhythms: Rhythms) -> None:
        self._settings = settings
        self._judge = judge
        self.rhythms = rhythms
        self.calls: list[SpokenCall] = []
        self.weights: list[Weight] = []

    def clear(self) -> None:
        """Everything that waited has been decided."""
        self.calls, self.weights = [], []

    def take_newest(self, asked: Weight | None) -> Weight | None:
        """The newest weight that is not yet in the ledger, out of the queue: the one asked about, if any."""
        if asked is None:
            return self.weights.pop() if self.weights else None
        if asked in self.weights:
            self.weights.remove(asked)
        return asked

    def last_near(self, weight: Weight, unclear: Utterance | None) -> Utterance | None:
        """What was last said that may have been for this weight and was not understood; often nothing.

        Args:
            weight: What waits.
            unclear: What was last not understood at all.
        """
        said = self.heard_of(weight)
        if said is not None:
            return said.utterance
        if unclear is None:
            return None
        in_time = self._fits(SpokenCall(_NO_CALL, unclear, doubtful=True), weight)
        return unclear if in_time else None

    def heard_of(self, weight: Weight) -> SpokenCall | None:
        """The last doubtful call that waits and may have been for this weight."""
        return next(reversed(self._doubtful_near(weight)), None)

    def _doubtful_near(self, weight: Weight) -> list[SpokenCall]:
        return [said for said in self.calls if said.doubtful and self._fits(said, weight)]

    def guess(self, weight: Weight) -> Guess | None:
        """The likeliest of the doubtful calls that wait near this weight, if it is worth offering.

        Not where other weights wait besides: the next call may then be for any of them.
        """
        if len(self.weights) > 1:
            return None
        guesses = [Guess(said, self.judged(said, weight)) for said in self._doubtful_near(weight)]
        best = max(guesses, key=lambda each: each.judged.probability, default=None)
        worth = best is not None and self._judge.worth_asking(best.judged, weight, self._settings.offer_least)
        return best if worth else None

    def next_pair(
        self,
        t_ns: int,
        *,
        at_once: bool,
        only_clear: bool = False,
        asked: Weight | None = None,
        but_not: Sequence[SpokenCall] = (),
    ) -> tuple[SpokenCall, Weight] | None:
        """The first pair of the best alignment that may be committed now.

        Args:
            t_ns: Now.
            at_once: Whether everything must be decided as it stands.
            only_clear: Whether doubtful calls are not committed for now, but to `asked`.
            asked: The weight that is asked about: any call may be the answer.
            but_not: Calls that are not committed for now either.
        """
        calls, weights, settings = self.calls, self.weights, self._settings
        if not calls or not weights:
            return None
        scores = [[self.score(said, weight) for weight in weights] for said in calls]

        def score(i: int, j: int) -> float:
            return scores[i][j]

        sizes = (len(calls), len(weights))
        costs = Costs(self._skips(), self._weight_skips(), crossed=settings.crossed_to_come)
        to_come = ToCome() if at_once else self._to_come(t_ns)
        best = align(*sizes, score, costs, to_come)
        for i, j in best.pairs:
            said, weight = calls[i], weights[j]
            if (said.doubtful and only_clear and weight is not asked) or said in but_not:
                continue
            if said.doubtful and not self.is_likely(said, weight):
                continue  # it only keeps its turn
            waited_ns = t_ns - max(said.utterance.heard_ns, weight.since_ns)
            # What is said to a question may also be the name of the piece that is about to be laid down.
            may_be_next = weight.is_answered_by(said) and self.rhythms.now.calls_first
            if (
                at_once
                or waited_ns >= (settings.answer_hold_ns if may_be_next else settings.commit_after_ns)
                or (
                    not said.doubtful
                    and not may_be_next
                    and margin_of((i, j), best, sizes, score, costs, to_come) >= settings.clear_margin
                )
            ):
                return said, weight
        return None

    def score(self, said: SpokenCall, weight: Weight) -> float:
        """Log score of a pair: sound, plan, weight and time; -inf outside the waits.

        A doubtful call that is not likely enough to name a weight keeps its turn where there are more weights
        than clear calls: something was said of the first, and what was called after it is for a later one.
        """
        timing = self.timing(said, weight)
        if timing > -inf and said.doubtful and not self._has_room and not self.is_likely(said, weight):
            return -inf
        return self._judge.claim(said, weight) + timing

    @property
    def _has_room(self) -> bool:
        return len(self.weights) > sum(not said.doubtful for said in self.calls)

    def is_likely(self, said: SpokenCall, weight: Weight) -> bool:
        """Whether a doubtful call is likely enough for this weight: less is enough of an answer."""
        judged = self.judged(said, weight)
        if judged.probability >= self._settings.doubtful_ask:
            return True
        answers = weight.is_answered_by(said)
        return answers and self._judge.worth_asking(judged, weight, self._settings.answer_ask)

    def judged(self, said: SpokenCall, weight: Weight) -> Judgement:
        """What a call names a weight; how well a doubtful one fits in time counts too."""
        odds = exp(self.timing(said, weight)) if said.doubtful else 1.0
        return self._judge.judge(said, weight, odds=max(odds, 1e-6))

    def timing(self, said: SpokenCall, weight: Weight) -> float:
        """Log score of a pair by all but sound, plan and usual weight; -inf outside the waits."""
        tray = self._settings.may_be_tray if weight.may_be_tray else 0.0
        thud = self._settings.thud if said.doubtful and self._may_be_thud(said, weight) else 0.0
        return lag_score(weight.lag_s(said), self.rhythms.now, self._settings) + thud + tray

    def _may_be_thud(self, said: SpokenCall, weight: Weight) -> bool:
        """Whether what was heard may be the piece itself, landing on the pan."""
        start_ns, end_ns = said.utterance.start_ns, said.utterance.end_ns
        short = end_ns - start_ns < self._settings.thud_longest_ns
        return (
            short
            and start_ns - self._settings.thud_near_ns
            < weight.onset_ns
            < end_ns + self._settings.thud_near_ns
        )

    def _skips(self) -> list[float]:
        """Log score of leaving each call: it was none, or it was one for which nothing is weighed."""
        skips = []
        for said in self.calls:
            is_call, is_none = self._judge.standing(said)
            skips.append(log(exp(is_none) + exp(is_call + self._settings.skip_call)))
        return skips

    def _weight_skips(self) -> list[float]:
        """Log score of leaving each weight without a call."""
        return [self._weight_skip(weight) for weight in self.weights]

    def _weight_skip(self, weight: Weight) -> float:
        if weight.may_be_tray:
            return self._settings.tray_skipped
        if weight.asked_ns is None or weight is self.weights[-1]:
            return self._settings.skip_change
        first = self.rhythms.now.calls_first
        return self._settings.skip_asked_first if first else self._settings.skip_asked

    def _to_come(self, t_ns: int) -> ToCome:
        """That the partner is still to come: the longer one has waited the less likely.

        With several of a kind waiting it would also mean that they are named out of turn: the first weights
        are for the calls that are there, and one that was laid after them is called after them.
        """
        rhythm, settings = self.rhythms.now, self._settings
        clear = sum(not said.doubtful for said in self.calls)
        later_call = settings.out_of_turn if clear > 1 else 0.0
        calls = [
            self._judge.to_come(said)
            + rhythm.before.score(seconds(max(0, t_ns - said.utterance.end_ns)))
            + later_call
            for said in self.calls
        ]
        weights = [
            rhythm.after.score(seconds(max(0, t_ns - weight.since_ns)))
            + (settings.out_of_turn if place < clear else 0.0)
            + (settings.may_be_tray if weight.may_be_tray else 0.0)
            for place, weight in enumerate(self.weights)
        ]
        return ToCome(calls, weights)

    def touched(self, change: LoadChange) -> Weight | None:
        """The uncalled weight that left the pan again as soon as it had settled."""
        for weight in self.weights:
            if (
                weight.change is not None
                and weight.change.scale == change.scale
                and abs(weight.net_mg + change.delta_mg)
                <= self._settings.same_load_intervals * change.after.d_mg
                and change.onset_ns - weight.settled_ns <= self._settings.brief_ns
                and self.no_call_near(weight)
            ):
                return weight
        return None

    def may_be_named_soon(self, weight: Weight, t_ns: int) -> bool:
        """Whether a clear call that may be for this weight has not waited its time yet."""
        latest_ns = t_ns - self._settings.commit_after_ns
        return any(
            said.utterance.heard_ns > latest_ns and self._fits(said, weight)
            for said in self.calls
            if not said.doubtful
        )

    def no_call_near(self, weight: Weight) -> bool:
        """Whether no call that waits, a doubtful one beside, may name this weight."""
        return not any(self._fits(said, weight) for said in self.calls if not said.doubtful)

    def _fits(self, said: SpokenCall, weight: Weight) -> bool:
        return self.timing(said, weight) > -inf
