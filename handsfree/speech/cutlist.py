"""The trade's words: cuts, destinations, species, and the plans a carcass is broken by."""

from __future__ import annotations

from dataclasses import dataclass

from handsfree.speech.meaning import Side

#: Log-normal spread of a cut's share when nothing narrower is known: about half to double.
WIDE_SPREAD = 0.35


@dataclass(frozen=True, slots=True)
class Cut:
    """One name on the cut list with everything it may be called."""

    name: str
    """Canonical name, as written in the ledger."""
    aliases: tuple[str, ...] = ()
    """Other names for it, said without a count."""
    plurals: tuple[str, ...] = ()
    """Names said after a count from two on; without any it is never counted."""
    sided: bool = False
    """Whether there is a left and a right one."""
    destination: str = ""
    """Where it goes unless the call says otherwise."""
    kind: str = ""
    """Class: "primal", "joint", "small", "trim", "offal" or "refuse"."""
    share: float | None = None
    """Typical mass of one piece as a fraction of the dressed (skinned) weight; None when not known."""
    spread: float = WIDE_SPREAD
    """Standard deviation of ln(share) between carcasses."""
    source: str = ""
    """Where the share comes from."""

    def spoken_names(self) -> tuple[str, ...]:
        """Everything the cut may be called, canonical name first."""
        return tuple(dict.fromkeys((self.name, *self.aliases, *self.plurals)))


@dataclass(frozen=True, slots=True)
class Destination:
    """Where pieces go: a class of product."""

    name: str
    aliases: tuple[str, ...] = ()

    def spoken_names(self) -> tuple[str, ...]:
        """Everything the destination may be called, canonical name first."""
        return tuple(dict.fromkeys((self.name, *self.aliases)))


@dataclass(frozen=True, slots=True)
class Species:
    """An animal and the words for its sexes and young."""

    name: str
    aliases: tuple[str, ...] = ()
    sexes: tuple[str, ...] = ()

    def spoken_names(self) -> tuple[str, ...]:
        """Everything the species may be called, canonical name first."""
        return tuple(dict.fromkeys((self.name, *self.aliases)))


@dataclass(frozen=True, slots=True)
class PlannedPiece:
    """One weighing a plan expects."""

    cut: str
    side: Side | None = None
    count: int = 1
    """Pieces in this weighing."""
    share: float | None = None
    """Typical mass of this weighing as a fraction of the dressed weight; None when not known."""
    spread: float = WIDE_SPREAD
    """Standard deviation of ln(share) between carcasses."""
    source: str = ""


@dataclass(frozen=True, slots=True)
class Plan:
    """How a carcass is meant to be broken: every weighing expected, in the usual order."""

    name: str
    description: str = ""
    pieces: tuple[PlannedPiece, ...] = ()
    aliases: tuple[str, ...] = ()

    def spoken_names(self) -> tuple[str, ...]:
        """Everything the plan may be called, canonical name first."""
        return tuple(dict.fromkeys((self.name, *self.aliases)))


@dataclass(frozen=True, slots=True)
class CutList:
    """The words of one trade: venison, lamb."""

    name: str
    cuts: tuple[Cut, ...]
    destinations: tuple[Destination, ...]
    species: tuple[Species, ...] = ()
    plans: tuple[Plan, ...] = ()
