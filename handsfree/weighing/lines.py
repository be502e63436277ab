"""One whole frame to one indication, by a line shape. Pure; shapes are data (`shapes/*.toml`).

Anything that does not fit the shape from its first byte to its last is torn: there is no search
for a number inside a line.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from decimal import Decimal
from typing import Literal

from handsfree.mass import to_mg
from handsfree.weighing.framings import LINES, Framing
from handsfree.weighing.hid import EMPTY_REPORTS, read_report
from handsfree.weighing.messages import Basis, Condition, Frame, Indication, Torn

#: Spellings of units seen in lines of any shape; a shape may bring its own.
UNITS: Mapping[str, str] = {
    "mg": "mg",
    "g": "g",
    "G": "g",
    "gr": "g",
    "kg": "kg",
    "Kg": "kg",
    "KG": "kg",
    "lb": "lb",
    "LB": "lb",
    "lbs": "lb",
    "oz": "oz",
    "OZ": "oz",
}

_MOST_DIGITS = 9
"""No scale shows more digits (OIML R 76-1:2006 Table 3: at most 100 000 intervals)."""

_SIGNED = re.compile(r"([+-]?) *([0-9]*)", re.ASCII)
_DIGITS = re.compile(r"[0-9]*", re.ASCII)
_OUNCES = re.compile(r"[0-9]{1,2}(?:\.[0-9]{1,3})?", re.ASCII)
_GROUPS = {
    mark: re.compile(rf"(?<![0-9])[0-9]{{1,3}}(?:{re.escape(mark)}[0-9]{{3}})+$", re.ASCII) for mark in ",.'"
}


@dataclass(frozen=True, slots=True)
class Shape:
    """How one kind of scale writes its lines."""

    name: str
    about: str
    patterns: tuple[re.Pattern[str], ...]
    """Each matches a whole line with the groups number, ounces, sign, unit, status, range, basis, id."""
    beside: tuple[re.Pattern[str], ...] = ()
    """Whole lines that belong to the shape and carry no weight (date, ticket number)."""
    stable: Mapping[str, bool] = field(default_factory=dict)
    """What the text of the `status` group says of stability."""
    conditions: Mapping[str, Condition] = field(default_factory=dict)
    """What the text of the `range` or `status` group says of the instrument."""
    basis: Mapping[str, Basis] = field(default_factory=dict)
    default_basis: Basis = Basis.GROSS
    units: Mapping[str, str] = field(default_factory=lambda: UNITS)
    decimal: str = "."
    thousands: str = ""
    """Separator of thousands; only read in a number that has a decimal separator too."""
    request: bytes = b""
    """What makes the scale send one line; empty when it sends by itself."""
    framing: Framing = LINES
    """How its frames are marked off."""
    negative_zero: Condition = Condition.NORMAL
    """What a zero with a minus sign means: some scales send it whenever they are below zero."""
    zero_on_overload: bool = False
    """Its scales show a plain zero when they are overloaded."""
    decoder: Literal["", "hid"] = ""
    """"hid": the number is a weight report of USB usage page 0x8D in hexadecimal."""

    @property
    def specificity(self) -> int:
        """How much a line must say to fit; settles a tie between shapes that fit equally often."""
        return max(len(pattern.groupindex) for pattern in self.patterns)


@dataclass(frozen=True, slots=True)
class Aside:
    """A whole line that fits the shape and carries no weight of this scale."""

    t_ns: int
    scale: str
    data: bytes
    other: bool = False
    """It is a line of another scale on the same wire."""


def read_line(frame: Frame, shape: Shape, unit: str = "") -> Indication | Aside | Torn:
    """What a frame says, by a shape.

    Args:
        frame: One whole frame.
        shape: The shape its scale sends.
        unit: Unit of lines that carry none; with "" such lines are torn.
    """
    text = frame.data.decode("latin-1")
    for pattern in shape.patterns:
        match = pattern.fullmatch(text)
        if match is not None:
            fields = {k: v or "" for k, v in match.groupdict().items()}
            if shape.decoder == "hid":
                return _read_report(frame, fields["number"])
            read = _read_fields(frame, shape, fields, unit)
            if isinstance(read, Indication):
                return replace(read, address=fields["id"]) if fields.get("id") else read
            return Torn(frame.t_ns, frame.scale, frame.data, read)
    if any(pattern.fullmatch(text) for pattern in shape.beside):
        return Aside(frame.t_ns, frame.scale, frame.data)
    reason = f"no line of the shape {shape.name}"
    if any(byte >= 0x80 for byte in frame.data):
        reason += "; bytes over 127: check bits, parity and baud rate"
    return Torn(frame.t_ns, frame.scale, frame.data, reason)


def _read_report(frame: Frame, digits: str) -> Indication | Aside | Torn:
    """The weight report that stands in a line in hexadecimal."""
    try:
        report = bytes.fromhex(digits)
    except ValueError:
        return Torn(frame.t_ns, frame.scale, frame.data, f"{digits!r} is no report")
    if report[:1] in EMPTY_REPORTS:
        return Aside(frame.t_ns, frame.scale, frame.data)
    read = read_report(report, frame.scale, frame.t_ns)
    return read if isinstance(read, Indication) else Torn(frame.t_ns, frame.scale, frame.data, read.reason)


def _read_fields(frame: Frame, shape: Shape, fields: dict[str, str], unit: str) -> Indication | str:
    """The indication, or why there is none."""
    status, reach = fields.get("status", ""), fields.get("range", "")
    stable = shape.stable.get(status)
    basis = shape.basis.get(fields.get("basis", "").strip(), shape.default_basis)
    number = fields.get("number", "")
    condition = shape.conditions.get(reach) or shape.conditions.get(status) or _filler(number)
    spelled = fields.get("unit", "").strip()
    known = shape.units.get(spelled, "") if spelled else unit
    if condition is not Condition.NORMAL:
        shown = f"{number.strip()} {known}".strip()
        return Indication(frame.t_ns, frame.scale, 0, shown, known, 0, stable, basis, condition)
    if "ounces" in fields:
        return _pounds_and_ounces(frame, fields, stable, basis)
    if not known:
        return f"unknown unit {spelled!r}" if spelled else "the line carries no unit: set one for this scale"
    digits = _number(number, fields.get("sign", ""), shape)
    if digits is None:
        return f"{number!r} is no number"
    value = Decimal(digits)
    if not value and "-" in number + fields.get("sign", "") and shape.negative_zero is not condition:
        return Indication(
            frame.t_ns, frame.scale, 0, f"{digits} {known}", known, 0, stable, basis, shape.negative_zero
        )
    exponent = value.as_tuple().exponent
    interval = Decimal(1).scaleb(exponent if isinstance(exponent, int) else 0)
    return Indication(
        frame.t_ns,
        frame.scale,
        to_mg(value, known),
        f"{digits} {known}",
        known,
        max(1, to_mg(interval, known)),
        stable,
        basis,
    )


def _pounds_and_ounces(
    frame: Frame, fields: dict[str, str], stable: bool | None, basis: Basis
) -> Indication | str:
    """A weight in pounds and ounces: sixteen ounces to the pound, exactly."""
    pounds, ounces = fields["number"].strip(" "), fields["ounces"].strip(" ")
    minus = "-" in fields.get("sign", "") + pounds
    pounds = pounds.lstrip("+- ")
    if not (pounds.isdecimal() and _OUNCES.fullmatch(ounces)) or Decimal(ounces) >= 16:
        return f"{fields['number']!r} and {fields['ounces']!r} are no pounds and ounces"
    value = Decimal(pounds) * 16 + Decimal(ounces)
    exponent = Decimal(ounces).as_tuple().exponent
    interval = Decimal(1).scaleb(exponent if isinstance(exponent, int) else 0)
    whole = str(int(pounds))
    text = f"{'-' if minus and value else ''}{whole} lb {Decimal(ounces)} oz"
    value_mg = to_mg(-value if minus else value, "oz")
    return Indication(
        frame.t_ns, frame.scale, value_mg, text, "oz", max(1, to_mg(interval, "oz")), stable, basis
    )


def _filler(number: str) -> Condition:
    """What a weight field without digits means (shapes seen in public interface manuals)."""
    marks = number.strip()
    if not marks:
        return Condition.BLANK
    if set(marks) == {"^"}:
        return Condition.OVERLOAD
    if set(marks) == {"_"} or (set(marks) == {"-"} and len(marks) > 2):  # one "-" is a sign
        return Condition.UNDERLOAD
    return Condition.NORMAL


def _number(text: str, sign: str, shape: Shape) -> str | None:
    """Decimal text with a point and, if negative, a leading minus; None when it is no number."""
    whole, mark, part = text.strip(" ").partition(shape.decimal)
    if shape.thousands and mark:
        whole = _GROUPS[shape.thousands].sub(lambda match: match[0].replace(shape.thousands, ""), whole)
    match = _SIGNED.fullmatch(whole)
    if match is None or not _DIGITS.fullmatch(part) or (match[1] and sign.strip(" ")):
        return None
    digits = match[2].lstrip("0") or "0"
    if not match[2] + part or len(match[2] + part) > _MOST_DIGITS:
        return None
    minus = "-" in match[1] + sign and (match[2] + part).strip("0")
    return f"{'-' if minus else ''}{digits}{'.' if part else ''}{part}"
