"""What a phrase means: a call of a piece, a command, or an answer to a question."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum


class Side(StrEnum):
    """The side of the carcass a paired cut came from."""

    LEFT = "left"
    RIGHT = "right"


class Answer(StrEnum):
    """The answer to a question; heard only while one is open that takes it."""

    YES = "yes"
    NO = "no"
    """To a list: none of these."""
    FIRST = "first"
    SECOND = "second"
    THIRD = "third"
    FOURTH = "fourth"


YES_NO = (Answer.YES, Answer.NO)
#: What answers a list, by place.
PLACES = (Answer.FIRST, Answer.SECOND, Answer.THIRD, Answer.FOURTH)


class Verb(StrEnum):
    """What a command asks for. Each value is the name used in the commands file and in JSON."""

    NEW_CARCASS = "new carcass"
    TAG = "tag"
    """Carries `digits`."""
    DESCRIBE = "describe"
    """Carries `species` and, if said, `sex`."""
    PLAN = "plan"
    """Carries `plan`: the carcass is cut to it from now on."""
    BUTCHER = "butcher"
    """Carries `butcher`: who works at the bench from now on."""
    DRESSED_WEIGHT = "dressed weight"
    """Carries `number` in kilograms, or none: take the settled weight on the scale."""
    CLOSE_CARCASS = "close carcass"
    PARK_CARCASS = "park carcass"
    RESUME = "resume"
    """Carries `digits`."""
    STRIKE = "strike"
    """Take back the last piece."""
    THAT_WAS = "that was"
    """Carries `call`: the last piece was this instead."""
    PUT_BACK = "put back"
    """Undo the last strike."""
    TRAY = "tray"
    """What is on the pan now is the container."""
    TAKING_OFF = "taking off"
    PUTTING_ON = "putting on"
    READ_BACK = "read back"
    WHAT_REMAINS = "what remains"
    TOTAL = "total"
    REST = "rest"
    """Stop listening for calls until woken."""
    WAKE = "wake"
    CORE_TEMPERATURE = "core temperature"
    """Carries `number` in degrees Celsius."""
    STERILISER = "steriliser"
    """Carries `number` in degrees Celsius."""
    NOTE = "note"
    """Carries `note`, one of the closed list in the commands file."""
    SPOKEN_WEIGHT = "weight"
    """Carries `number` in kilograms, for a broken scale."""


@dataclass(frozen=True, slots=True)
class Call:
    """A piece named aloud: `[count] [left|right] <cut> [for <destination>]`."""

    cut: str
    """Canonical cut name from the cut list; empty for "same again" (the last cut repeated)."""
    side: Side | None = None
    count: int = 1
    destination: str | None = None
    """Where it goes if said; None means the cut's own destination from the cut list."""
    same_again: bool = False

    def same_piece(self, other: Call) -> bool:
        """Whether both name the same cut and side, whatever the count and wherever it goes."""
        return (self.cut, self.side) == (other.cut, other.side)

    def words(self) -> str:
        """The call as it would be said back: "4 double chops", "left haunch for dice"."""
        name = "same again" if self.same_again else self.cut
        parts = [str(self.count)] if self.count != 1 else []
        parts += [self.side.value] if self.side else []
        parts += [name]
        parts += ["for", self.destination] if self.destination else []
        return " ".join(parts)


@dataclass(frozen=True, slots=True)
class Command:
    """An instruction to the recorder; always said after the attention word."""

    verb: Verb
    number: Decimal | None = None
    """Kilograms or degrees Celsius, by verb; exact as said."""
    digits: str = ""
    call: Call | None = None
    species: str | None = None
    sex: str | None = None
    note: str | None = None
    plan: str | None = None
    butcher: int = 0
    """By the larder's own number; 0 when none was said."""


Meaning = Call | Command | Answer
