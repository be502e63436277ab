"""The state of the larder, rebuilt from the entries alone: `Books.apply` folds them in order.

Nothing here is stored: the ledger is the only memory, so a restart in mid-carcass carries on from
what is on disk.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from enum import StrEnum
from functools import singledispatchmethod

from handsfree.errors import EntryError
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
    state: CarcassState = CarcassState.OPEN
    dressed: e.DressedWeightTaken | None = None
    dressed_at: str = ""
    pieces: dict[int, Piece] = field(default_factory=dict)
    """By sequence number, in order, struck ones included."""
    unweighed: list[e.CallLeftUnweighed] = field(default_factory=list)
    temperatures: list[e.TemperatureNoted] = field(default_factory=list)
    notes: list[e.NoteMade] = field(default_factory=list)
    closing: e.CarcassClosed | None = None
    closed_at: str = ""

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


class Books:
    """All carcasses, and what the recorder is in the middle of."""

    def __init__(self, entries: Iterable[e.Entry] = ()) -> None:
        self.carcasses: dict[int, Carcass] = {}
        self.current: int | None = None
        """Number of the open carcass in hand, None when there is none."""
        self.containers: dict[str, e.ContainerSet] = {}
        """The container standing on each scale, by scale name."""
        self.direction: str = "putting on"
        self.last_seq: int = 0
        self._piece_carcass: dict[int, int] = {}
        self._reversals: dict[int, int] = {}
        for entry in entries:
            self.apply(entry)

    def apply(self, entry: e.Entry) -> None:
        """Take one more entry into account.

        Raises:
            EntryError: The entry refers to a carcass, piece or entry that is not there.
        """
        self._apply(entry.body, entry)
        self.last_seq = entry.seq

    @property
    def carcass(self) -> Carcass | None:
        """The open carcass in hand."""
        return self.carcasses.get(self.current) if self.current is not None else None

    def by_tag(self, tag: str) -> Carcass | None:
        """The newest carcass with this tag, None when there is none."""
        found = [carcass for carcass in self.carcasses.values() if carcass.tag == tag]
        return found[-1] if found else None

    def piece(self, seq: int) -> Piece:
        """The piece made by entry `seq`.

        Raises:
            EntryError: That entry made no piece.
        """
        try:
            return self.carcasses[self._piece_carcass[seq]].pieces[seq]
        except KeyError:
            raise EntryError(f"entry {seq} is not a piece") from None

    def last_piece(self, *, struck: bool = False) -> Piece | None:
        """The newest standing (or newest struck) piece of the carcass in hand."""
        if self.carcass is None:
            return None
        found = [piece for piece in self.carcass.pieces.values() if piece.struck is struck]
        return found[-1] if found else None

    def reversal_of(self, seq: int) -> int | None:
        """Sequence number of the standing reversal of entry `seq`, None when it stands."""
        return self._reversals.get(seq)

    def _get(self, number: int) -> Carcass:
        try:
            return self.carcasses[number]
        except KeyError:
            raise EntryError(f"there is no carcass number {number} in this ledger") from None

    @singledispatchmethod
    def _apply(self, body: e.Body, entry: e.Entry) -> None:
        """Bodies without an effect on the books: session marks and troubles."""

    @_apply.register
    def _(self, body: e.CarcassOpened, entry: e.Entry) -> None:
        if body.carcass in self.carcasses:
            raise EntryError(f"carcass number {body.carcass} is already in this ledger")
        if self.carcass is not None:
            self.carcass.state = CarcassState.PARKED
        self.carcasses[body.carcass] = Carcass(body.carcass, entry.posted_at, tag=body.tag)
        self.current = body.carcass

    @_apply.register
    def _(self, body: e.CarcassDescribed, entry: e.Entry) -> None:
        carcass = self._get(body.carcass)
        for name in ("tag", "species", "sex", "skin", "hot_or_cold", "plan"):
            value = getattr(body, name)
            if value is not None:
                setattr(carcass, name, value)

    @_apply.register
    def _(self, body: e.DressedWeightTaken, entry: e.Entry) -> None:
        carcass = self._get(body.carcass)
        carcass.dressed = body
        carcass.dressed_at = entry.posted_at

    @_apply.register
    def _(self, body: e.ContainerSet, entry: e.Entry) -> None:
        self.containers[body.scale] = body

    @_apply.register
    def _(self, body: e.WeighingTurned, entry: e.Entry) -> None:
        self.direction = body.direction

    @_apply.register
    def _(self, body: e.PieceEntered, entry: e.Entry) -> None:
        carcass = self._get(body.carcass)
        carcass.pieces[entry.seq] = Piece(
            entry.seq, entry.posted_at, body, body.cut, body.side, body.count, body.destination
        )
        self._piece_carcass[entry.seq] = body.carcass

    @_apply.register
    def _(self, body: e.EntryReversed, entry: e.Entry) -> None:
        if body.reverses in self._reversals:
            raise EntryError(f"entry {body.reverses} is already reversed")
        target = next((seq for seq, by in self._reversals.items() if by == body.reverses), None)
        if target is not None:  # the reversal of a reversal puts the piece back
            del self._reversals[target]
            self._set_struck(target, struck=False)
            return
        self._set_struck(body.reverses, struck=True)
        self._reversals[body.reverses] = entry.seq

    @_apply.register
    def _(self, body: e.PieceRenamed, entry: e.Entry) -> None:
        piece = self.piece(body.piece)
        self._keep(
            replace(
                piece,
                cut=body.cut,
                side=body.side,
                count=body.count,
                destination=body.destination,
                renamed=True,
            )
        )

    @_apply.register
    def _(self, body: e.CallLeftUnweighed, entry: e.Entry) -> None:
        self._get(body.carcass).unweighed.append(body)

    @_apply.register
    def _(self, body: e.CarcassParked, entry: e.Entry) -> None:
        self._get(body.carcass).state = CarcassState.PARKED
        if self.current == body.carcass:
            self.current = None

    @_apply.register
    def _(self, body: e.CarcassResumed, entry: e.Entry) -> None:
        carcass = self._get(body.carcass)
        if self.carcass is not None and self.carcass is not carcass:
            self.carcass.state = CarcassState.PARKED
        carcass.state = CarcassState.OPEN
        carcass.closing = None
        self.current = body.carcass

    @_apply.register
    def _(self, body: e.CarcassClosed, entry: e.Entry) -> None:
        carcass = self._get(body.carcass)
        carcass.state = CarcassState.CLOSED
        carcass.closing = body
        carcass.closed_at = entry.posted_at
        if self.current == body.carcass:
            self.current = None

    @_apply.register
    def _(self, body: e.TemperatureNoted, entry: e.Entry) -> None:
        if body.carcass is not None:
            self._get(body.carcass).temperatures.append(body)

    @_apply.register
    def _(self, body: e.NoteMade, entry: e.Entry) -> None:
        if body.carcass is not None:
            self._get(body.carcass).notes.append(body)

    def _set_struck(self, seq: int, *, struck: bool) -> None:
        self._keep(replace(self.piece(seq), struck=struck))

    def _keep(self, piece: Piece) -> None:
        self.carcasses[self._piece_carcass[piece.seq]].pieces[piece.seq] = piece
