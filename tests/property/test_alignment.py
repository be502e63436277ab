"""Alignment against every possible alignment (brute force) and scipy's assignment solver."""

from __future__ import annotations

from itertools import combinations, permutations
from math import inf, isclose

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import linear_sum_assignment

from handsfree.pairing.alignment import Costs, ToCome, align, margin_of

COSTS = Costs(-4.0, -5.0, -2.0)
SCORES = st.integers(1, 4).flatmap(
    lambda n: st.integers(1, 4).flatmap(
        lambda m: st.lists(st.lists(st.floats(-9, 0), min_size=m, max_size=m), min_size=n, max_size=n)
    )
)


def total(
    pairs: tuple[tuple[int, int], ...], scores: list[list[float]], costs: Costs, come: ToCome | None = None
) -> float:
    """The score of an alignment by its definition; -inf when it is not an allowed one."""
    crossings = [(a, b) for a, b in combinations(sorted(pairs), 2) if a[1] > b[1]]
    if len(crossings) > 1:
        return -inf
    for a, b in crossings:  # only neighbours may be paired crosswise
        if b[0] - a[0] != 1 or a[1] - b[1] != 1:
            return -inf
    n, m = len(scores), len(scores[0])
    value = sum(scores[i][j] for i, j in pairs)
    value += len(crossings) * costs.swap
    last_call = max((i for i, _ in pairs), default=-1)
    last_weight = max((j for _, j in pairs), default=-1)
    calls = [i for i in range(n) if i not in {i for i, _ in pairs}]
    weights = [j for j in range(m) if j not in {j for _, j in pairs}]
    best = -inf
    for leave_calls in (False, True):
        for leave_weights in (False, True):
            rest = costs.crossed if leave_calls and leave_weights else 0.0
            for i in calls:
                left = come.calls[i] if come and leave_calls and i > last_call else -inf
                rest += max(costs.skip_call, left)
            for j in weights:
                left = come.weights[j] if come and leave_weights and j > last_weight else -inf
                rest += max(costs.skip_weight, left)
            best = max(best, rest)
    return value + best


def brute_force(scores: list[list[float]], costs: Costs, come: ToCome | None = None) -> float:
    n, m = len(scores), len(scores[0])
    return max(
        total(tuple(zip(rows, columns, strict=True)), scores, costs, come)
        for size in range(min(n, m) + 1)
        for rows in combinations(range(n), size)
        for columns in permutations(range(m), size)
    )


@given(SCORES)
def test_the_alignment_is_the_best_of_all_alignments(scores: list[list[float]]) -> None:
    best = align(len(scores), len(scores[0]), lambda i, j: scores[i][j], COSTS)
    assert isclose(best.score, brute_force(scores, COSTS), abs_tol=1e-9)
    assert isclose(total(best.pairs, scores, COSTS), best.score, abs_tol=1e-9)


@given(SCORES, st.lists(st.floats(-9, 0), min_size=8, max_size=8))
def test_so_it_is_with_partners_still_to_come(scores: list[list[float]], left: list[float]) -> None:
    n, m = len(scores), len(scores[0])
    come = ToCome(left[:n], left[4 : 4 + m])
    best = align(n, m, lambda i, j: scores[i][j], COSTS, come)
    assert isclose(best.score, brute_force(scores, COSTS, come), abs_tol=1e-9)
    assert isclose(total(best.pairs, scores, COSTS, come), best.score, abs_tol=1e-9)


@given(SCORES)
def test_where_the_free_assignment_is_monotone_both_agree(scores: list[list[float]]) -> None:
    # With nothing skipped for free, scipy's optimal assignment is an upper bound; when its solution
    # happens to be monotone it is our solution too.
    n, m = len(scores), len(scores[0])
    costs = Costs(-1000.0, -1000.0, -2.0)
    rows, columns = linear_sum_assignment(np.array(scores), maximize=True)
    free = sum(scores[i][j] for i, j in zip(rows, columns, strict=True)) - 1000.0 * abs(n - m)
    ours = align(n, m, lambda i, j: scores[i][j], costs).score
    assert ours <= free + 1e-9
    if list(columns) == sorted(columns):
        assert isclose(ours, free, abs_tol=1e-9)


@given(SCORES)
def test_the_margin_is_what_is_lost_without_the_pair(scores: list[list[float]]) -> None:
    def score(i: int, j: int) -> float:
        return scores[i][j]

    sizes = (len(scores), len(scores[0]))
    best = align(*sizes, score, COSTS)
    for pair in best.pairs:
        blocked = [[-inf if (i, j) == pair else s for j, s in enumerate(row)] for i, row in enumerate(scores)]
        expected = best.score - brute_force(blocked, COSTS)
        assert isclose(margin_of(pair, best, sizes, score, COSTS), expected, abs_tol=1e-9)


def test_forbidden_pairs_are_never_made() -> None:
    assert align(1, 1, lambda _i, _j: -inf, COSTS).pairs == ()
