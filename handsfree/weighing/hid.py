"""Weight reports of USB point-of-sale scales: HID usage page 0x8D, six bytes. Pure.

Layout, status and unit tables: USB-IF HID Point of Sale Usage Tables 1.02, weighing section (usage
page 0x8D in the HID Usage Tables). The weight is unsigned, 16 bits, with a signed power of ten.
"""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import Final

from handsfree.mass import MG_PER_UNIT
from handsfree.weighing.messages import Basis, Condition, Indication, Torn

DATA_REPORT: Final = 3
"""Report id of the weight report as met in instruments."""
_LENGTH: Final = 6
EMPTY_REPORTS: Final = tuple(bytes([number]) for number in (1, 2, 4, 5, 6))
"""Ids of the reports without a weight, as met: attribute, control, status, weight limit, statistics."""

_GRAIN_MG = Fraction(6_479_891, 100_000)  # 64.798 91 mg exactly: 1/7000 of the avoirdupois pound
#: Report value (usage - 0x50) to the unit's name here and its milligrams. Tael is left out: its mass
#: differs from country to country.
_UNITS: Final[dict[int, tuple[str, Fraction]]] = {
    0x1: ("mg", Fraction(1)),
    0x2: ("g", MG_PER_UNIT["g"]),
    0x3: ("kg", MG_PER_UNIT["kg"]),
    0x4: ("ct", Fraction(200)),
    0x6: ("gr", _GRAIN_MG),
    0x7: ("dwt", 24 * _GRAIN_MG),
    0x8: ("t", MG_PER_UNIT["t"]),
    0x9: ("short t", 2000 * MG_PER_UNIT["lb"]),
    0xA: ("oz t", 480 * _GRAIN_MG),
    0xB: ("oz", MG_PER_UNIT["oz"]),
    0xC: ("lb", MG_PER_UNIT["lb"]),
}
#: Report value (usage - 0x70) to stability and condition.
_STATUS: Final[dict[int, tuple[bool, Condition]]] = {
    1: (False, Condition.FAULT),
    2: (True, Condition.NORMAL),  # stable at centre of zero
    3: (False, Condition.NORMAL),  # in motion
    4: (True, Condition.NORMAL),
    5: (False, Condition.UNDERLOAD),  # under zero; the report has no sign, so the value is not used
    6: (False, Condition.OVERLOAD),
    7: (False, Condition.FAULT),  # needs calibration
    8: (False, Condition.FAULT),  # needs re-zeroing
}


def read_report(report: bytes, scale: str, t_ns: int) -> Indication | Torn:
    """The indication in one weight report, report id first.

    A report of another length, id, status, unit or an exponent beyond what a scale shows is torn.
    """
    if fault := _fault(report):
        return Torn(t_ns, scale, bytes(report), fault)
    stable, condition = _STATUS[report[1]]
    unit, mg = _UNITS[report[2]]
    exponent = int.from_bytes(report[3:4], "little", signed=True)
    value = Decimal(int.from_bytes(report[4:6], "little")).scaleb(exponent)
    interval = Decimal(1).scaleb(exponent)
    text = f"{value:f} {unit}"
    if condition is not Condition.NORMAL:
        return Indication(t_ns, scale, 0, text, unit, 0, stable, Basis.GROSS, condition)
    return Indication(t_ns, scale, _mg(value, mg), text, unit, max(1, _mg(interval, mg)), stable)


def report_line(report: bytes) -> bytes:
    """A report as a line of text, so that it is kept, framed and replayed like any other scale's."""
    return b"HID " + report.hex(" ").upper().encode("ascii") + b"\r\n"


def numbered(descriptor: bytes) -> bool:
    """Whether a report descriptor gives its reports numbers, so that each begins with one.

    Items of a descriptor: a prefix byte with size in bits 0-1 (3 means four bytes), type in bits 2-3 and
    tag in bits 4-7; Report ID is the global item 0x84; 0xFE begins a long item with its length in the
    next byte (USB-IF, Device Class Definition for HID 1.11, 6.2.2).
    """
    at = 0
    while at < len(descriptor):
        prefix = descriptor[at]
        if prefix == 0xFE:
            at += 3 + (descriptor[at + 1] if at + 1 < len(descriptor) else 0)
            continue
        if prefix & 0xFC == 0x84:
            return True
        at += 1 + (0, 1, 2, 4)[prefix & 3]
    return False


def _fault(report: bytes) -> str:
    """Why these bytes are no weight report; "" when they are one."""
    if len(report) != _LENGTH:
        return f"a weight report has {_LENGTH} bytes, this one {len(report)}"
    if report[0] != DATA_REPORT:
        return f"report id {report[0]} is no weight report"
    if report[1] not in _STATUS:
        return f"unknown status {report[1]}"
    if report[2] not in _UNITS:
        return f"unknown unit {report[2]}"
    exponent = int.from_bytes(report[3:4], "little", signed=True)
    # Beyond this no scale of the listed units goes.
    return "" if -6 <= exponent <= 3 else f"power of ten {exponent}"


def _mg(value: Decimal, mg_per_unit: Fraction) -> int:
    return round(Fraction(value) * mg_per_unit)
