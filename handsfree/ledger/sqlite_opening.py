"""Opens a ledger file: says what it is, sets it up, and holds its guards to what they should be."""

from __future__ import annotations

import sqlite3
from pathlib import Path
from typing import Any

from sqlite_utils import Database

from handsfree.errors import LedgerError, LedgerNewerError, NotALedgerError
from handsfree.ledger.migrations import APPLICATION_ID, VERSION, migrations
from handsfree.ledger.sidecars import beside, not_writable
from handsfree.ledger.sqlite_errors import translated

_MAGIC = b"SQLite format 3\0"  # https://www.sqlite.org/fileformat.html, section 1.3


def connect_to_write(path: Path) -> Database:
    """A connection that writes, to a ledger that is at this version and complete.

    The caller holds the writer's lock. A missing or empty file becomes a new ledger.

    Raises:
        NotALedgerError, LedgerNewerError, LedgerFullError, LedgerError: As the sentence says.
    """
    with translated(path, writing=True):
        db = _database(str(path))
        try:
            _check_identity(db, path)
            _use_write_ahead_log(db, path)
            db.execute("PRAGMA synchronous = FULL")
            if _pragma(db, "application_id") != APPLICATION_ID:
                db.execute(f"PRAGMA application_id = {APPLICATION_ID}")
            if _pragma(db, "user_version") < VERSION:
                migrations.apply(db)
        except BaseException:
            db.close()
            raise
    return db


def connect_to_read(path: Path) -> Database:
    """A connection that only reads; the writer is not disturbed.

    Raises:
        NotALedgerError, LedgerNewerError, LedgerError: As the sentence says.
    """
    if not path.exists():
        raise LedgerError(
            f"there is no ledger at {path}", next_step="check the path, or record a first carcass into it"
        )
    uri = path.absolute().as_uri() + "?mode=ro"
    with translated(path, writing=False):
        db = _database(uri)
        try:
            _check_identity(db, path)
        except sqlite3.OperationalError:
            db.close()
            # A ledger in a folder that cannot be written (a backup on a read-only disk) has no place
            # for SQLite's shared memory. With no log beside it and no writer, it can be read as it is.
            if beside(path, "-wal").exists():
                raise
            db = _database(uri + "&immutable=1")
            try:
                _check_identity(db, path)
            except BaseException:
                db.close()
                raise
        except BaseException:
            db.close()
            raise
    return db


def check_file(path: Path) -> None:
    """Refuse what is plainly no ledger, before anything is opened or made beside it.

    Raises:
        NotALedgerError: A folder, or a file of another format.
        LedgerError: The file may not be read.
    """
    try:
        if path.is_dir():
            raise NotALedgerError(f"{path} is a folder, not a ledger", next_step="name a file in it")
        if not path.exists():
            return
        with path.open("rb") as file:
            head = file.read(len(_MAGIC))
    except OSError as error:
        raise LedgerError(
            f"the ledger {path} cannot be read ({error.strerror or error})",
            kept="Nothing was changed",
            next_step="check that the file and its folder may be read by this user",
        ) from error
    if head and head != _MAGIC:
        raise _not_ours(path, "is no ledger: it is a file of another kind")


def make_folder(path: Path) -> None:
    """Make the folder that the ledger is to lie in.

    Raises:
        LedgerError: It cannot be made.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise not_writable(path, error) from error


def guards_missing(db: Database) -> dict[str, str]:
    """Name and SQL of each table, index, guard and view that is not there as it should be."""
    fresh = Database(memory=True, execute_plugins=False)
    try:
        migrations.apply(fresh)
        wanted = _schema(fresh)
    finally:
        fresh.close()
    there = _schema(db)
    return {name: sql for name, sql in wanted.items() if there.get(name) != sql}


def restore_guards(db: Database, missing: dict[str, str]) -> None:
    """Put dropped or altered indexes, guards and views back.

    Raises:
        sqlite3.Error: One of them cannot be made.
    """
    kinds = dict(db.execute("SELECT name, type FROM sqlite_master").fetchall())
    with db.atomic():
        for name, sql in missing.items():
            if name in kinds:
                db.execute(f"DROP {kinds[name]} [{name}]")
            db.execute(sql)


def _schema(db: Database) -> dict[str, str]:
    rows = db.execute(
        "SELECT name, sql FROM sqlite_master WHERE sql IS NOT NULL AND name NOT LIKE '%sqlite%'"
    )
    return dict(rows.fetchall())


def _database(name: str) -> Database:
    # isolation_level None: sqlite3 opens no transaction on its own; every one here is explicit.
    connection = sqlite3.connect(
        name, uri=name.startswith("file:"), isolation_level=None, check_same_thread=False
    )
    return Database(connection, recursive_triggers=True, execute_plugins=False)


def _check_identity(db: Database, path: Path) -> None:
    try:
        identity, version = _pragma(db, "application_id"), _pragma(db, "user_version")
        tables = db.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]
    except sqlite3.DatabaseError as error:
        if getattr(error, "sqlite_errorname", "") == "SQLITE_NOTADB":
            raise _not_ours(path, "is no ledger: it is a file of another kind") from error
        raise
    if identity != APPLICATION_ID and (identity or version or tables):
        raise _not_ours(path, "is no ledger: it is a database of another program")
    if identity == APPLICATION_ID and version > VERSION:
        raise LedgerNewerError(
            f"the ledger {path} was written by a newer version of handsfree "
            f"(its format is {version}, this version knows {VERSION})",
            kept="Nothing was changed",
            next_step="update handsfree and open the ledger again",
        )


def _use_write_ahead_log(db: Database, path: Path) -> None:
    # SQLite gives up silently where a file system cannot share memory (some network drives).
    if db.execute("PRAGMA journal_mode = WAL").fetchone()[0] != "wal":
        raise LedgerError(
            f"the ledger {path} cannot be kept safely on this file system",
            kept="Nothing was changed",
            next_step="keep the ledger on a disk of this machine",
        )


def _not_ours(path: Path, what: str) -> NotALedgerError:
    return NotALedgerError(
        f"{path} {what}", kept="It was not changed", next_step="give the path of a ledger, or of a new file"
    )


def _pragma(db: Database, name: str) -> Any:
    return db.execute(f"PRAGMA {name}").fetchone()[0]
