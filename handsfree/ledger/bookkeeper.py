"""Writes bodies into the ledger and keeps the books level with it."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from handsfree.clock import wall_time
from handsfree.ledger.books import Books
from handsfree.ledger.digest import ZERO_DIGEST, rfc3339
from handsfree.ledger.entries import Body, Entry
from handsfree.ledger.ports import LedgerStore


class Bookkeeper:
    """One session's way into the ledger: tried on a copy of the books, then on disk, then in the books.

    Args:
        store: Where the entries go.
        books: The state so far; level with the store.
        session: Identifier of this session.
        started_at: Wall time (aware) at which the session's `t_ns` is 0.
    """

    def __init__(self, store: LedgerStore, books: Books, *, session: str, started_at: datetime) -> None:
        self._store = store
        self._session = session
        self._started_at = started_at
        self.books = books

    def write(self, bodies: Sequence[Body], *, t_ns: int) -> list[Entry]:
        """Enter these bodies, all or none; they are on disk and in the books when this returns.

        Raises:
            EntryError: A body that makes no sense as things stand; nothing was entered.
            LedgerError: As `LedgerStore.append`; nothing was entered.
        """
        posted_at = rfc3339(wall_time(self._started_at, t_ns))
        self._catch_up()
        # An entry that the books cannot take must never reach the disk: it could not be taken back.
        trial = self.books.fork()
        for body in bodies:
            trial.apply(
                Entry(trial.last_seq + 1, posted_at, self._session, t_ns, body, ZERO_DIGEST, ZERO_DIGEST)
            )
        entries = self._store.append(bodies, session=self._session, t_ns=t_ns, posted_at=posted_at)
        for entry in entries:
            self.books.apply(entry)
        return entries

    def _catch_up(self) -> None:
        # An interrupt just after a commit leaves entries on disk that the books were never told of.
        if self._store.last()[0] != self.books.last_seq:
            for entry in self._store.entries(after=self.books.last_seq):
                self.books.apply(entry)
