"""A carcass and its pieces as they stand now, as the entries tell it."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from enum import StrEnum

from handsfree.ledger import entries as e


class CarcassState(StrEnum):
    """Where a carcass is in its life."""

    OPEN = "open"
    PARKED = "parked"
    CLOSED = "closed"


@dataclass(frozen=True, slots=True)
class Piece:
    """A piece as it stands now: as entered, with renamings and reversals taken into account."""

    seq: int
    """Sequence number of the entry that made it; its identity."""
    posted_at: str
    entered: e.PieceEntered
    cut: str
    side: str
    count: int
    destination: str
    struck: bool = False
    renamed: bool = False

    @property
    def mass_mg(self) -> int:
        """Net mass; never changed by a renaming."""
        return self.entered.mass_mg

    @property
    def named(self) -> bool:
        """Whether the piece has a cut name."""
        return bool(self.cut)

    def words(self) -> str:
        """As it would be said: "left haunch", "4 double chops", "unnamed"."""
        if not self.cut:
            return "unnamed"
        count = f"{self.count} " if self.count != 1 else ""
        side = f"{self.side} " if self.side else ""
        return f"{count}{side}{self.cut}"


@dataclass(frozen=True, slots=True)
class PlanSet:
    """One time that the cut plan was set, as it stands now."""

    seq: int
    """Sequence number of the entry that set it."""
    plan: str
    posted_at: str = ""
    changed: bool = False
    """By a change of plan, which can be struck; a description of the carcass cannot."""
    struck: bool = False


@dataclass(slots=True)
class Carcass:
    """Everything the ledger says about one carcass."""

    number: int
    opened_at: str
    tag: str = ""
    species: str = ""
    sex: str = ""
    skin: str = ""
    hot_or_cold: str = ""
    plan: str = ""
    """The cut plan in force: it began with `first_plan`, and the last of `plans` that stands holds."""
    first_plan: str = ""
    plans: dict[int, PlanSet] = field(default_factory=dict)
    """By sequence number, in order, struck ones included."""
    state: CarcassState = CarcassState.OPEN
    dressed: e.DressedWeightTaken | None = None
    dressed_at: str = ""
    pieces: dict[int, Piece] = field(default_factory=dict)
    """By sequence number, in order, struck ones included."""
    unweighed: list[e.CallLeftUnweighed] = field(default_factory=list)
    unweighed_at: list[tuple[int, str]] = field(default_factory=list)
    """Number and time of the entry of each of `unweighed`."""
    temperatures: list[e.TemperatureNoted] = field(default_factory=list)
    notes: list[e.NoteMade] = field(default_factory=list)
    closing: e.CarcassClosed | None = None
    closed_at: str = ""
    changed_since_closing: bool = False
    """Something that the balance rests on was corrected after the last closing, which still stands."""

    def set_plan(self, change: PlanSet) -> None:
        """Take one setting of the plan into account: a new one, or one struck or put back."""
        self.plans[change.seq] = change
        standing = [each.plan for each in self.plans.values() if not each.struck]
        self.plan = standing[-1] if standing else self.first_plan

    def standing(self) -> list[Piece]:
        """The pieces that count: not struck, in order."""
        return [piece for piece in self.pieces.values() if not piece.struck]

    def total_mg(self) -> int:
        """Sum of the net masses of the standing pieces."""
        return sum(piece.mass_mg for piece in self.standing())

    def title(self) -> str:
        """How the carcass is named to people: "carcass 417, fallow deer doe"."""
        what = " ".join(part for part in (self.species, self.sex) if part)
        tag = f"carcass {self.tag}" if self.tag else f"carcass number {self.number} (no tag)"
        return f"{tag}, {what}" if what else tag

    def copied(self) -> Carcass:
        """A carcass in the same state that can go its own way."""
        return replace(
            self,
            pieces=dict(self.pieces),
            plans=dict(self.plans),
            unweighed=list(self.unweighed),
            unweighed_at=list(self.unweighed_at),
            temperatures=list(self.temperatures),
            notes=list(self.notes),
        )
