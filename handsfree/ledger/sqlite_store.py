"""The ledger on disk: SQLite with write-ahead log, every append synchronised before it returns."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Self

from sqlite_utils import Database

from handsfree.errors import LedgerError
from handsfree.ledger import queries, sqlite_season
from handsfree.ledger.chain_check import Row, follow, tampered, to_entry, verify_rows
from handsfree.ledger.digest import ZERO_DIGEST, chain
from handsfree.ledger.entries import Body, Entry
from handsfree.ledger.ports import Verification
from handsfree.ledger.season_record import ClosedSeason
from handsfree.ledger.sidecars import Anchor, WriterLock, read_anchor
from handsfree.ledger.sqlite_errors import translated
from handsfree.ledger.sqlite_opening import (
    check_file,
    connect_to_read,
    connect_to_write,
    guards_missing,
    make_folder,
    restore_guards,
)

#: Rows fetched at a time: a reader never holds a long transaction, so the log can be folded in.
_CHUNK = 1_000
#: Entries held to the chain at every opening; the whole chain is `verify`'s work.
_TAIL = 200


class SqliteStore:
    """A `LedgerStore` in one file. Use `open_ledger` to write and `read_ledger` to read."""

    def __init__(self, path: Path, db: Database, lock: WriterLock | None) -> None:
        self.path = path
        self._db = db
        self._lock = lock
        self._closed = False
        self._set_up = False
        with translated(path, writing=False):
            self._last = self._read_last()
        self._anchor = Anchor(path) if lock else None

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def append(self, bodies: Sequence[Body], *, session: str, t_ns: int, posted_at: str) -> list[Entry]:
        """See `LedgerStore.append`."""
        self._check_open()
        if self._lock is None:
            raise LedgerError(f"the ledger {self.path} was opened for reading only")
        made = chain(bodies, session=session, t_ns=t_ns, posted_at=posted_at, after=self._last)
        if not made:
            return []
        rows = [
            (e.seq, e.posted_at, e.session, e.t_ns, type(e.body).__name__, text, e.previous, e.digest)
            for e, text in made
        ]
        try:
            with translated(self.path, writing=True):
                self._insert(rows)
            newest = made[-1][0]
            self._last = (newest.seq, newest.digest)
        except KeyboardInterrupt:
            # It may have come just before or just after the commit: the file knows which.
            self._give_up()
            self._last = self._read_last()
            raise
        if self._anchor is not None:
            self._anchor.write(*self._last)
        return [entry for entry, _ in made]

    def _insert(self, rows: Sequence[tuple[object, ...]]) -> None:
        """All rows or none, on disk when it returns.

        No context manager made of a generator: an interrupt as one is left leaves the transaction open until
        the generator is collected, which undoes then what was taken for written meanwhile.
        """
        try:
            self._db.conn.execute("BEGIN")
            if self._read_last() != self._last:
                tampered(f"another program has written to the ledger {self.path} while it was in use")
            self._db.conn.executemany(queries.INSERT, rows)
            self._db.conn.execute("COMMIT")
        except BaseException:
            self._give_up()
            raise

    def _give_up(self) -> None:
        """End a transaction that is still open, as if it had never been."""
        if self._db.conn.in_transaction:
            self._db.conn.rollback()

    def last(self) -> tuple[int, str]:
        """See `LedgerStore.last`."""
        self._check_open()
        with translated(self.path, writing=False):
            return self._last if self._lock else self._read_last()

    def entries(self, after: int = 0) -> Iterator[Entry]:
        """See `LedgerStore.entries`."""
        before = (0, ZERO_DIGEST) if after <= 0 else (after, None)
        for row in follow(self._rows(max(after, 0)), self.path.name, after=before):
            yield to_entry(row, self.path.name)

    def working(self) -> Iterator[Entry]:
        """See `LedgerStore.working`."""
        return self._picked(self._numbers(queries.WORKING))

    def entries_of(self, carcass: int) -> Iterator[Entry]:
        """See `History.entries_of`."""
        return self._picked(self._numbers(queries.OF_CARCASS, carcass))

    def tagged(self, tag: str) -> list[int]:
        """See `History.tagged`."""
        return self._numbers(queries.TAGGED, tag)

    def carcass_of(self, seq: int) -> int | None:
        """See `History.carcass_of`."""
        found = self._numbers(queries.CARCASS_OF, seq)
        return found[0] if found else None

    def sessions_begun(self, started_at: str) -> Iterator[Entry]:
        """See `History.sessions_begun`."""
        return self._picked(self._numbers(queries.SESSIONS_BEGUN, started_at))

    def closed(self, limit: int) -> list[int]:
        """See `History.closed`."""
        return self._numbers(queries.CLOSED, limit)

    def closed_between(self, since: str, before: str) -> ClosedSeason:
        """See `SeasonRecord.closed_between`."""
        self._check_open()
        if not self._is_set_up():
            return ClosedSeason((), ())
        with translated(self.path, writing=False):
            return sqlite_season.closed_between(self._db.conn, since, before)

    def verify(self) -> Verification:
        """See `LedgerStore.verify`; also has SQLite check the file's structure."""
        self._check_open()
        with translated(self.path, writing=False):
            fault = self._db.execute("PRAGMA integrity_check(1)").fetchone()[0]
        if fault != "ok":
            raise LedgerError(
                f"the ledger {self.path} is damaged ({fault})",
                kept="Nothing in it was changed",
                next_step="copy the file aside, check the disk, and go on with a copy from a backup",
            )
        # The note first: an entry appended meanwhile is then not taken for one that is missing.
        anchor = read_anchor(self.path)
        return verify_rows(self._rows(0), self.path.name, anchor)

    def close(self) -> None:
        """See `LedgerStore.close`."""
        if self._closed:
            return
        self._closed = True
        try:
            with translated(self.path, writing=False):
                self._db.close()
        finally:
            if self._anchor is not None:
                self._anchor.close()
            if self._lock is not None:
                self._lock.release()

    def check_guards(self) -> None:
        """Put dropped or altered guards and views back, if the chain is sound.

        Raises:
            LedgerTamperedError: The entries, or the table that holds them, were changed.
        """
        missing = guards_missing(self._db)
        if "entry" in missing:
            tampered(f"the ledger {self.path} was tampered with: its table of entries was altered")
        if missing:
            self.verify()
            with translated(self.path, writing=True):
                restore_guards(self._db, missing)

    def check_tail(self) -> None:
        """Hold the newest entries, the number of entries and the note outside to each other.

        Raises:
            LedgerTamperedError: Something is missing or not as it was written.
        """
        seq, _ = self._last
        start = max(seq - _TAIL, 0)
        for row in follow(self._rows(start), self.path.name, after=(start, None if start else ZERO_DIGEST)):
            to_entry(row, self.path.name)
        anchor = read_anchor(self.path)
        noted = self._numbers(queries.NOTED, *anchor) if anchor else [1]
        if not noted or self._numbers(queries.COUNT) != [seq]:
            self.verify()

    def _rows(self, after: int) -> Iterator[Row]:
        while chunk := self._fetch(queries.PAGE, after, _CHUNK):
            yield from chunk
            after = chunk[-1].seq

    def _picked(self, numbers: list[int]) -> Iterator[Entry]:
        for start in range(0, len(numbers), _CHUNK):
            for row in self._fetch(queries.PICKED, json.dumps(numbers[start : start + _CHUNK])):
                yield to_entry(row, self.path.name)

    def _fetch(self, sql: str, *values: object) -> list[Row]:
        self._check_open()
        if not self._is_set_up():
            return []
        with translated(self.path, writing=False):
            try:
                return [Row(*row) for row in self._db.conn.execute(sql, values)]
            except sqlite3.OperationalError as error:
                if "decode" not in str(error):
                    raise
                # Text that is not UTF-8 was put in by another program: the digest will tell.
                self._db.conn.text_factory = lambda raw: raw.decode("utf-8", "surrogateescape")
                return [Row(*row) for row in self._db.conn.execute(sql, values)]

    def _numbers(self, sql: str, *values: object) -> list[int]:
        self._check_open()
        if not self._is_set_up():
            return []
        with translated(self.path, writing=False):
            return [row[0] for row in self._db.conn.execute(sql, values) if row[0] is not None]

    def _read_last(self) -> tuple[int, str]:
        if not self._is_set_up():
            return 0, ZERO_DIGEST
        row = self._db.conn.execute(queries.LAST).fetchone()
        return (row[0], row[1]) if row else (0, ZERO_DIGEST)

    def _is_set_up(self) -> bool:
        """Whether the table of entries is there; a reader may be earlier than the first recorder."""
        if not self._set_up:
            self._set_up = self._db.table("entry").exists()
            if not self._set_up and self._db.execute("PRAGMA user_version").fetchone()[0]:
                tampered(f"the ledger {self.path} was tampered with: its table of entries is gone")
        return self._set_up

    def _check_open(self) -> None:
        if self._closed:
            raise LedgerError(f"the ledger {self.path} is already closed")


def open_ledger(path: Path) -> SqliteStore:
    """Open a ledger to write; a missing or empty file becomes a new one, with its folder.

    Before it is handed out, the newest entries, the count and the anchor are checked; if its guards
    were dropped, the whole chain is, and then they are put back.

    Raises:
        NotALedgerError: A folder, another file, or another program's database.
        LedgerNewerError: Written by a newer version.
        LedgerLockedError: Another recorder writes it; tells its process id.
        LedgerTamperedError: Entries were changed or removed.
        LedgerFullError: No room, or a read-only disk.
        LedgerError: No permission, or damaged.
    """
    check_file(path)
    make_folder(path)
    lock = WriterLock(path)
    try:
        store = _store(path, connect_to_write(path), lock)
    except BaseException:
        lock.release()
        raise
    try:
        store.check_guards()
        store.check_tail()
    except BaseException:
        store.close()
        raise
    return store


def read_ledger(path: Path) -> SqliteStore:
    """Open a ledger to read, also while a recorder writes it.

    Raises:
        NotALedgerError: A folder, another file, or another program's database.
        LedgerNewerError: Written by a newer version.
        LedgerError: Missing, no permission, or damaged.
    """
    check_file(path)
    return _store(path, connect_to_read(path), None)


def _store(path: Path, db: Database, lock: WriterLock | None) -> SqliteStore:
    try:
        return SqliteStore(path, db, lock)
    except BaseException:
        db.close()
        raise
