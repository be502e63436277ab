"""Holds entries read back to the digest chain; one wording for every store."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import NoReturn

from handsfree.errors import EntryError, LedgerNewerError, LedgerTamperedError
from handsfree.ledger.digest import ZERO_DIGEST, digest_of
from handsfree.ledger.entries import Entry, body_from_json
from handsfree.ledger.ports import Verification

_SOUND_BEFORE = "The entries before it are as they were written"
_RESTORE = "Keep this file as it is, and go on with a copy from a backup"


@dataclass(frozen=True, slots=True)
class Row:
    """An entry as it lies in the store, nothing trusted yet."""

    seq: int
    posted_at: str
    session: str
    t_ns: int
    kind: str
    body_text: str
    """Canonical JSON."""
    previous: str
    digest: str


def to_entry(row: Row, where: str) -> Entry:
    """The entry of a row whose digest holds.

    Args:
        row: As read from the store.
        where: The ledger's name, for messages.

    Raises:
        LedgerTamperedError: The row is not as it was written.
        LedgerNewerError: It is as it was written, by a version that knows more kinds than this one.
    """
    _hold(row, where)
    try:
        values = json.loads(row.body_text)
    except (ValueError, RecursionError):
        values = None
    if not isinstance(values, dict):
        _changed(row.seq, where)
    try:
        body = body_from_json(row.kind, values)
    except EntryError as error:
        raise LedgerNewerError(
            f"entry {row.seq} of the ledger {where} was written by a newer version: {error.what}",
            kept="Nothing was changed",
            next_step="update handsfree and open the ledger again",
        ) from error
    return Entry(row.seq, row.posted_at, row.session, row.t_ns, body, row.previous, row.digest)


def follow(
    rows: Iterable[Row], where: str, *, after: tuple[int, str | None] = (0, ZERO_DIGEST)
) -> Iterator[Row]:
    """The rows, each held to its number, to its digest and to the row before.

    Args:
        rows: In order, from the one after `after`.
        where: The ledger's name, for messages.
        after: Number and digest of the row before the first; a digest of None is not compared.

    Raises:
        LedgerTamperedError: Names the first entry that is missing or not as it was written.
    """
    seq, digest = after
    for row in rows:
        if row.seq != seq + 1:
            missing = (
                f"entry {seq + 1} is" if row.seq == seq + 2 else f"entries {seq + 1} to {row.seq - 1} are"
            )
            tampered(f"the ledger {where} was tampered with: {missing} missing")
        _hold(row, where)
        if digest is not None and row.previous != digest:
            tampered(f"the ledger {where} was tampered with: entry {row.seq} does not follow entry {seq}")
        yield row
        seq, digest = row.seq, row.digest


def verify_rows(rows: Iterable[Row], where: str, anchor: tuple[int, str] | None = None) -> Verification:
    """The whole chain, checked from the first row to the last.

    Args:
        rows: All rows, in order.
        where: The ledger's name, for messages.
        anchor: Number and digest of an entry, as noted outside the ledger.

    Raises:
        LedgerTamperedError: Names the first bad entry.
    """
    count, last = 0, ZERO_DIGEST
    for row in follow(rows, where):
        count, last = row.seq, row.digest
        if anchor is not None and row.seq == anchor[0] and row.digest != anchor[1]:
            _changed(row.seq, where)
    if anchor is not None and anchor[0] > count:
        lost = (
            f"entry {anchor[0]} is" if anchor[0] == count + 1 else f"entries {count + 1} to {anchor[0]} are"
        )
        tampered(
            f"the end of the ledger {where} was cut off: {lost} missing",
            next_step="find the newest copy of the ledger; if an older copy was put back on purpose, "
            "delete the .anchor file beside it",
        )
    return Verification(count, last, anchor[0] if anchor is not None else None)


def tampered(what: str, *, next_step: str = _RESTORE) -> NoReturn:
    """Raise the error of a broken chain."""
    raise LedgerTamperedError(what, kept=_SOUND_BEFORE, next_step=next_step)


def _hold(row: Row, where: str) -> None:
    try:
        digest = digest_of(
            seq=row.seq,
            posted_at=row.posted_at,
            session=row.session,
            t_ns=row.t_ns,
            kind=row.kind,
            body_text=row.body_text,
            previous=row.previous,
        )
    except (TypeError, ValueError):  # a value of another type was put in a column
        digest = ""
    if digest != row.digest:
        _changed(row.seq, where)


def _changed(seq: int, where: str) -> NoReturn:
    tampered(f"the ledger {where} was tampered with: entry {seq} is not as it was written")
