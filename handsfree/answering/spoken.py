"""Figures as they are said aloud: whole part as a number, decimals digit by digit."""

from __future__ import annotations

import re

from handsfree.mass import MG_PER_G, MG_PER_KG

_ONES = (
    *("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine"),
    *("ten", "eleven", "twelve", "thirteen", "fourteen", "fifteen", "sixteen", "seventeen"),
    *("eighteen", "nineteen"),
)
_TENS = ("zero", "ten", "twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety")
_UNITS = {"kg": "kilos", "g": "grams", "%": "per cent", "°C": "degrees", "±": "plus or minus"}


def number_words(number: int) -> str:
    """A whole number in words, British way: 312 is "three hundred and twelve".

    Numbers from a million on are said digit by digit.
    """
    if number < 0:
        return f"minus {number_words(-number)}"
    if number < 20:
        return _ONES[number]
    if number < 100:
        tens, ones = divmod(number, 10)
        return f"{_TENS[tens]} {_ONES[ones]}" if ones else _TENS[tens]
    if number < 1000:
        hundreds, rest = divmod(number, 100)
        head = f"{_ONES[hundreds]} hundred"
        return f"{head} and {number_words(rest)}" if rest else head
    if number < 1_000_000:
        thousands, rest = divmod(number, 1000)
        head = f"{number_words(thousands)} thousand"
        joint = " and " if 0 < rest < 100 else " "
        return f"{head}{joint}{number_words(rest)}" if rest else head
    return digit_words(str(number))


def digit_words(digits: str) -> str:
    """Digits one by one: "417" is "four one seven"; other characters are left out."""
    return " ".join(_ONES[int(digit)] for digit in digits if digit in "0123456789")


def decimal_words(number: str) -> str:
    """Decimal text as said: "4.135" is "four point one three five", "-0.5" "minus zero point five"."""
    sign = "minus " if number[:1] in "-−" else ""
    whole, _, decimals = number.lstrip("-−+").partition(".")
    words = number_words(int(whole or "0"))
    return f"{sign}{words} point {digit_words(decimals)}" if decimals else f"{sign}{words}"


def mass_words(mass_mg: int, *, in_grams: bool = False) -> str:
    """A mass as it is said at the block, to the gram: kilograms without the unit, or grams.

    4.135 kg is "four point one three five", 4 kg "four kilos". Below one kilogram it is grams, digit
    by digit so that fifteen and fifty are not mixed up: "eight three five grams"; whole hundreds are
    said as such: "five hundred grams".

    Args:
        mass_mg: The mass.
        in_grams: Grams whatever the size: 4.135 kg is "four one three five grams".
    """
    if mass_mg < 0:
        return f"minus {mass_words(-mass_mg, in_grams=in_grams)}"
    grams = round(mass_mg / MG_PER_G)
    if not in_grams and grams >= MG_PER_KG // MG_PER_G:
        kilos, rest = divmod(grams, 1000)
        if not rest:
            return f"{number_words(kilos)} {'kilo' if kilos == 1 else 'kilos'}"
        return decimal_words(f"{kilos}.{rest:03d}".rstrip("0"))
    if grams == 1:
        return "one gram"
    if grams % 100 == 0 and grams < 1000:
        return f"{number_words(grams)} grams"
    return f"{digit_words(str(grams))} grams"


def speakable(text: str) -> str:
    """A written sentence made fit for a voice: numbers, units and signs as words.

    "0.54 kg ± 0.26" is "zero point five four kilos plus or minus zero point two six".
    """
    text = re.sub(r"(?<![\w.])[-−]?\d+(?:\.\d+)?(?!\w)", lambda found: decimal_words(found[0]), text)
    for sign, word in _UNITS.items():
        around = rf"(?<!\w){re.escape(sign)}(?!\w)"
        text = re.sub(rf"\s*{around}\s*", f" {word} ", text)
    return re.sub(r"\s+([,.;:?!)])", r"\1", " ".join(text.split()))


def listed(names: list[str], most: int = 5) -> str:
    """Names as a list: "a, b and c"; of many, the first few "and three more"."""
    if len(names) > most:
        return f"{', '.join(names[:most])} and {number_words(len(names) - most)} more"
    if len(names) < 2:
        return "".join(names)
    return f"{', '.join(names[:-1])} and {names[-1]}"


def counted(number: int, noun: str) -> str:
    """A number in words with its noun: "one piece", "twelve pieces"."""
    return f"{number_words(number)} {noun if number == 1 else noun + 's'}"


def piece_words(cut: str, side: str, count: int) -> str:
    """A piece as it is read back: "left haunch", "four double chops"."""
    number = f"{number_words(count)} " if count != 1 else ""
    return f"{number}{f'{side} ' if side else ''}{cut}"
