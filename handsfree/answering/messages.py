"""What is answered: a tone, perhaps a few words, and whether it may wait."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum


class Tone(StrEnum):
    """What a tone means; each has its own pitch and rhythm."""

    ACCEPTED = "accepted"
    """A named piece is in the ledger."""
    UNNAMED = "unnamed"
    """A weight is in the ledger without a name."""
    QUESTION = "question"
    """Something is asked; an answer is waited for."""
    REFUSED = "refused"
    """It could not be done, or a call found no weight."""
    CORRECTED = "corrected"
    """A piece was struck, renamed or put back."""
    NOTED = "noted"
    """An instruction is in the ledger, or an enquiry is answered."""
    TROUBLE = "trouble"
    """A device needs looking at."""
    CLOSED = "closed"
    """A carcass is closed."""
    AWAKE = "awake"
    RESTING = "resting"


class Length(StrEnum):
    """How much is said after the tone. Questions, troubles and what was asked for are always said."""

    FULL = "full"
    """Cut, weight and destination."""
    WEIGHT = "weight"
    """Cut and weight."""
    SHORT = "short"
    """The cut, in at most 1.2 s, and where it goes where that is not the usual place: the weight is on the
    scale's display, the board and in "read back"."""
    TONES = "tones"
    """Nothing for a piece that went well; the tone alone."""


class ReadBack(StrEnum):
    """Which pieces are read back in words."""

    ALWAYS = "always"
    UNUSUAL = "unusual"
    """Those corrected, without a name, asked about, or not quite sure; a tone alone for the rest."""


@dataclass(frozen=True, slots=True)
class Manner:
    """How the recorder speaks."""

    length: Length = Length.SHORT
    read_back: ReadBack = ReadBack.ALWAYS
    in_grams: bool = False
    """Weights as digits of grams, not as kilograms."""
    usual_destinations: Mapping[str, str] = field(default_factory=dict)
    """Where a piece goes unless the call says otherwise, by cut; what goes elsewhere is read back with it. A
    cut that is not among them is taken to go where it went."""

    def goes_elsewhere(self, cut: str, destination: str) -> bool:
        """Whether a piece goes to another place than such pieces do."""
        return bool(destination) and self.usual_destinations.get(cut, destination) != destination


@dataclass(frozen=True, slots=True)
class Saying:
    """One answer."""

    tone: Tone
    text: str = ""
    """Words to be spoken after the tone, numbers spelled out; empty for the tone alone."""
    urgent: bool = False
    """Goes before what waits: questions and troubles."""
