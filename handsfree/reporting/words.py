"""How figures, times and names are written on paper and screen. Pure text, no layout."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable
from datetime import datetime, tzinfo
from decimal import Decimal

from handsfree.mass import format_kg

#: Fewest decimals of a kilogram shown: one gram, the finest interval of common bench scales.
GRAM_DECIMALS = 3


def plain(text: str) -> str:
    """The text on one line, without control, format or unpaired surrogate characters.

    A name with an escape sequence in it must not be able to move the cursor of a terminal, and
    these characters are not allowed in an HTML page either.
    """
    kept = (" " if unicodedata.category(char) in {"Cc", "Cs", "Cf", "Zl", "Zp"} else char for char in text)
    return " ".join("".join(kept).split())


def kg_decimals(masses_mg: Iterable[int]) -> int:
    """The fewest decimals (3 to 6) with which every one of these masses is written exactly in kg."""
    needed = GRAM_DECIMALS
    for mass_mg in masses_mg:
        for decimals in range(needed, 6):
            if mass_mg % 10 ** (6 - decimals) == 0:
                needed = decimals
                break
        else:
            needed = 6
    return needed


def kg(mass_mg: int, decimals: int = GRAM_DECIMALS) -> str:
    """Kilograms with a true minus sign (U+2212), for people: "1.235", "−0.040"."""
    return format_kg(mass_mg, decimals).replace("-", "−")


def share(part_mg: int, whole_mg: int | None) -> float | None:
    """The part as a fraction of the whole, None when there is no whole to compare with."""
    return part_mg / whole_mg if whole_mg else None


def percent(fraction: float | None) -> str:
    """One decimal of a percentage without the sign: "12.3", "<0.1" for little, "" for none."""
    if fraction is None:
        return ""
    tenths = Decimal(fraction * 100).quantize(Decimal("0.1"))
    if not tenths:
        return "0.0" if not fraction else ("<0.1" if fraction > 0 else "−<0.1")
    return str(tenths).replace("-", "−")


def fine_percent(fraction: float | None) -> str:
    """Two decimals of a percentage without the sign, for what is small: "0.07", "" for none."""
    if fraction is None:
        return ""
    text = f"{100 * fraction:.2f}"
    return text.replace("-", "−") if float(text) else "0.00"


def chance(probability: float) -> str:
    """A probability in whole percent, never claimed to be certain: "93", ">99", "<1"."""
    whole = round(probability * 100)
    return ">99" if whole > 99 else "<1" if whole < 1 else str(whole)


def clock_time(posted_at: str, zone: tzinfo) -> str:
    """The time of day of an RFC 3339 stamp in a zone: "09:41:07"; the text itself when it is none."""
    stamp = _parse(posted_at)
    return f"{stamp.astimezone(zone):%H:%M:%S}" if stamp else plain(posted_at)


def day_and_time(posted_at: str, zone: tzinfo) -> str:
    """Day and time of an RFC 3339 stamp in a zone: "14 October 2025, 09:41"."""
    stamp = _parse(posted_at)
    if not stamp:
        return plain(posted_at)
    local = stamp.astimezone(zone)
    return f"{local.day} {_MONTHS[local.month - 1]} {local:%Y, %H:%M}"


def day(posted_at: str, zone: tzinfo) -> str:
    """The day of an RFC 3339 stamp in a zone: "2025-10-14"; the text itself when it is none."""
    stamp = _parse(posted_at)
    return f"{stamp.astimezone(zone):%Y-%m-%d}" if stamp else plain(posted_at)


def long_day(posted_at: str, zone: tzinfo) -> str:
    """The day of an RFC 3339 stamp in a zone, for sentences: "14 October 2025"."""
    stamp = _parse(posted_at)
    if not stamp:
        return plain(posted_at)
    local = stamp.astimezone(zone)
    return f"{local.day} {_MONTHS[local.month - 1]} {local.year}"


# Written out here because strftime's month names follow the locale of the machine.
_MONTHS = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)


def _parse(posted_at: str) -> datetime | None:
    try:
        stamp = datetime.fromisoformat(posted_at)
    except ValueError:
        return None
    return stamp if stamp.tzinfo else None


def counted(number: int, one: str, many: str = "") -> str:
    """A number with its noun: "1 piece", "12 pieces"."""
    return f"{number} {one if number == 1 else many or one + 's'}"


def sentence(text: str) -> str:
    """The text with a capital and a full stop."""
    text = plain(text)
    text = text[:1].upper() + text[1:]
    return text if not text or text.endswith((".", "!", "?", ":")) else text + "."
