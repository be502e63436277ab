"""How far probabilities can be believed: reliability table, expected calibration error, Brier score."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

EDGES = (0.0, 0.3, 0.5, 0.7, 0.8, 0.9, 0.97, 0.99, 0.997, 1.0)


@dataclass(frozen=True)
class Bin:
    """One row of a reliability table."""

    low: float
    high: float
    count: int
    weight: float
    """Share of the population in it."""
    said: float
    """Mean probability."""
    true: float
    """Share of the events that happened."""


def reliability(
    said: Sequence[float], true: Sequence[bool], weights: Sequence[float], edges: Sequence[float] = EDGES
) -> list[Bin]:
    """The rows of the table, empty ones left out.

    Args:
        said: Probabilities.
        true: Whether the event happened.
        weights: How much each counts; any scale.
        edges: Of the bins, rising, from 0 to 1.
    """
    p, t, w = np.array(said), np.array(true, dtype=float), np.array(weights) / np.sum(weights)
    inside = np.clip(np.searchsorted(edges, p, side="right") - 1, 0, len(edges) - 2)
    rows = []
    for place in range(len(edges) - 1):
        here = inside == place
        weight = float(w[here].sum())
        if weight > 0:
            mean_said, mean_true = (float(np.average(x[here], weights=w[here])) for x in (p, t))
            rows.append(Bin(edges[place], edges[place + 1], int(here.sum()), weight, mean_said, mean_true))
    return rows


def expected_calibration_error(rows: Sequence[Bin]) -> float:
    """Mean distance of what was said from what was true, by the weight of the bins."""
    return sum(row.weight * abs(row.said - row.true) for row in rows)


def brier_score(said: Sequence[float], true: Sequence[bool], weights: Sequence[float]) -> float:
    """Mean squared distance of probability and outcome (Brier 1950, Mon. Weather Rev. 78:1)."""
    off = (np.array(said) - np.array(true, dtype=float)) ** 2
    return float(np.average(off, weights=np.array(weights)))
