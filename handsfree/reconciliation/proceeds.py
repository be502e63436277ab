"""What became of carcasses: utilisation, evenness of portions, and value by a price list. Pure."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from statistics import fmean, stdev

from handsfree.ledger.carcass import Carcass
from handsfree.mass import MG_PER_KG


@dataclass(frozen=True, slots=True)
class Prices:
    """A price list, per kilogram; a cut's own price goes before that of its destination."""

    currency: str
    by_cut: Mapping[str, Decimal]
    by_destination: Mapping[str, Decimal]

    def of(self, cut: str, destination: str) -> Decimal | None:
        """The price of a kilogram, None when the list has none."""
        return self.by_cut.get(cut, self.by_destination.get(destination))


@dataclass(frozen=True, slots=True)
class Value:
    """What the pieces of a carcass are worth."""

    amount: Decimal
    """Of the pieces with a price, not rounded."""
    priced_mg: int
    unpriced_mg: dict[str, int]
    """Mass without a price by cut: it is not worth nothing, its price is not known."""

    @property
    def complete(self) -> bool:
        """Whether every piece had a price."""
        return not self.unpriced_mg


@dataclass(frozen=True, slots=True)
class Evenness:
    """How alike portions are, by the mean mass of a piece in each counted lot."""

    lots: int
    cv: float | None
    """Coefficient of variation, None with fewer than two lots."""
    greatest_to_least: float


def utilisation(carcasses: Iterable[Carcass]) -> dict[str, float]:
    """Share of the dressed weight that went to each destination, all carcasses together.

    Never normalised: what is missing from 1 was lost in the cutting or is not accounted for.
    Carcasses without a dressed weight are left out; weights without a name go under "".
    """
    masses: Counter[str] = Counter()
    dressed_mg = 0
    for carcass in carcasses:
        if carcass.dressed is None:
            continue
        dressed_mg += carcass.dressed.mass_mg
        for piece in carcass.standing():
            masses[piece.destination] += piece.mass_mg
    return {name: mass_mg / dressed_mg for name, mass_mg in masses.most_common()} if dressed_mg else {}


def value_of(carcass: Carcass, prices: Prices) -> Value:
    """The value of the standing pieces; those without a price are told apart, never taken as 0."""
    amount, priced_mg = Decimal(0), 0
    unpriced: Counter[str] = Counter()
    for piece in carcass.standing():
        price = prices.of(piece.cut, piece.destination)
        if price is None:
            unpriced[piece.cut] += piece.mass_mg
        else:
            amount += price * piece.mass_mg / MG_PER_KG
            priced_mg += piece.mass_mg
    return Value(amount, priced_mg, dict(unpriced))


def evenness(lots: Sequence[tuple[int, int]]) -> Evenness | None:
    """Evenness of portions of one cut; None without any.

    Args:
        lots: Mass in milligrams and number of pieces of each weighing.
    """
    means = [mass_mg / count for mass_mg, count in lots if mass_mg > 0 and count > 0]
    if not means:
        return None
    cv = stdev(means) / fmean(means) if len(means) > 1 else None
    return Evenness(len(means), cv, max(means) / min(means))
