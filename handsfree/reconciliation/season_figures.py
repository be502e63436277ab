"""The figures of each closed carcass of a season, in columns. Pure."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, tzinfo
from enum import StrEnum
from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt

from handsfree.ledger.season_record import ClosedCarcass, ClosedSeason, Weighings
from handsfree.reconciliation.verdict import VerdictKind

Column = npt.NDArray[np.float64]

#: Destinations that are no meat (common practice, no source).
NO_MEAT: Final = frozenset({"stock", "waste", "condemned"})
#: Scale of a weight that was said or typed: no bench.
_SPOKEN: Final = "spoken"
_SEVERAL: Final = "several"
#: How the sentence of an older closing begins to name a suspect.
_SUSPECTED: Final = re.compile(r"\b(?:Probably|Perhaps) ")


class Doubt(StrEnum):
    """Why a carcass tells nothing about what is usual."""

    NONE = ""
    NO_DRESSED_WEIGHT = "no dressed weight"
    CORRECTED = "corrected after closing"
    SUSPECT = "suspect not cleared up"
    NOT_EXPLAINED = "balance did not come out"
    UNNAMED = "weights without a name"
    IN_SKIN = "weighed in skin"


_JUDGED: Final = (Doubt.SUSPECT, Doubt.NOT_EXPLAINED, Doubt.UNNAMED)


class CarcassFigures(NamedTuple):
    """One closed carcass; shares are of its dressed weight."""

    carcass: ClosedCarcass
    month: str
    """Of its closing: "2026-04"."""
    bench: str
    """The scale its pieces were weighed on; "several" for more than one; empty for none."""
    butcher: str
    """Who cut it, in the same way."""
    pieces_mg: int
    meat_mg: int
    """All pieces but those for stock and waste, condemned ones and those without a name."""
    loss: float | None
    """Share not accounted for, as told at the closing."""
    meat: float | None
    """Share of meat."""
    doubt: Doubt

    @property
    def judged(self) -> bool:
        """Whether it is held against the usual: a corrected one's balance is not that of its pieces."""
        return not self.doubt or self.doubt in _JUDGED


@dataclass(frozen=True, slots=True)
class SeasonFigures:
    """All carcasses in order of closing; row i of each column is carcass i."""

    carcasses: tuple[CarcassFigures, ...]
    by_destination: Mapping[str, Column]
    """Milligrams by destination; whole numbers. Empty name: without one."""
    weighings: tuple[tuple[Weighings, npt.NDArray[np.int64]], ...]
    """With the row of each weighing's carcass."""
    dressed_mg: Column
    """0 where none was taken."""


def figures_of_season(season: ClosedSeason, zone: tzinfo = UTC) -> SeasonFigures:
    """The figures of each carcass.

    Args:
        season: From the ledger.
        zone: In which a month begins.
    """
    count = len(season.carcasses)
    weighings = tuple(zip(season.weighings, _rows(season), strict=True))
    by_destination: dict[str, Column] = defaultdict(lambda: np.zeros(count))
    by_scale: dict[str, Column] = defaultdict(lambda: np.zeros(count))
    by_butcher: dict[str, Column] = defaultdict(lambda: np.zeros(count))
    pieces, meat, unnamed = np.zeros(count), np.zeros(count), np.zeros(count)
    for each, rows in weighings:
        # Sums of whole milligrams below 2**53 are exact in doubles.
        mass = np.bincount(rows, np.frombuffer(each.mass_mg, dtype=np.int64), count)
        pieces += mass
        by_destination[each.destination] += mass
        if not each.cut:
            unnamed += np.bincount(rows, minlength=count)
        elif each.destination not in NO_MEAT:
            meat += mass
        if each.scale != _SPOKEN:
            by_scale[each.scale] += mass
        by_butcher[each.by] += mass
    columns = zip(
        season.carcasses,
        _months(season.carcasses, zone),
        _whose(by_scale, count),
        _whose(by_butcher, count),
        pieces.astype(int).tolist(),
        meat.astype(int).tolist(),
        (unnamed > 0).tolist(),
        strict=True,
    )
    dressed = np.array([carcass.dressed_mg or 0 for carcass in season.carcasses], dtype=float)
    return SeasonFigures(tuple(_one(*each) for each in columns), dict(by_destination), weighings, dressed)


def _one(
    carcass: ClosedCarcass, month: str, bench: str, butcher: str, pieces_mg: int, meat_mg: int, unnamed: bool
) -> CarcassFigures:
    dressed_mg, loss, meat = carcass.dressed_mg, None, None
    if dressed_mg:
        meat = meat_mg / dressed_mg
        loss = None if carcass.unaccounted_mg is None else carcass.unaccounted_mg / dressed_mg
    doubt = _doubt(carcass, unnamed=unnamed)
    return CarcassFigures(carcass, month, bench, butcher, pieces_mg, meat_mg, loss, meat, doubt)


def _doubt(carcass: ClosedCarcass, *, unnamed: bool) -> Doubt:
    if not carcass.dressed_mg or (carcass.unaccounted_mg is None and not carcass.changed):
        return Doubt.NO_DRESSED_WEIGHT
    if carcass.changed:
        return Doubt.CORRECTED
    if carcass.skin == "on":
        return Doubt.IN_SKIN
    suspect = carcass.suspect
    if bool(_SUSPECTED.search(carcass.sentence)) if suspect is None else bool(suspect):
        return Doubt.SUSPECT
    if carcass.verdict != VerdictKind.EXPLAINED.value:
        return Doubt.NOT_EXPLAINED
    return Doubt.UNNAMED if unnamed else Doubt.NONE


def _rows(season: ClosedSeason) -> list[npt.NDArray[np.int64]]:
    numbers = np.array([carcass.number for carcass in season.carcasses], dtype=np.int64)
    place = np.zeros(int(numbers.max(initial=0)) + 1, dtype=np.int64)
    place[numbers] = np.arange(len(numbers))
    return [place[np.frombuffer(each.carcass, dtype=np.int64)] for each in season.weighings]


def _whose(masses: Mapping[str, Column], count: int) -> list[str]:
    """By whom or on what all that has a name was weighed."""
    names = sorted(name for name in masses if name)
    have = np.array([masses[name] > 0 for name in names]).reshape(len(names), count)
    found = np.where(have.any(axis=0), have.argmax(axis=0) if names else 0, len(names))
    found = np.where(have.sum(axis=0) > 1, len(names) + 1, found)
    words = [*names, "", _SEVERAL]
    return [words[place] for place in found.tolist()]


def _months(carcasses: Sequence[ClosedCarcass], zone: tzinfo) -> list[str]:
    known: dict[str, str] = {}
    found = []
    for carcass in carcasses:
        at = carcass.closed_at
        # No zone is a day off: only about the turn of a month does the hour matter.
        key = at[:7] if "02" <= at[8:10] <= "27" else at[:13]
        if key not in known:
            known[key] = _month(at, zone)
        found.append(known[key])
    return found


def _month(closed_at: str, zone: tzinfo) -> str:
    try:
        return f"{datetime.fromisoformat(closed_at).astimezone(zone):%Y-%m}"
    except ValueError:
        return closed_at[:7]
