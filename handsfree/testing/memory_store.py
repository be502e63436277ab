"""A ledger in memory, held to the same contract as the one on disk."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from handsfree.errors import LedgerError
from handsfree.ledger.books import Books
from handsfree.ledger.carcass import Carcass, CarcassState
from handsfree.ledger.chain_check import Row, follow, to_entry, verify_rows
from handsfree.ledger.digest import ZERO_DIGEST, chain
from handsfree.ledger.entries import (
    Body,
    CarcassDescribed,
    CarcassOpened,
    Entry,
    EntryReversed,
    PieceRenamed,
    SessionBegan,
)
from handsfree.ledger.ports import Verification
from handsfree.ledger.season_record import ClosedCarcass, ClosedSeason, Weighing, in_columns


class MemoryStore:
    """A `LedgerStore` whose entries are gone with the process. For tests and dry runs."""

    def __init__(self) -> None:
        self.rows: list[Row] = []
        """The entries as they were written; a test may spoil them."""
        self._closed = False

    def append(self, bodies: Sequence[Body], *, session: str, t_ns: int, posted_at: str) -> list[Entry]:
        """See `LedgerStore.append`."""
        made = chain(bodies, session=session, t_ns=t_ns, posted_at=posted_at, after=self.last())
        for entry, text in made:
            kind = type(entry.body).__name__
            self.rows.append(
                Row(entry.seq, posted_at, session, t_ns, kind, text, entry.previous, entry.digest)
            )
        return [entry for entry, _ in made]

    def last(self) -> tuple[int, str]:
        """See `LedgerStore.last`."""
        self._check_open()
        return (self.rows[-1].seq, self.rows[-1].digest) if self.rows else (0, ZERO_DIGEST)

    def entries(self, after: int = 0) -> Iterator[Entry]:
        """See `LedgerStore.entries`."""
        self._check_open()
        rows = (row for row in self.rows if row.seq > after)
        before = (0, ZERO_DIGEST) if after <= 0 else (after, None)
        for row in follow(rows, "in memory", after=before):
            yield to_entry(row, "in memory")

    def working(self) -> Iterator[Entry]:
        """See `LedgerStore.working`: here simply all of them."""
        return self.entries()

    def entries_of(self, carcass: int) -> Iterator[Entry]:
        """See `History.entries_of`."""
        about: set[int] = set()
        for entry in self.entries():
            body = entry.body
            if getattr(body, "carcass", None) == carcass or (
                (isinstance(body, EntryReversed) and body.reverses in about)
                or (isinstance(body, PieceRenamed) and body.piece in about)
            ):
                about.add(entry.seq)
                yield entry

    def sessions_begun(self, started_at: str) -> Iterator[Entry]:
        """See `History.sessions_begun`."""
        for entry in self.entries():
            if isinstance(entry.body, SessionBegan) and entry.body.started_at == started_at:
                yield entry

    def tagged(self, tag: str) -> list[int]:
        """See `History.tagged`."""
        found = {
            entry.body.carcass
            for entry in self.entries()
            if isinstance(entry.body, CarcassOpened | CarcassDescribed) and entry.body.tag == tag
        }
        return sorted(found, reverse=True)

    def carcass_of(self, seq: int) -> int | None:
        """See `History.carcass_of`."""
        found = [entry.body for entry in self.entries() if entry.seq == seq]
        return getattr(found[0], "carcass", None) if found else None

    def closed(self, limit: int) -> list[int]:
        """See `History.closed`."""
        latest: dict[int, int] = {}
        books = Books()
        for entry in self.entries():
            books.apply(entry)
            number = getattr(entry.body, "carcass", None)
            if number is not None and type(entry.body).__name__ == "CarcassClosed":
                latest[number] = entry.seq
        shut = [n for n in latest if books.carcasses[n].state is CarcassState.CLOSED]
        return sorted(shut, key=lambda number: latest[number], reverse=True)[:limit]

    def closed_between(self, since: str, before: str) -> ClosedSeason:
        """See `SeasonRecord.closed_between`: here out of full books."""
        books = Books(self.entries())
        found = [
            books.carcasses[number]
            for number in reversed(self.closed(len(self.rows)))
            if since <= books.carcasses[number].closed_at < (before or "~")
        ]
        return ClosedSeason(tuple(map(_closed, found)), in_columns([row for c in found for row in _rows(c)]))

    def verify(self) -> Verification:
        """See `LedgerStore.verify`."""
        self._check_open()
        return verify_rows(self.rows, "in memory")

    def close(self) -> None:
        """See `LedgerStore.close`."""
        self._closed = True

    def _check_open(self) -> None:
        if self._closed:
            raise LedgerError("the ledger in memory is already closed")


def _closed(carcass: Carcass) -> ClosedCarcass:
    closing = carcass.closing
    assert closing is not None
    return ClosedCarcass(
        carcass.number,
        carcass.tag,
        carcass.species,
        carcass.sex,
        carcass.skin,
        carcass.closed_at,
        carcass.dressed.mass_mg if carcass.dressed else None,
        closing.verdict,
        closing.sentence,
        closing.suspect,
        closing.unaccounted_mg,
        carcass.changed_since_closing,
    )


def _rows(carcass: Carcass) -> list[Weighing]:
    return [
        Weighing(
            piece.cut,
            piece.destination,
            piece.entered.scale,
            piece.entered.by,
            piece.seq,
            carcass.number,
            piece.count,
            piece.mass_mg,
        )
        for piece in carcass.standing()
    ]
