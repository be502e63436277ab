"""Messages of the weighing path. All frozen, stamped in `*_ns` from the session's start."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


@dataclass(frozen=True, slots=True)
class Frame:
    """One whole frame as the scale sent it, terminator taken off."""

    t_ns: int
    """Time at which the last byte of the frame had arrived."""
    scale: str
    """Name of the instrument: "bench", "rail"."""
    data: bytes


@dataclass(frozen=True, slots=True)
class Torn:
    """Bytes that are no whole frame, or a whole frame that fits no shape. Never a weight."""

    t_ns: int
    scale: str
    data: bytes
    reason: str


class Basis(StrEnum):
    """What the indicated value is (VIM/R 76 terms)."""

    GROSS = "gross"
    NET = "net"


class Condition(StrEnum):
    """What the instrument says of itself beside the value."""

    NORMAL = "normal"
    OVERLOAD = "overload"
    UNDERLOAD = "underload"
    BLANK = "blank"
    """No value shown (some scales blank while moving)."""
    FAULT = "fault"
    IMPLAUSIBLE = "implausible"
    """A value far outside the instrument's range."""


@dataclass(frozen=True, slots=True)
class Indication:
    """A value as indicated, read from one whole frame."""

    t_ns: int
    scale: str
    value_mg: int
    """Exact mass of the indication; 0 and meaningless unless `condition` is NORMAL."""
    text: str
    """The number and unit as sent, for the ledger: "12.345 kg"."""
    unit: str
    interval_mg: int
    """One unit of the last decimal shown: the least d this frame can have."""
    stable: bool | None
    """The scale's own flag; None when it sends none."""
    basis: Basis = Basis.GROSS
    condition: Condition = Condition.NORMAL
    address: str = ""
    """The instrument's number on a line that several share, as sent; "" when the line has none."""


@dataclass(frozen=True, slots=True)
class Plateau:
    """A stretch of indications in stable equilibrium."""

    scale: str
    start_ns: int
    end_ns: int
    """Time of the last indication counted so far."""
    value_mg: int
    """The settled value, a multiple of the scale interval."""
    text: str
    """The settled indication as sent."""
    spread_mg: int
    """Largest minus smallest indication in the stretch."""
    count: int
    u_mg: float
    """Standard uncertainty of the reading: scale interval (d/sqrt 12) and spread together."""
    d_mg: int
    """Scale interval d used."""
    basis: Basis = Basis.GROSS


@dataclass(frozen=True, slots=True)
class LoadChange:
    """The difference between two plateaus: something was put on or taken off."""

    scale: str
    onset_ns: int
    """When the load began to move away from the plateau before."""
    t_ns: int
    """When the new plateau was settled and reported."""
    before: Plateau
    after: Plateau
    delta_mg: int
    """after minus before: positive is put on, negative is taken off."""
    u_mg: float
    """Standard uncertainty of the difference."""


class ScaleEventKind(StrEnum):
    """Things about a scale that the butcher must be told, or that end a trouble."""

    SILENT = "silent"
    BACK = "back"
    OVERLOAD = "overload"
    OVERLOAD_OVER = "overload over"
    UNDERLOAD = "underload"
    UNIT_CHANGED = "unit changed"
    UNPLUGGED = "unplugged"
    FAULT = "fault"
    UNREADABLE = "unreadable"
    """Many frames in a row that fit no shape."""
    READABLE = "readable"
    NOISY = "noisy line"
    """A good part of the frames is torn, readable ones between them: a bad cable or plug."""
    CLEAN = "clean line"
    STUCK = "stuck"
    """Load changes were expected and the value has not moved by one digit."""
    MOVES = "moves again"
    IMPLAUSIBLE = "implausible"
    """Values that this instrument cannot show; they are not used."""
    PLAUSIBLE = "plausible again"


@dataclass(frozen=True, slots=True)
class ScaleEvent:
    """A trouble of a scale, or its end. Nothing is weighed between the two."""

    t_ns: int
    scale: str
    kind: ScaleEventKind
    detail: str = ""


WeighingMessage = Plateau | LoadChange | ScaleEvent
