"""The calls and weights that wait for each other, and which pair may be committed."""

from __future__ import annotations

from math import inf

from handsfree.clock import seconds
from handsfree.pairing.alignment import Costs, ToCome, align, margin_of
from handsfree.pairing.judging import Judge
from handsfree.pairing.rhythm import Rhythm, lag_score
from handsfree.pairing.settings import PairingSettings
from handsfree.pairing.waiting import SpokenCall, Weight
from handsfree.weighing.messages import LoadChange


class Waiting:
    """Two queues in order of time."""

    def __init__(self, settings: PairingSettings, judge: Judge, rhythm: Rhythm) -> None:
        self._settings = settings
        self._judge = judge
        self._rhythm = rhythm
        self._costs = Costs(settings.skip_call, settings.skip_change, crossed=settings.crossed_to_come)
        self.calls: list[SpokenCall] = []
        self.weights: list[Weight] = []

    def clear(self) -> None:
        """Everything that waited has been decided."""
        self.calls, self.weights = [], []

    def next_pair(self, t_ns: int, *, at_once: bool) -> tuple[SpokenCall, Weight] | None:
        """The first pair of the best alignment that may be committed now."""
        calls, weights, settings = self.calls, self.weights, self._settings
        if not calls or not weights:
            return None
        scores = [[self.score(said, weight) for weight in weights] for said in calls]

        def score(i: int, j: int) -> float:
            return scores[i][j]

        sizes = (len(calls), len(weights))
        to_come = ToCome() if at_once else self._to_come(t_ns)
        best = align(*sizes, score, self._costs, to_come)
        for i, j in best.pairs:
            both_ns = max(calls[i].utterance.heard_ns, weights[j].since_ns)
            if (
                at_once
                or t_ns - both_ns >= settings.commit_after_ns
                or margin_of((i, j), best, sizes, score, self._costs, to_come) >= settings.clear_margin
            ):
                return calls[i], weights[j]
        return None

    def score(self, said: SpokenCall, weight: Weight) -> float:
        """Log score of a pair: time, plan and weight; -inf outside the waits."""
        return self.timing(said, weight) + self._judge.evidence(said, weight)

    def timing(self, said: SpokenCall, weight: Weight) -> float:
        """Log score of a pair by time alone; -inf outside the waits."""
        return lag_score(weight.lag_s(said), self._rhythm, self._settings)

    def _to_come(self, t_ns: int) -> ToCome:
        """That the partner is still to come: the longer one has waited the less likely.

        With several of a kind waiting it would also mean that they are named out of turn.
        """
        rhythm, settings = self._rhythm, self._settings
        call_ages = [seconds(max(0, t_ns - said.utterance.end_ns)) for said in self.calls]
        weight_ages = [seconds(max(0, t_ns - weight.since_ns)) for weight in self.weights]
        later_call = settings.out_of_turn if len(self.calls) > 1 else 0.0
        return ToCome(
            calls=[rhythm.before.score(age) + later_call for age in call_ages],
            weights=[rhythm.after.score(age) + settings.out_of_turn for age in weight_ages],
        )

    def touched(self, change: LoadChange) -> Weight | None:
        """The uncalled weight that left the pan again as soon as it had settled."""
        for weight in self.weights:
            if (
                weight.change is not None
                and weight.change.scale == change.scale
                and abs(weight.net_mg + change.delta_mg)
                <= self._settings.same_load_intervals * change.after.d_mg
                and change.onset_ns - weight.settled_ns <= self._settings.brief_ns
                and not any(self._fits(said, weight) for said in self.calls)
            ):
                return weight
        return None

    def _fits(self, said: SpokenCall, weight: Weight) -> bool:
        return self.timing(said, weight) > -inf
