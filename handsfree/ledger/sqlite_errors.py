"""SQLite's errors in the ledger's words."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from handsfree.errors import LedgerError, LedgerFullError, LedgerLockedError, LedgerTamperedError

_NOT_KEPT = "Everything entered before is safe on disk; what was to be entered now was not kept"


_WORDS: tuple[tuple[tuple[str, ...], bool, type[LedgerError], str, str], ...] = (
    (
        ("SQLITE_FULL",),
        False,
        LedgerFullError,
        "the disk is full: the ledger {path} cannot take another entry",
        "free some space on the disk and say or weigh it again",
    ),
    (
        ("SQLITE_READONLY", "SQLITE_IOERR"),
        True,
        LedgerFullError,
        "the ledger {path} cannot be written to ({error})",
        "check the disk, its free space and its write protection, then try again",
    ),
    (
        ("SQLITE_BUSY", "SQLITE_LOCKED"),
        False,
        LedgerLockedError,
        "another program holds the ledger {path}",
        "close the other program and try again",
    ),
    (
        ("SQLITE_CONSTRAINT",),
        False,
        LedgerTamperedError,
        "the ledger {path} refused an entry: {error}",
        "another program has written to it; run handsfree verify",
    ),
    (
        ("SQLITE_CORRUPT", "SQLITE_NOTADB", "SQLITE_IOERR"),
        False,
        LedgerError,
        "the ledger {path} is damaged ({error})",
        "copy the file aside, check the disk, and go on with a copy from a backup",
    ),
    (
        ("SQLITE_CANTOPEN", "SQLITE_PERM", "SQLITE_AUTH"),
        False,
        LedgerError,
        "the ledger {path} cannot be opened ({error})",
        "check that the file and its folder may be read and written by this user",
    ),
)
"""Names of SQLite's results (https://www.sqlite.org/rescode.html), whether they mean this only when
writing, and what they are called here. The first that fits is taken."""


@contextmanager
def translated(path: Path, *, writing: bool) -> Iterator[None]:
    """Turns any `sqlite3.Error` inside into the fitting error of the ledger.

    Raises:
        LedgerFullError: No room, a file size limit, a failing disk or a read-only file system.
        LedgerLockedError: Another program holds the ledger.
        LedgerTamperedError: The entries' guards refused an entry.
        LedgerError: The file is damaged, or closed, or cannot be opened.
    """
    try:
        yield
    except sqlite3.Error as error:
        raise _in_our_words(error, path, writing=writing) from error


def _in_our_words(error: sqlite3.Error, path: Path, *, writing: bool) -> LedgerError:
    name = getattr(error, "sqlite_errorname", None) or ""
    kept = _NOT_KEPT if writing else "Nothing in it was changed"
    for names, only_writing, kind, what, next_step in _WORDS:
        if name.startswith(names) and (writing or not only_writing):
            return kind(what.format(path=path, error=error), kept=kept, next_step=next_step)
    return LedgerError(f"the ledger {path} cannot be used ({error})", kept=kept)
