"""What the ledger needs from the outside: a store. Contract suite: `handsfree.testing.ledger_contract`."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Protocol

from handsfree.ledger.entries import Body, Entry
from handsfree.ledger.season_record import SeasonRecord


@dataclass(frozen=True, slots=True)
class Verification:
    """What a check of the whole chain found sound."""

    count: int
    """Entries checked: all there are."""
    last_digest: str
    """Digest of the last entry; 64 zeros for an empty ledger."""
    anchored: int | None = None
    """The entry noted outside the ledger that was found in it; entries lost from the end are seen
    only up to here. None: there is no such note, and a cut-off end cannot be seen."""


class History(Protocol):
    """Looks up carcasses that are not kept in mind, because they were finished long ago."""

    def entries_of(self, carcass: int) -> Iterator[Entry]:
        """Every entry about this carcass, in order: reversals and renamings of its pieces too."""
        ...

    def tagged(self, tag: str) -> list[int]:
        """Numbers of the carcasses that were ever given this tag, newest first."""
        ...

    def carcass_of(self, seq: int) -> int | None:
        """The carcass that entry `seq` itself names; None when it names none or is not there."""
        ...

    def sessions_begun(self, started_at: str) -> Iterator[Entry]:
        """The beginnings of sessions whose time 0 was this moment (`digest.rfc3339`), in order."""
        ...

    def closed(self, limit: int) -> list[int]:
        """Numbers of the carcasses that stand closed, the latest closed first, at most `limit`."""
        ...


class LedgerStore(History, SeasonRecord, Protocol):
    """Entries for good: appended, read, verified; never changed.

    One thread at a time. Any number of readers may follow while one writer appends.
    """

    def append(self, bodies: Sequence[Body], *, session: str, t_ns: int, posted_at: str) -> list[Entry]:
        """Write these bodies as the next entries: all of them or none.

        They are on disk when this returns, so an answer may be given.

        Args:
            bodies: What is to be entered, in order.
            session: Identifier of the session that writes.
            t_ns: Time within that session.
            posted_at: RFC 3339 UTC wall time (`digest.rfc3339` writes it).

        Raises:
            EntryError: A body that cannot be written; nothing was.
            LedgerFullError: No room, or no right to write any more; nothing was written, and the
                same call may be tried again.
            LedgerTamperedError: Another program has written here meanwhile.
            LedgerError: The ledger was opened for reading only, or is closed or damaged.
        """
        ...

    def last(self) -> tuple[int, str]:
        """Sequence number and digest of the last entry; `(0, 64 zeros)` when there is none."""
        ...

    def entries(self, after: int = 0) -> Iterator[Entry]:
        """The entries with a sequence number above `after`, in order, each held to its digest.

        Raises:
            LedgerTamperedError: Names the first entry that is not as it was written, or is missing.
            LedgerNewerError: An entry of a kind that this version does not know.
            LedgerError: The file cannot be read.
        """
        ...

    def working(self) -> Iterator[Entry]:
        """The entries that suffice to go on working, in order: fewer than all, the same effect.

        From these, `Books` come to the same state as from all entries, but for what closed
        carcasses hold (`books.open_books` looks those up when asked).

        Raises:
            LedgerTamperedError: As for `entries`; a missing entry is not noticed here.
        """
        ...

    def verify(self) -> Verification:
        """Check every entry, its number and its digest, from the first to the last.

        What this sees: any changed value, an entry removed from the middle or put in, entries in
        another order. An end that was cut off is seen only against a digest noted elsewhere
        (`Verification.anchored`); a chain that was wholly written anew, note included, is not seen.

        Raises:
            LedgerTamperedError: Names the first bad entry.
            LedgerError: The file is damaged.
        """
        ...

    def close(self) -> None:
        """Finish and let another recorder in. Safe to call twice."""
        ...
