"""A budget of uncertainty that keeps its named sources to the end (JCGM 100:2008 5.1, 5.2).

A budget maps each source to its signed contribution c·u (sensitivity times standard uncertainty).
Adding budgets adds the contributions of the same source before anything is squared: so a source
shared by all pieces grows with their sum, independent ones grow with the square root of their
number, and a source shared by both sides of a difference cancels.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from math import fsum, sqrt
from types import MappingProxyType
from typing import TypeVar

_K = TypeVar("_K")


class SourceKind(StrEnum):
    """Where a part of the uncertainty comes from."""

    ROUNDING = "rounding"
    """The digit of one loaded reading, d/√12."""
    ZERO = "zero"
    """Where the empty pan's zero stands within its digit, and what it moved since: d/√12 and more."""
    REPEATABILITY = "repeatability"
    """One loaded reading against the next of the same load, and the spread of the stream."""
    TARE = "tare"
    """A tare captured once and taken off every piece after it."""
    SPAN = "span"
    """The sensitivity of one instrument: the same relative error on all that it weighs."""
    ECCENTRICITY = "eccentricity"
    """Where on the pan the piece lay."""
    SPOKEN = "spoken"
    """A weight that was said, to the last decimal said."""
    PROCESS = "process"
    """How much saw, knife, drip and chilling take away."""


@dataclass(frozen=True, slots=True, order=True)
class Source:
    """One cause of uncertainty; two contributions with equal sources are fully correlated."""

    kind: SourceKind
    scale: str
    """Name of the instrument; for the process, which loss."""
    which: str = ""
    """Which reading, tare or piece; empty for what belongs to the whole instrument."""


class Budget:
    """Signed contributions c·u by source, in milligrams (or any one unit throughout).

    Args:
        terms: (source, signed contribution); a source may come more than once.
    """

    __slots__ = ("_terms",)

    def __init__(self, terms: Iterable[tuple[Source, float]] = ()) -> None:
        gathered: defaultdict[Source, list[float]] = defaultdict(list)
        for source, contribution in terms:
            gathered[source].append(contribution)
        # fsum is exactly rounded: the order of the pieces cannot show in the result.
        sums = {source: fsum(parts) for source, parts in gathered.items()}
        self._terms = {source: part for source, part in sums.items() if part}

    @property
    def terms(self) -> Mapping[Source, float]:
        """The signed contribution of each source that is left."""
        return MappingProxyType(self._terms)

    @property
    def u_mg(self) -> float:
        """Combined standard uncertainty (JCGM 100:2008 5.1.2, sources being independent)."""
        return sqrt(fsum(part * part for part in self._terms.values()))

    def expanded_mg(self, k: float = 2.0) -> float:
        """Expanded uncertainty U = k·u (JCGM 100:2008 6.2.1)."""
        return k * self.u_mg

    def by_kind(self) -> dict[SourceKind, float]:
        """Standard uncertainty from each kind of source, the largest first."""
        return self._grouped(lambda source: source.kind)

    def by_kind_and_scale(self) -> dict[tuple[SourceKind, str], float]:
        """Standard uncertainty from each kind of source on each instrument, the largest first."""
        return self._grouped(lambda source: (source.kind, source.scale))

    def _grouped(self, key: Callable[[Source], _K]) -> dict[_K, float]:
        squares: defaultdict[_K, list[float]] = defaultdict(list)
        for source, part in self._terms.items():
            squares[key(source)].append(part * part)
        sizes = {name: sqrt(fsum(parts)) for name, parts in squares.items()}
        return dict(sorted(sizes.items(), key=lambda item: (-item[1], str(item[0]))))

    def scaled(self, factor: float) -> Budget:
        """The budget of `factor` times the quantity."""
        return Budget((source, factor * part) for source, part in self._terms.items())

    def __add__(self, other: Budget) -> Budget:
        return Budget([*self._terms.items(), *other._terms.items()])

    def __sub__(self, other: Budget) -> Budget:
        return self + other.scaled(-1.0)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Budget) and self._terms == other._terms

    def __hash__(self) -> int:
        return hash(frozenset(self._terms.items()))

    def __repr__(self) -> str:
        return f"Budget(u_mg={self.u_mg:.6g}, sources={len(self._terms)})"
