"""Which call belongs to which weight: monotone alignment with room for one swap.

Calls and weights each come in time order. An alignment pairs some of them, in order, and skips
the others at a cost. Two neighbouring calls may be paired crosswise with two neighbouring weights
once (a name given late). The queues are short (a handful), so the exact optimum by dynamic
programming (after Needleman and Wunsch 1970, global alignment with gap costs, with the transposition
step of Damerau 1964) costs microseconds.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import inf

Score = Callable[[int, int], float]
"""Log score of pairing call i with weight j; -inf where they cannot belong together."""


@dataclass(frozen=True, slots=True)
class Costs:
    """Log scores of what is not a pair."""

    skip_call: float
    """Leaving one call unpaired."""
    skip_weight: float
    """Leaving one weight unpaired."""
    swap: float = -2.0
    """Added for the one crosswise pairing allowed."""


@dataclass(frozen=True, slots=True)
class Alignment:
    """The best alignment of calls and weights."""

    pairs: tuple[tuple[int, int], ...]
    """(call, weight) indices, in call order."""
    score: float


def align(calls: int, weights: int, score: Score, costs: Costs) -> Alignment:
    """The alignment with the highest total score.

    Args:
        calls: Number of calls, in time order.
        weights: Number of weights, in time order.
        score: Log score of a pair; -inf forbids it.
        costs: Log scores of skips and of the swap.
    """
    # best[i][j][s]: calls[:i] against weights[:j], s = whether the swap is spent.
    best = [[[-inf, -inf] for _ in range(weights + 1)] for _ in range(calls + 1)]
    back: dict[tuple[int, int, int], tuple[tuple[int, int, int], tuple[tuple[int, int], ...]]] = {}
    best[0][0][0] = 0.0
    for i in range(calls + 1):
        for j in range(weights + 1):
            for s in (0, 1):
                for (pi, pj, ps), gain, pairs in _steps((i, j, s), score, costs):
                    total = best[pi][pj][ps] + gain
                    if total > best[i][j][s]:
                        best[i][j][s] = total
                        back[i, j, s] = ((pi, pj, ps), pairs)
    end = max((0, 1), key=lambda s: best[calls][weights][s])
    node = (calls, weights, end)
    found: list[tuple[int, int]] = []
    while node in back:
        node, pairs = back[node]
        found.extend(pairs)
    return Alignment(tuple(sorted(found)), best[calls][weights][end])


def _steps(
    state: tuple[int, int, int], score: Score, costs: Costs
) -> list[tuple[tuple[int, int, int], float, tuple[tuple[int, int], ...]]]:
    """The ways to arrive at state (i, j, s): predecessor, gain, pairs made."""
    i, j, s = state
    steps: list[tuple[tuple[int, int, int], float, tuple[tuple[int, int], ...]]] = []
    if i:
        steps.append(((i - 1, j, s), costs.skip_call, ()))
    if j:
        steps.append(((i, j - 1, s), costs.skip_weight, ()))
    if i and j:
        steps.append(((i - 1, j - 1, s), score(i - 1, j - 1), ((i - 1, j - 1),)))
    if s and i >= 2 and j >= 2:
        crossed = score(i - 1, j - 2) + score(i - 2, j - 1) + costs.swap
        steps.append(((i - 2, j - 2, 0), crossed, ((i - 1, j - 2), (i - 2, j - 1))))
    return steps


def margin_of(
    pair: tuple[int, int], best: Alignment, sizes: tuple[int, int], score: Score, costs: Costs
) -> float:
    """How much better (log score) the best alignment is than the best one without this pair."""

    def without(i: int, j: int) -> float:
        return -inf if (i, j) == pair else score(i, j)

    return best.score - align(*sizes, without, costs).score
