"""What carcasses are worth by a price list: exact money, and what has no price told apart. Pure."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

import numpy as np
import numpy.typing as npt

from handsfree.mass import MG_PER_KG
from handsfree.reconciliation.proceeds import Prices
from handsfree.reconciliation.season_figures import SeasonFigures


@dataclass(frozen=True, slots=True)
class Worth:
    """The value of some carcasses together."""

    amount: Decimal
    """Of all that has a price, exact."""
    priced_mg: int
    pieces_mg: int
    dressed_mg: int

    @property
    def per_kg_dressed(self) -> Decimal | None:
        """Amount for a kilogram of dressed weight; None without one."""
        return self.amount * MG_PER_KG / self.dressed_mg if self.dressed_mg else None


@dataclass(frozen=True, slots=True)
class Worths:
    """The value of each carcass of a season."""

    currency: str
    amounts: tuple[Decimal, ...]
    """Of each carcass, of what has a price."""
    priced_mg: tuple[int, ...]
    unpriced_mg: Mapping[tuple[str, str], int]
    """Mass without a price by cut and destination: it is not worth nothing, its price is not known."""

    def of(self, figures: SeasonFigures, places: Sequence[int]) -> Worth:
        """The value of the carcasses at these places together."""
        carcasses = figures.carcasses
        return Worth(
            sum((self.amounts[place] for place in places), Decimal(0)),
            sum(self.priced_mg[place] for place in places),
            sum(carcasses[place].pieces_mg for place in places),
            sum(carcasses[place].carcass.dressed_mg or 0 for place in places),
        )


def worths_of(figures: SeasonFigures, prices: Prices) -> Worths:
    """The value of each carcass."""
    count = len(figures.carcasses)
    by_price: dict[Decimal, npt.NDArray[np.float64]] = {}
    unpriced: Counter[tuple[str, str]] = Counter()
    for each, rows in figures.weighings:
        price = prices.of(each.cut, each.destination) if each.cut else None
        if price is None:
            unpriced[each.cut, each.destination] += sum(each.mass_mg)
            continue
        # Sums of whole milligrams are exact in doubles.
        mass = np.bincount(rows, np.frombuffer(each.mass_mg, dtype=np.int64), count)
        by_price[price] = by_price.get(price, np.zeros(count)) + mass
    priced = sum(by_price.values(), np.zeros(count))
    # Money goes by whole numbers of the finest step that any price has, for a kilogram; a list is short.
    step = min((_exponent(price) for price in by_price), default=0)
    sums = [0] * count
    for price, masses in by_price.items():
        whole = int(price.scaleb(-step))
        sums = [total + whole * int(mass_mg) for total, mass_mg in zip(sums, masses.tolist(), strict=True)]
    amounts = tuple(Decimal(total).scaleb(step - 6) for total in sums)
    return Worths(prices.currency, amounts, tuple(priced.astype(int).tolist()), dict(unpriced))


def _exponent(price: Decimal) -> int:
    exponent = price.as_tuple().exponent
    assert isinstance(exponent, int), "a price is a finite number"
    return min(exponent, 0)
