"""Which call belongs to which weight: monotone alignment with room for one swap.

Calls and weights each come in time order. An alignment pairs some of them, in order, and skips
the others at a cost. Two neighbouring calls may be paired crosswise with two neighbouring weights
once (a name given late). After the last pair, calls or weights may also be left for a partner that
is still to come. The queues are short (a handful), so the exact optimum by dynamic programming
(after Needleman and Wunsch 1970, global alignment with gap costs, with the transposition step of
Damerau 1964) costs microseconds.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import inf

Score = Callable[[int, int], float]
"""Log score of pairing call i with weight j; -inf where they cannot belong together."""


@dataclass(frozen=True, slots=True)
class Costs:
    """Log scores of what is not a pair."""

    skip_call: float | Sequence[float]
    """Leaving one call unpaired: one figure for all, or one for each."""
    skip_weight: float | Sequence[float]
    """Leaving one weight unpaired: one figure for all, or one for each."""
    swap: float = -2.0
    """Added for the one crosswise pairing allowed."""
    crossed: float = -4.0
    """Added when both a call and a weight are left for partners to come: they would cross."""


@dataclass(frozen=True, slots=True)
class ToCome:
    """Log scores of partners that are still to come, for calls and weights after the last pair."""

    calls: Sequence[float] = ()
    """Of each call, that its weight is still to come; empty for none."""
    weights: Sequence[float] = ()
    """Of each weight, that its call is still to come; empty for none."""


@dataclass(frozen=True, slots=True)
class Alignment:
    """The best alignment of calls and weights."""

    pairs: tuple[tuple[int, int], ...]
    """(call, weight) indices, in call order."""
    score: float


NOTHING_TO_COME = ToCome()


def align(
    calls: int, weights: int, score: Score, costs: Costs, to_come: ToCome = NOTHING_TO_COME
) -> Alignment:
    """The alignment with the highest total score.

    Args:
        calls: Number of calls, in time order.
        weights: Number of weights, in time order.
        score: Log score of a pair; -inf forbids it.
        costs: Log scores of skips and of the swap.
        to_come: Log scores of leaving the last ones for partners that are still to come.
    """
    skips = _each(costs.skip_call, calls), _each(costs.skip_weight, weights)
    # best[i][j][s]: calls[:i] against weights[:j], s = whether the swap is spent.
    best = [[[-inf, -inf] for _ in range(weights + 1)] for _ in range(calls + 1)]
    back: dict[tuple[int, int, int], tuple[tuple[int, int, int], tuple[tuple[int, int], ...]]] = {}
    best[0][0][0] = 0.0
    for i in range(calls + 1):
        for j in range(weights + 1):
            for s in (0, 1):
                for (pi, pj, ps), gain, pairs in _steps((i, j, s), score, costs, skips):
                    total = best[pi][pj][ps] + gain
                    if total > best[i][j][s]:
                        best[i][j][s] = total
                        back[i, j, s] = ((pi, pj, ps), pairs)
    rest = _rests(calls, weights, costs, to_come)
    ends = [(i, j, s) for i in range(calls + 1) for j in range(weights + 1) for s in (0, 1)]
    # Of equal ends the latest: what could be left and what could be skipped are then skipped.
    node = max(reversed(ends), key=lambda end: best[end[0]][end[1]][end[2]] + rest(end[0], end[1]))
    total = best[node[0]][node[1]][node[2]] + rest(node[0], node[1])
    found: list[tuple[int, int]] = []
    while node in back:
        node, pairs = back[node]
        found.extend(pairs)
    return Alignment(tuple(sorted(found)), total)


def _rests(calls: int, weights: int, costs: Costs, to_come: ToCome) -> Callable[[int, int], float]:
    """The best score of calls from i and weights from j on when none of them is paired any more."""
    call_left, call_skipped = _from_the_end(to_come.calls or [-inf] * calls, _each(costs.skip_call, calls))
    weight_left, weight_skipped = _from_the_end(
        to_come.weights or [-inf] * weights, _each(costs.skip_weight, weights)
    )

    def rest(i: int, j: int) -> float:
        return max(
            call_skipped[i] + weight_skipped[j],
            call_left[i] + weight_skipped[j],
            call_skipped[i] + weight_left[j],
            call_left[i] + weight_left[j] + costs.crossed,
        )

    return rest


def _each(figure: float | Sequence[float], count: int) -> Sequence[float]:
    return [figure] * count if isinstance(figure, int | float) else figure


def _from_the_end(left: Sequence[float], skips: Sequence[float]) -> tuple[list[float], list[float]]:
    """Sums from each place to the end: of leaving or skipping, whichever is better, and of skipping."""
    either, skipped = [0.0], [0.0]
    for each, skip in zip(reversed(left), reversed(skips), strict=True):
        either.append(either[-1] + max(each, skip))
        skipped.append(skipped[-1] + skip)
    return either[::-1], skipped[::-1]


def _steps(
    state: tuple[int, int, int], score: Score, costs: Costs, skips: tuple[Sequence[float], Sequence[float]]
) -> list[tuple[tuple[int, int, int], float, tuple[tuple[int, int], ...]]]:
    """The ways to arrive at state (i, j, s): predecessor, gain, pairs made."""
    i, j, s = state
    steps: list[tuple[tuple[int, int, int], float, tuple[tuple[int, int], ...]]] = []
    if i:
        steps.append(((i - 1, j, s), skips[0][i - 1], ()))
    if j:
        steps.append(((i, j - 1, s), skips[1][j - 1], ()))
    if i and j:
        steps.append(((i - 1, j - 1, s), score(i - 1, j - 1), ((i - 1, j - 1),)))
    if s and i >= 2 and j >= 2:
        crossed = score(i - 1, j - 2) + score(i - 2, j - 1) + costs.swap
        steps.append(((i - 2, j - 2, 0), crossed, ((i - 1, j - 2), (i - 2, j - 1))))
    return steps


def margin_of(
    pair: tuple[int, int],
    best: Alignment,
    sizes: tuple[int, int],
    score: Score,
    costs: Costs,
    to_come: ToCome = NOTHING_TO_COME,
) -> float:
    """How much better (log score) the best alignment is than the best one without this pair."""

    def without(i: int, j: int) -> float:
        return -inf if (i, j) == pair else score(i, j)

    return best.score - align(*sizes, without, costs, to_come).score
