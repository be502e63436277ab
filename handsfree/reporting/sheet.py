"""The carcass sheet as a view model: what is shown, in which order, in which words. Pure."""

from __future__ import annotations

from dataclasses import dataclass

from handsfree.reporting.figures import BalanceFigures

#: How a piece without a cut, and a total without a destination, are named on the sheet.
NOT_NAMED = "unnamed"
NO_DESTINATION = "no destination"


@dataclass(frozen=True, slots=True)
class Heading:
    """Whose sheet this is. Every text is one clean line, empty when not known."""

    larder: str
    title: str
    """As it is said to people: "carcass 417, fallow deer doe"."""
    number: int
    """Number of the carcass in the ledger."""
    tag: str
    species: str
    sex: str
    skin: str
    """"skin on" or "skin off" (at the time of the dressed weight)."""
    hot_or_cold: str
    state: str
    """"open", "parked" or "closed"."""
    opened: str
    closed: str
    zone: str
    """Name of the zone the times are in."""
    dressed_mg: int | None
    dressed_at: str
    instrument: str
    """"rail scale, d = 50 g" or "spoken"."""
    indication: str


@dataclass(frozen=True, slots=True)
class SheetPiece:
    """One weighing on the sheet."""

    seq: int
    """Number of the entry in the ledger."""
    time: str
    cut: str
    """"unnamed" while it has no name."""
    side: str
    count: int
    destination: str
    mass_mg: int
    net_kg: str
    """Exact decimal text, same number of decimals throughout the sheet."""
    share: float | None
    """Fraction of the dressed weight."""
    marks: tuple[str, ...]
    """"renamed from ...", "unnamed", "low confidence", "named when asked", "by voice", "struck"."""

    @property
    def name(self) -> str:
        """Cut with its side: "left haunch"."""
        return f"{self.side} {self.cut}" if self.side else self.cut


@dataclass(frozen=True, slots=True)
class Total:
    """A sum of pieces under one name."""

    name: str
    pieces: int
    """Pieces of meat, counted lots by their count."""
    mass_mg: int
    net_kg: str
    share: float | None


@dataclass(frozen=True, slots=True)
class DestinationTotal:
    """A destination with the cuts that went there, heaviest first."""

    total: Total
    cuts: tuple[Total, ...]


@dataclass(frozen=True, slots=True)
class Pair:
    """A cut that comes off both sides, when both were weighed."""

    cut: str
    left_kg: str
    right_kg: str
    difference: float
    """Right minus left as a fraction of their mean."""


@dataclass(frozen=True, slots=True)
class Identity:
    """`dressed = pieces + process loss + unaccounted` as written, so that it closes as written.

    The loss is rounded to the decimals of the sheet and the rest is taken from the rounded figure.
    """

    dressed_kg: str
    pieces_kg: str
    process_loss_kg: str
    unaccounted_kg: str
    expanded_u_kg: str


@dataclass(frozen=True, slots=True)
class Sheet:
    """One carcass on paper."""

    heading: Heading
    pieces: tuple[SheetPiece, ...]
    """The standing pieces in the order of weighing."""
    struck: tuple[SheetPiece, ...]
    unnamed: tuple[SheetPiece, ...]
    """Those of `pieces` that have no name."""
    unweighed: tuple[str, ...]
    """Calls for which no weight came: "left haunch"."""
    destinations: tuple[DestinationTotal, ...]
    cuts: tuple[Total, ...]
    """By cut, left and right and all destinations together, heaviest first."""
    pairs: tuple[Pair, ...]
    yields: tuple[Total, ...]
    total_mg: int
    balance: BalanceFigures | None
    """None when there is no dressed weight, or no balance was worked out."""
    identity: Identity | None
    """The balance as written; None when there is none."""
    no_balance: str
    """Why there is no balance; empty when there is one."""
    temperatures: tuple[str, ...]
    notes: tuple[str, ...]
    cautions: tuple[str, ...]
    decimals: int
    """Decimals of kilograms used throughout."""
    last_seq: int
    digest: str
    """Digest of the last entry the sheet was made from; empty when not given."""
