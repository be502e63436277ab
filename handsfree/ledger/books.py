"""The state of the larder, rebuilt from the entries alone: `Books.apply` folds them in order.

Nothing here is stored: the ledger is the only memory, so a restart in mid-carcass carries on from
what is on disk.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from functools import singledispatchmethod

from handsfree.errors import EntryError
from handsfree.ledger import entries as e
from handsfree.ledger.bench import Bench
from handsfree.ledger.carcass import Carcass, CarcassState, Piece, PlanSet
from handsfree.ledger.ports import History, LedgerStore

#: So many containers are remembered; a larder has a few kinds of tray.
KNOWN_TRAYS = 12

_LIFE = (e.CarcassOpened, e.CarcassParked, e.CarcassResumed, e.CarcassClosed)

__all__ = ["Books", "Carcass", "CarcassState", "Piece", "open_books"]


class Books:
    """All carcasses, and what the recorder is in the middle of.

    Args:
        entries: What to start from, in order.
        history: Looks up carcasses that are not in `carcasses`, when one of them is asked for by
            number, tag or piece. Without it, what is not in the entries is not there.
    """

    def __init__(self, entries: Iterable[e.Entry] = (), *, history: History | None = None) -> None:
        self.carcasses: dict[int, Carcass] = {}
        self.current: int | None = None
        """Number of the open carcass in hand, None when there is none."""
        self.containers: dict[str, e.ContainerSet] = {}
        """The container standing on each scale, by scale name."""
        self.trays: tuple[e.ContainerSet, ...] = ()
        """The containers known from earlier, the latest last, each mass of each scale once."""
        self.direction: str = "putting on"
        self.bench = Bench()
        """Who works."""
        self.last_seq: int = 0
        self.last_number: int = 0
        """The highest carcass number so far."""
        self.history = history
        self._shared: set[int] = set()
        self._piece_carcass: dict[int, int] = {}
        self._plan_carcass: dict[int, int] = {}
        self._reversals: dict[int, int] = {}
        self._last_reversal: tuple[int, int] | None = None
        self._reversed_by: dict[int, int] = {}
        for entry in entries:
            self.apply(entry)

    def apply(self, entry: e.Entry) -> None:
        """Take one more entry into account.

        Raises:
            EntryError: The entry refers to a carcass, piece or entry that is not there.
        """
        self._apply(entry.body, entry)
        self.last_seq = entry.seq
        if isinstance(entry.body, _LIFE):
            self.bench.since = entry.seq

    @property
    def next_number(self) -> int:
        """The number that the next new carcass gets."""
        return self.last_number + 1

    @property
    def carcass(self) -> Carcass | None:
        """The open carcass in hand."""
        return self.carcasses.get(self.current) if self.current is not None else None

    def by_number(self, number: int) -> Carcass | None:
        """The carcass with this number, looked up in the history if need be."""
        if number not in self.carcasses and self.history is not None:
            self._fetch(number, self.history)
        return self.carcasses.get(number)

    def by_tag(self, tag: str) -> Carcass | None:
        """The newest carcass with this tag, None when there is none."""
        found = self._all_by_tag(tag)
        return found[0] if found else None

    def unfinished_by_tag(self, tag: str) -> Carcass | None:
        """The newest carcass with this tag that is not closed, None when there is none."""
        found = [c for c in self.carcasses.values() if c.tag == tag and c.state is not CarcassState.CLOSED]
        return max(found, key=lambda carcass: carcass.number, default=None)

    def piece(self, seq: int) -> Piece:
        """The piece made by entry `seq`.

        Raises:
            EntryError: That entry made no piece.
        """
        if seq not in self._piece_carcass and self.history is not None:
            number = self.history.carcass_of(seq)
            if number is not None:
                self.by_number(number)
        try:
            return self.carcasses[self._piece_carcass[seq]].pieces[seq]
        except KeyError:
            raise EntryError(f"entry {seq} is not a piece") from None

    def carcass_of_piece(self, seq: int) -> Carcass:
        """The carcass that the piece made by entry `seq` came from.

        Raises:
            EntryError: That entry made no piece.
        """
        return self.carcasses[self.piece(seq).entered.carcass]

    def last_piece(self, *, struck: bool = False) -> Piece | None:
        """The newest standing (or newest struck) piece of the carcass in hand."""
        if self.carcass is None:
            return None
        found = [piece for piece in self.carcass.pieces.values() if piece.struck is struck]
        return found[-1] if found else None

    def last_plan_change(self, carcass: Carcass | None = None) -> PlanSet | None:
        """The newest standing change of plan that can be taken back; of the one in hand unless told."""
        carcass = carcass if carcass is not None else self.carcass
        if carcass is None:
            return None
        found = [each for each in carcass.plans.values() if each.changed and not each.struck]
        return found[-1] if found else None

    def reversal_of(self, seq: int) -> int | None:
        """Sequence number of the standing reversal of entry `seq`, None when it stands."""
        return self._reversals.get(seq)

    def fork(self) -> Books:
        """Books that start from the same state and go their own way: to try entries out."""
        other = Books(history=self.history)
        other.carcasses = dict(self.carcasses)
        other.current = self.current
        other.containers = dict(self.containers)
        other.trays = self.trays
        other.direction = self.direction
        other.bench = self.bench.copied()
        other.last_seq = self.last_seq
        other.last_number = self.last_number
        other._piece_carcass = dict(self._piece_carcass)
        other._plan_carcass = dict(self._plan_carcass)
        other._reversals = dict(self._reversals)
        other._reversed_by = dict(self._reversed_by)
        other._shared = set(self.carcasses)
        return other

    def set_aside_closed(self) -> None:
        """Let go of what is known of closed carcasses; the history has it."""
        for number in [n for n, c in self.carcasses.items() if c.state is CarcassState.CLOSED]:
            carcass = self.carcasses.pop(number)
            for seq in (*carcass.pieces, *carcass.plans):
                self._piece_carcass.pop(seq, None)
                self._plan_carcass.pop(seq, None)
                self._reversed_by.pop(self._reversals.pop(seq, 0), None)

    def _all_by_tag(self, tag: str) -> list[Carcass]:
        if self.history is not None:
            for number in self.history.tagged(tag):
                self.by_number(number)
        found = [carcass for carcass in self.carcasses.values() if carcass.tag == tag]
        return sorted(found, key=lambda carcass: carcass.number, reverse=True)

    def _fetch(self, number: int, history: History) -> None:
        # The store may already hold entries that these books have yet to be told of.
        apart = Books(entry for entry in history.entries_of(number) if entry.seq <= self.last_seq)
        if number in apart.carcasses:
            self.carcasses[number] = apart.carcasses[number]
            self._piece_carcass.update(apart._piece_carcass)
            self._plan_carcass.update(apart._plan_carcass)
            for seq, by in apart._reversals.items():
                self._reverse(seq, by)

    def piece_reversed_by(self, seq: int) -> Piece | None:
        """The piece that the newest reversal, entry `seq`, struck or put back, as it stands now.

        None when `seq` is not the newest reversal applied: for the answer to an entry just written.
        """
        about = self._reversed_last(seq)
        if about is None or about in self.bench.changes or self._is_plan_change(about):
            return None
        return self.piece(about)

    def plan_reversed_by(self, seq: int) -> Carcass | None:
        """The carcass whose plan the newest reversal, entry `seq`, took back or put back.

        None when `seq` is not the newest reversal applied, or is about a piece.
        """
        about = self._reversed_last(seq)
        return self.carcasses[self._plan_carcass[about]] if about in self._plan_carcass else None

    def is_about_butcher(self, seq: int) -> bool:
        """Whether the newest reversal, entry `seq`, took back or put back a change of butcher."""
        return self._reversed_last(seq) in self.bench.changes

    def _reversed_last(self, seq: int) -> int | None:
        last = self._last_reversal
        return last[1] if last is not None and last[0] == seq else None

    def _get(self, number: int) -> Carcass:
        """The carcass, to be changed: one that a fork shares is copied first."""
        carcass = self.by_number(number)
        if carcass is None:
            raise EntryError(f"there is no carcass number {number} in this ledger")
        if number in self._shared:
            self._shared.discard(number)
            carcass = self.carcasses[number] = carcass.copied()
        return carcass

    def _correct(self, number: int) -> Carcass:
        """The carcass, to be changed in what its balance rests on."""
        carcass = self._get(number)
        carcass.changed_since_closing = carcass.closing is not None
        return carcass

    def _park_the_one_in_hand(self) -> None:
        if self.current is not None:
            self._get(self.current).state = CarcassState.PARKED

    @singledispatchmethod
    def _apply(self, body: e.Body, entry: e.Entry) -> None:
        """Bodies without an effect on the books: session marks and troubles."""

    @_apply.register
    def _(self, body: e.CarcassOpened, entry: e.Entry) -> None:
        if body.carcass <= self.last_number and self.by_number(body.carcass) is not None:
            raise EntryError(f"carcass number {body.carcass} is already in this ledger")
        self._park_the_one_in_hand()
        self.carcasses[body.carcass] = Carcass(
            body.carcass, entry.posted_at, tag=body.tag, plan=body.plan, first_plan=body.plan
        )
        self.current = body.carcass
        self.last_number = max(self.last_number, body.carcass)

    @_apply.register
    def _(self, body: e.CarcassDescribed, entry: e.Entry) -> None:
        carcass = self._correct(body.carcass)
        for name in ("tag", "species", "sex", "skin", "hot_or_cold"):
            value = getattr(body, name)
            if value is not None:
                setattr(carcass, name, value)
        if body.plan is not None:
            carcass.set_plan(PlanSet(entry.seq, body.plan, entry.posted_at))

    @_apply.register
    def _(self, body: e.PlanChanged, entry: e.Entry) -> None:
        self._correct(body.carcass).set_plan(PlanSet(entry.seq, body.plan, entry.posted_at, changed=True))
        self._plan_carcass[entry.seq] = body.carcass

    @_apply.register
    def _(self, body: e.DressedWeightTaken, entry: e.Entry) -> None:
        carcass = self._correct(body.carcass)
        carcass.dressed = body
        carcass.dressed_at = entry.posted_at

    @_apply.register
    def _(self, body: e.ContainerSet, entry: e.Entry) -> None:
        self.containers[body.scale] = body
        same = (body.scale, body.mass_mg)
        others = [each for each in self.trays if (each.scale, each.mass_mg) != same]
        self.trays = (*others, body)[-KNOWN_TRAYS:]

    @_apply.register
    def _(self, body: e.WeighingTurned, entry: e.Entry) -> None:
        self.direction = body.direction

    @_apply.register
    def _(self, body: e.ButcherChanged, entry: e.Entry) -> None:
        self.bench.put(body, entry)

    @_apply.register
    def _(self, body: e.PieceEntered, entry: e.Entry) -> None:
        carcass = self._correct(body.carcass)
        carcass.pieces[entry.seq] = Piece(
            entry.seq, entry.posted_at, body, body.cut, body.side, body.count, body.destination
        )
        self._piece_carcass[entry.seq] = body.carcass

    @_apply.register
    def _(self, body: e.EntryReversed, entry: e.Entry) -> None:
        if body.reverses in self._reversed_by:  # the reversal of a reversal puts it back
            about = self._reversed_by[body.reverses]
            self._keep_struck(about, struck=False)
            self._last_reversal = (entry.seq, about)
            del self._reversals[about], self._reversed_by[body.reverses]
            return
        if body.reverses in self._reversals:
            raise EntryError(f"entry {body.reverses} is already reversed")
        self._keep_struck(body.reverses, struck=True)
        self._last_reversal = (entry.seq, body.reverses)
        self._reverse(body.reverses, entry.seq)

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
        carcass = self._correct(body.carcass)
        carcass.unweighed.append(body)
        carcass.unweighed_at.append((entry.seq, entry.posted_at))

    @_apply.register
    def _(self, body: e.CarcassParked, entry: e.Entry) -> None:
        self._get(body.carcass).state = CarcassState.PARKED
        if self.current == body.carcass:
            self.current = None

    @_apply.register
    def _(self, body: e.CarcassResumed, entry: e.Entry) -> None:
        carcass = self._get(body.carcass)
        if self.current != body.carcass:
            self._park_the_one_in_hand()
        carcass.state = CarcassState.OPEN
        carcass.closing = None
        carcass.closed_at = ""
        carcass.changed_since_closing = False
        self.current = body.carcass

    @_apply.register
    def _(self, body: e.CarcassClosed, entry: e.Entry) -> None:
        carcass = self._get(body.carcass)
        carcass.state = CarcassState.CLOSED
        carcass.closing = body
        carcass.changed_since_closing = False
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

    def _keep_struck(self, seq: int, *, struck: bool) -> None:
        """Strike, or put back, the piece or the change made by entry `seq`."""
        if seq in self.bench.changes:
            self.bench.strike(seq, struck=struck)
        elif self._is_plan_change(seq):
            carcass = self._correct(self._plan_carcass[seq])
            carcass.set_plan(replace(carcass.plans[seq], struck=struck))
        else:
            self._keep(replace(self.piece(seq), struck=struck))

    def _is_plan_change(self, seq: int) -> bool:
        if seq not in self._plan_carcass and seq not in self._piece_carcass and self.history is not None:
            number = self.history.carcass_of(seq)
            if number is not None:
                self.by_number(number)
        return seq in self._plan_carcass

    def _reverse(self, seq: int, by: int) -> None:
        self._reversals[seq] = by
        self._reversed_by[by] = seq

    def _keep(self, piece: Piece) -> None:
        self._correct(piece.entered.carcass).pieces[piece.seq] = piece


def open_books(store: LedgerStore) -> Books:
    """Books to go on working with, read from the entries that suffice for that.

    Closed carcasses are not kept in mind; they are looked up in the store when asked for by number,
    tag or piece. For all carcasses at once, use `Books(store.entries())`.

    Raises:
        LedgerTamperedError: An entry is not as it was written.
        LedgerError: The ledger cannot be read.
    """
    books = Books(store.working())
    books.set_aside_closed()
    books.history = store
    books.last_seq = max(books.last_seq, store.last()[0])
    return books
