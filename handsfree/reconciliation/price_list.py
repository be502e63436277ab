"""Reads a price list: TOML text with prices for a kilogram by cut and by destination. Pure.

currency = "EUR"
date = 2026-04-01

[cut]
loin = 42.50

[destination]
prime = 18
stock = 0.80
"""

from __future__ import annotations

import tomllib
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from difflib import get_close_matches
from typing import Any, Final

from handsfree.errors import ConfigError
from handsfree.reconciliation.proceeds import Prices

_KEYS: Final = ("currency", "date", "cut", "destination")
#: More for a kilogram is a slip of the point.
_MOST: Final = Decimal(100_000)
_DECIMALS: Final = 4


@dataclass(frozen=True, slots=True)
class PriceList(Prices):
    """A price list with the day it holds from."""

    day: date


def read_price_list(
    text: str, where: str, *, cuts: Collection[str], destinations: Collection[str]
) -> PriceList:
    """The price list in a TOML text; numbers are taken as they are written, never through a float.

    Args:
        text: Of the file.
        where: The file, for the sentences.
        cuts: Names of all cuts that there are.
        destinations: Names of all destinations.

    Raises:
        ConfigError: It is no TOML, or has faults: all of them, each with its line.
    """
    try:
        table = tomllib.loads(text, parse_float=Decimal)
    except tomllib.TOMLDecodeError as error:
        raise ConfigError(
            f"the price list {where} is not valid TOML: {error}", next_step="put that line right"
        ) from error
    reader = _Reader(where, text)
    currency, day = table.get("currency"), table.get("date")
    if not isinstance(currency, str) or not currency.strip():
        reader.fault("currency", 'it needs its currency in quotes, such as currency = "EUR"')
    if not isinstance(day, date) or isinstance(day, datetime):
        reader.fault("date", "it needs the day it holds from, such as date = 2026-04-01 without quotes")
    for key in table:
        if key not in _KEYS:
            reader.fault(key, f"{key!r} is not known in a price list ({', '.join(_KEYS)} are)")
    by_cut = reader.prices(table.get("cut", {}), "cut", cuts)
    by_destination = reader.prices(table.get("destination", {}), "destination", destinations)
    if not (by_cut or by_destination or reader.faults):
        reader.fault("", "it has no price; give some under [cut] or [destination]")
    if reader.faults:
        raise ConfigError(
            f"the price list cannot be used: {'; '.join(reader.faults)}", next_step="put these lines right"
        )
    assert isinstance(currency, str)
    assert isinstance(day, date)
    return PriceList(currency.strip(), by_cut, by_destination, day)


class _Reader:
    """Takes prices and notes every fault with its line."""

    def __init__(self, where: str, text: str) -> None:
        self._where = where
        self._lines = text.splitlines()
        self.faults: list[str] = []

    def fault(self, key: str, what: str, section: str = "") -> None:
        """Note a fault at the line of a key, or of the whole file where it has none."""
        line = self._line(key, section)
        self.faults.append(f"{self._where}{f':{line}' if line else ''}: {what}")

    def prices(self, table: Any, section: str, known: Collection[str]) -> dict[str, Decimal]:
        """The prices of one section."""
        if not isinstance(table, Mapping):
            self.fault(section, f"[{section}] must be a section of prices")
            return {}
        found = {}
        for name, value in table.items():
            complaint = _complaint(value)
            if name not in known:
                near = get_close_matches(name, known, 1)
                hint = f'; did you mean "{near[0]}"?' if near else ""
                self.fault(name, f"{name!r} is no {section} known here{hint}", section)
            elif complaint:
                self.fault(name, f"the price of {name} must be {complaint}, not {value!s}", section)
            else:
                found[name] = Decimal(value)
        return found

    def _line(self, key: str, section: str) -> int:
        """The line on which a key is given a value, 0 for none."""
        inside = ""
        for number, text in enumerate(self._lines, 1):
            bare = text.strip()
            if bare.startswith("["):
                inside = bare.strip("[] ")
                if key and inside == key and not section:
                    return number
            name = bare.partition("=")[0].strip().strip("\"'")
            if key and "=" in bare and name == key and inside == section:
                return number
        return 0


def _complaint(value: Any) -> str:
    """What a price must be; empty when it is."""
    if isinstance(value, bool) or not isinstance(value, int | Decimal):
        return "a number"
    price = Decimal(value)
    if not price.is_finite() or not 0 <= price <= _MOST:
        return f"from 0 to {_MOST}"
    exponent = price.as_tuple().exponent
    if isinstance(exponent, int) and exponent < -_DECIMALS:
        return f"given with {_DECIMALS} decimals at most"
    return ""
