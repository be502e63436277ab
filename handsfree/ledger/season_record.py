"""Many closed carcasses at once, as the ledger stands now: what a season is judged by.

Figures are kept in columns, since ten years hold a million weighings.
"""

from __future__ import annotations

from array import array
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from itertools import compress
from typing import NamedTuple, Protocol


class ClosedCarcass(NamedTuple):
    """One closed carcass: as it is described now, and the balance as told at its closing."""

    number: int
    tag: str
    species: str
    sex: str
    skin: str
    """"on" or "off" when the dressed weight was taken; empty when nobody said."""
    closed_at: str
    """RFC 3339 UTC wall time of the closing that stands."""
    dressed_mg: int | None
    """None when no dressed weight was taken."""
    verdict: str
    sentence: str
    suspect: str | None
    """Kind of the suspect named at the close, empty for none; None: only the sentence tells."""
    unaccounted_mg: int | None
    changed: bool
    """Something that the balance rests on was corrected after this closing."""


@dataclass(frozen=True, slots=True)
class Weighings:
    """All standing weighings that go by the same names, in any order; row i of each column is one."""

    cut: str
    """As it is called now; empty while unnamed."""
    destination: str
    scale: str
    by: str
    """Who cut it; empty when nobody was named."""
    carcass: array[int]
    """Number of the carcass."""
    count: array[int]
    """Pieces in the weighing."""
    mass_mg: array[int]
    """Net mass of the weighing."""

    def only(self, numbers: Collection[int]) -> Weighings:
        """Those of these carcasses."""
        return self.picked([number in numbers for number in self.carcass])

    def picked(self, kept: Sequence[bool]) -> Weighings:
        """Those whose row is marked."""
        columns = (self.carcass, self.count, self.mass_mg)
        picked = (array("q", compress(column, kept)) for column in columns)
        return Weighings(self.cut, self.destination, self.scale, self.by, *picked)


@dataclass(frozen=True, slots=True)
class ClosedSeason:
    """The carcasses that stand closed between two moments, and what was weighed of them."""

    carcasses: tuple[ClosedCarcass, ...]
    """In order of closing."""
    weighings: tuple[Weighings, ...]
    """Ordered by cut, destination, scale and who cut it; struck pieces are in none."""

    def only(self, numbers: Collection[int]) -> ClosedSeason:
        """These carcasses."""
        weighings = (each.only(numbers) for each in self.weighings)
        return ClosedSeason(
            tuple(carcass for carcass in self.carcasses if carcass.number in numbers),
            tuple(each for each in weighings if each.carcass),
        )


class SeasonRecord(Protocol):
    """Looks up what a season is judged by."""

    def closed_between(self, since: str, before: str) -> ClosedSeason:
        """The carcasses that stand closed and were closed from `since` on and before `before`.

        Their entries are not held to their digests one by one: `LedgerStore.verify` does that.

        Args:
            since: RFC 3339 UTC time or the beginning of one ("2026-04-01"); empty for all before.
            before: The same; empty for all after.

        Raises:
            LedgerError: The ledger cannot be read.
        """
        ...


class Weighing(NamedTuple):
    """One standing weighing with its names."""

    cut: str
    destination: str
    scale: str
    by: str
    seq: int
    carcass: int
    pieces: int
    mass_mg: int


def in_columns(rows: Iterable[Weighing]) -> tuple[Weighings, ...]:
    """Single weighings gathered under their names."""
    gathered: dict[tuple[str, str, str, str], Weighings] = {}
    for row in sorted(rows):
        names = row[:4]
        if names not in gathered:
            gathered[names] = Weighings(*names, array("q"), array("q"), array("q"))
        into = gathered[names]
        into.carcass.append(row.carcass)
        into.count.append(row.pieces)
        into.mass_mg.append(row.mass_mg)
    return tuple(gathered.values())
