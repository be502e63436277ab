"""A season: groups of carcasses side by side, and each kind of carcass watched in its order. Pure."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from typing import TypeVar

import numpy as np

from handsfree.reconciliation.portions import Portions, portions_of
from handsfree.reconciliation.proceeds import Prices
from handsfree.reconciliation.season_figures import CarcassFigures, Doubt, SeasonFigures
from handsfree.reconciliation.watch import USUAL_CARCASSES, Usual, Watch, usual_of, watched
from handsfree.reconciliation.worth import Worth, Worths, worths_of

T = TypeVar("T", str, tuple[str, str])


class By(StrEnum):
    """What the table is divided by."""

    SPECIES = "species"
    MONTH = "month"
    BENCH = "bench"


class Figure(StrEnum):
    """What is charted, one value a carcass, as a share of its dressed weight."""

    LOSS = "loss"
    """What was not accounted for."""
    MEAT = "yield"
    """Meat, without bone and waste."""


@dataclass(frozen=True, slots=True)
class SeasonRules:
    """What the larder has set for its charts."""

    first: int = USUAL_CARCASSES
    """Carcasses that the usual is taken from."""
    usual: Mapping[Figure, Usual] = field(default_factory=dict)
    """What is usual where the settings say it."""


@dataclass(frozen=True, slots=True)
class Group:
    """Carcasses of one species, month or bench."""

    name: str
    """Empty where nobody said."""
    places: tuple[int, ...]
    doubtful: int
    """Carcasses among them that are not used for any limit."""
    dressed_mg: int
    loss: float | None
    """Mean over the carcasses in no doubt."""
    meat: float | None
    """The same."""
    utilisation: Mapping[str, float]
    """Share of the dressed weight by destination, never made to add to 1; carcasses in no doubt or not,
    but for those without a dressed weight."""
    worth: Worth | None


@dataclass(frozen=True, slots=True)
class Watched:
    """One figure of one kind of carcass in its order."""

    figure: Figure
    species: str
    bench: str
    """Empty for all benches together."""
    places: tuple[int, ...]
    """Of its carcasses in the season; the watch counts within these."""
    usable: int
    """Carcasses that tell what is usual."""
    watch: Watch | None
    """None: too few to judge."""


@dataclass(frozen=True, slots=True)
class Season:
    """All there is to show."""

    figures: SeasonFigures
    by: By
    groups: tuple[Group, ...]
    whole: Group
    watched: tuple[Watched, ...]
    portions: tuple[Portions, ...]
    worths: Worths | None
    doubts: Mapping[Doubt, int]
    rules: SeasonRules


def season_of(
    figures: SeasonFigures,
    by: By,
    *,
    rules: SeasonRules | None = None,
    portion_cuts: Collection[str] = (),
    prices: Prices | None = None,
) -> Season:
    """The season of these carcasses.

    Charts are drawn of one species at a time, for a hind yields otherwise than a roe; and of one bench at a
    time when divided by bench.
    """
    rules = rules or SeasonRules()
    worths = worths_of(figures, prices) if prices is not None else None
    groups = _divided([_key(carcass, by) for carcass in figures.carcasses])
    kinds = _divided(
        [(c.carcass.species, c.bench if by is By.BENCH else "") for c in figures.carcasses],
    )
    watches = (
        _watched(figures, figure, *kind, places, rules) for kind, places in kinds.items() for figure in Figure
    )
    doubts = Counter(carcass.doubt for carcass in figures.carcasses)
    return Season(
        figures,
        by,
        tuple(_group(figures, name, places, worths) for name, places in groups.items()),
        _group(figures, "", range(len(figures.carcasses)), worths),
        tuple(watches),
        portions_of(figures, portion_cuts),
        worths,
        {doubt: doubts[doubt] for doubt in Doubt if doubt is not Doubt.NONE and doubts[doubt]},
        rules,
    )


def _key(carcass: CarcassFigures, by: By) -> str:
    if by is By.MONTH:
        return carcass.month
    return carcass.bench if by is By.BENCH else carcass.carcass.species


def _divided(keys: Sequence[T]) -> dict[T, list[int]]:
    found: dict[T, list[int]] = {}
    for place, key in enumerate(keys):
        found.setdefault(key, []).append(place)
    return dict(sorted(found.items()))


def _group(figures: SeasonFigures, name: str, places: Sequence[int], worths: Worths | None) -> Group:
    own = [figures.carcasses[place] for place in places]
    good = [carcass for carcass in own if carcass.doubt is Doubt.NONE]
    chosen = np.fromiter(places, dtype=np.int64, count=len(places))
    dressed = figures.dressed_mg[chosen]
    whole = float(dressed.sum())
    shares = {
        to: float(mass[chosen][dressed > 0].sum()) / whole
        for to, mass in figures.by_destination.items()
        if whole and mass[chosen].any()
    }
    return Group(
        name,
        tuple(places),
        len(own) - len(good),
        int(whole),
        _mean([carcass.loss for carcass in good]),
        _mean([carcass.meat for carcass in good]),
        shares,
        worths.of(figures, places) if worths is not None else None,
    )


def _mean(values: Sequence[float | None]) -> float | None:
    known = [value for value in values if value is not None]
    return float(np.mean(known)) if known else None


def _watched(
    figures: SeasonFigures,
    figure: Figure,
    species: str,
    bench: str,
    places: Sequence[int],
    rules: SeasonRules,
) -> Watched:
    having = [
        (place, value, carcass)
        for place, carcass in zip(places, map(figures.carcasses.__getitem__, places), strict=True)
        if (value := carcass.loss if figure is Figure.LOSS else carcass.meat) is not None
    ]
    values = [value for _, value, _ in having]
    usable = [carcass.doubt is Doubt.NONE for _, _, carcass in having]
    usual = rules.usual.get(figure) or usual_of(values, usable, first=rules.first)
    return Watched(
        figure,
        species,
        bench,
        tuple(place for place, _, _ in having),
        sum(usable),
        None if usual is None else watched(values, [carcass.judged for _, _, carcass in having], usual),
    )
