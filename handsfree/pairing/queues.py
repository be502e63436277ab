"""The calls and weights that wait for each other, and which pair may be committed."""

from __future__ import annotations

from handsfree.pairing.alignment import Costs, align, margin_of
from handsfree.pairing.ports import CarcassInHand
from handsfree.pairing.settings import PairingSettings
from handsfree.pairing.waiting import SpokenCall, Weight, lag_score
from handsfree.weighing.messages import LoadChange


class Waiting:
    """Two queues in order of time."""

    def __init__(self, settings: PairingSettings, carcass: CarcassInHand) -> None:
        self._settings = settings
        self._carcass = carcass
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

        def score(i: int, j: int) -> float:
            already = settings.complete_already if self._carcass.is_complete(calls[i].call) else 0.0
            return lag_score(calls[i], weights[j], settings) + already

        sizes = (len(calls), len(weights))
        costs = Costs(settings.skip_call, settings.skip_change)
        best = align(*sizes, score, costs)
        for i, j in best.pairs:
            both_ns = max(calls[i].utterance.heard_ns, weights[j].since_ns)
            if (
                at_once
                or t_ns - both_ns >= settings.commit_after_ns
                or margin_of((i, j), best, sizes, score, costs) >= settings.clear_margin
            ):
                return calls[i], weights[j]
        return None

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
        return lag_score(said, weight, self._settings) > float("-inf")
