"""What pairing must know of the carcass in hand; the recorder answers from the ledger's books."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

from handsfree.speech.meaning import Call


@dataclass(frozen=True, slots=True)
class Usual:
    """What a called piece of the carcass in hand usually weighs."""

    median_mg: float
    """Of the whole count, positive."""
    sigma: float
    """Standard deviation of the natural logarithm of the mass, positive."""
    against: str = ""
    """What it rests on, in words: "dressed weight", "the other side", "provisional dressed weight"..."""


@dataclass(frozen=True, slots=True)
class Nameless:
    """A piece of the carcass in hand that is in the ledger without a name."""

    piece: int
    """Number of its entry."""
    mass_mg: int
    heard: tuple[tuple[Call, float], ...] = ()
    """The calls that may have been meant for it, each with its log probability by sound."""


class CarcassInHand(Protocol):
    """The state of the larder as far as pairing needs it; always the state on disk."""

    @property
    def is_open(self) -> bool:
        """Whether a carcass is open, so that pieces can be entered."""
        ...

    @property
    def has_begun(self) -> bool:
        """Whether its dressed weight or a first piece is in."""
        ...

    @property
    def lacks_dressed_weight(self) -> bool:
        """Whether a carcass is open whose dressed weight is not in."""
        ...

    @property
    def tag(self) -> str | None:
        """The tag of the open carcass, empty where it has none yet; None where none is open."""
        ...

    @property
    def direction(self) -> str:
        """How pieces are weighed now: "putting on" or "taking off"."""
        ...

    @property
    def last_mass_mg(self) -> int | None:
        """Mass of the piece that "that was" would rename; None where there is none."""
        ...

    def nameless(self) -> Sequence[Nameless]:
        """The pieces that went in without a name, oldest first."""
        ...

    def container_mg(self, scale: str) -> int | None:
        """Mass of the container known to stand on this scale, None when there is none."""
        ...

    def known_trays_mg(self) -> Sequence[int]:
        """Masses of the trays known from earlier, on whatever scale."""
        ...

    def is_complete(self, call: Call) -> bool:
        """Whether the plan's pieces of this name (cut and side) are all in already.

        False for cuts without a side and for anything the plan does not limit.
        """
        ...

    def is_expected(self, call: Call) -> bool:
        """Whether the plan has such a piece, or has nothing to say about its name."""
        ...

    def is_counted(self, call: Call) -> bool:
        """Whether several such pieces at once are no surprise: the plan or the cut list counts them.

        True where there is no plan to say so.
        """
        ...

    def goes_to(self, call: Call) -> str:
        """Where the called piece goes: as said, else where such pieces go; empty when neither is known."""
        ...

    def outstanding(self) -> Sequence[Call]:
        """The pieces the plan still expects, a call each; none where there is no plan."""
        ...

    def usual(self, call: Call, supposed_mg: int | None = None) -> Usual | None:
        """What the called pieces usually weigh together; None where nothing is known.

        Args:
            call: The pieces.
            supposed_mg: A load that was probably the carcass, for as long as its dressed weight is missing.
        """
        ...
