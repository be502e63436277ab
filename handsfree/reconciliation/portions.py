"""How even portions are: chops and steaks, over many carcasses. Pure.

A counted lot ("four double chops") tells the mean of its pieces only, so what differs within a lot is not
seen. Carcasses differ in size: evenness is told within carcasses, where each has two lots or more.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from handsfree.reconciliation.season_figures import SeasonFigures


@dataclass(frozen=True, slots=True)
class Portions:
    """The portions of one cut."""

    cut: str
    pieces: int
    lots: int
    """Weighings."""
    mean_mg: float
    """Of one piece, all pieces counting alike."""
    cv: float | None
    """Coefficient of variation of the lots' mean pieces over all carcasses; None with fewer than two lots."""
    carcasses: int
    """Carcasses with two lots or more."""
    cv_within: float | None
    """The same within carcasses, pooled; None without such carcasses."""
    ratio: float | None
    """Thickest to thinnest of a carcass, as masses: the median of those carcasses."""
    worst_ratio: float | None
    worst: int | None
    """Number of the carcass with the worst ratio."""


def portions_of(
    figures: SeasonFigures, cuts: Collection[str], chosen: npt.NDArray[np.bool_] | None = None
) -> tuple[Portions, ...]:
    """The portions of each of these cuts that there are, by name.

    Args:
        figures: Of the season.
        cuts: Names of the cuts that are portions.
        chosen: Which carcasses count; None for all.
    """
    found = []
    for cut in sorted(cuts):
        columns = [
            (rows, np.frombuffer(each.count, dtype=np.int64), np.frombuffer(each.mass_mg, dtype=np.int64))
            for each, rows in figures.weighings
            if each.cut == cut
        ]
        if not columns:
            continue
        rows, counts, masses = (np.concatenate(column) for column in zip(*columns, strict=True))
        good = (counts > 0) & (masses > 0)
        if chosen is not None:
            good &= chosen[rows]
        if good.any():
            numbers = [each.carcass.number for each in figures.carcasses]
            found.append(_one(cut, rows[good], counts[good], masses[good], numbers))
    return tuple(found)


def _one(
    cut: str,
    rows: npt.NDArray[np.int64],
    counts: npt.NDArray[np.int64],
    masses: npt.NDArray[np.int64],
    numbers: Sequence[int],
) -> Portions:
    means = masses / counts
    order = np.argsort(rows, kind="stable")
    rows, sizes = rows[order], means[order]
    starts = np.flatnonzero(np.r_[True, rows[1:] != rows[:-1]])
    lots = np.diff(np.r_[starts, len(rows)])
    several = lots > 1
    average = np.add.reduceat(sizes, starts) / lots
    squares = np.add.reduceat((sizes - np.repeat(average, lots)) ** 2, starts)
    ratios = np.maximum.reduceat(sizes, starts) / np.minimum.reduceat(sizes, starts)
    cv_within = ratio = worst_ratio = worst = None
    if several.any():
        # Each carcass's scatter is taken relative to its own mean, pooled by degrees of freedom.
        relative = squares[several] / average[several] ** 2
        cv_within = float(np.sqrt(relative.sum() / (lots[several] - 1).sum()))
        ratio = float(np.median(ratios[several]))
        place = int(np.argmax(np.where(several, ratios, 0)))
        worst_ratio, worst = float(ratios[place]), numbers[int(rows[starts[place]])]
    return Portions(
        cut=cut,
        pieces=int(counts.sum()),
        lots=len(means),
        mean_mg=float(masses.sum() / counts.sum()),
        cv=float(means.std(ddof=1) / means.mean()) if len(means) > 1 else None,
        carcasses=int(several.sum()),
        cv_within=cv_within,
        ratio=ratio,
        worst_ratio=worst_ratio,
        worst=worst,
    )
