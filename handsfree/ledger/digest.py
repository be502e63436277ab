"""Canonical JSON and the digest chain: how an entry is written so that a change shows.

Canonical form: one line of UTF-8, keys sorted by code point, no white space, no NaN or infinity.
Whole numbers are written in full. Floats are written as the shortest decimal that reads back to
the same IEEE 754 double (Python's `repr`), so reading and writing again gives the same bytes and
the same digest. The digest of an entry is SHA-256 (FIPS 180-4) over the canonical JSON of the
entry's other fields, the digest of the entry before among them.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import asdict
from datetime import datetime, timedelta
from functools import cache
from hashlib import sha256
from typing import Any, get_type_hints

from handsfree.errors import EntryError
from handsfree.ledger.entries import Body, Entry, body_from_json

#: What stands in for the digest before the first entry.
ZERO_DIGEST = "0" * 64

#: SQLite keeps whole numbers in 64 bits; a larger one would become a float there.
_INT_LIMIT = 2**63


def canonical(value: Any) -> str:
    """The canonical JSON of plain JSON values.

    Raises:
        EntryError: The value holds NaN, infinity, a lone surrogate or something JSON has no form for.
    """
    try:
        text = json.dumps(value, sort_keys=True, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
        text.encode("utf-8")
    except (TypeError, ValueError, RecursionError) as error:
        raise EntryError(f"this cannot be written in the ledger: {error}") from error
    return text


def digest_of(
    *, seq: int, posted_at: str, session: str, t_ns: int, kind: str, body_text: str, previous: str
) -> str:
    """The digest of an entry whose body is already canonical JSON text; 64 hexadecimal digits."""
    # The canonical envelope, assembled: its keys in order are body, kind, posted_at, previous, seq,
    # session, t_ns. The body is taken as the text on disk, so a field added to a body in a later
    # version does not change the digests of old entries.
    envelope = (
        f'{{"body":{body_text},"kind":{_quoted(kind)},"posted_at":{_quoted(posted_at)},'
        f'"previous":{_quoted(previous)},"seq":{seq:d},"session":{_quoted(session)},"t_ns":{t_ns:d}}}'
    )
    # A text edited behind our back may hold anything; it must give some (wrong) digest, not an error.
    return sha256(envelope.encode("utf-8", "surrogatepass")).hexdigest()


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)


def chain(
    bodies: Sequence[Body], *, session: str, t_ns: int, posted_at: str, after: tuple[int, str]
) -> list[tuple[Entry, str]]:
    """Entries for these bodies, each with its body's canonical text.

    The body of each entry is the one read back from its text, so what is answered, what is kept in
    mind and what a later start reads from disk are the same.

    Args:
        bodies: What is to be entered, in order.
        session: Identifier of the session that writes.
        t_ns: Time within that session.
        posted_at: RFC 3339 UTC wall time.
        after: Sequence number and digest of the last entry; `(0, ZERO_DIGEST)` for the first.

    Raises:
        EntryError: A value is not of the kind that its field has, or the time is not RFC 3339 UTC.
    """
    _check_envelope(session, t_ns, posted_at)
    seq, previous = after
    made: list[tuple[Entry, str]] = []
    for body in bodies:
        check_body(body)
        kind = type(body).__name__
        text = canonical(asdict(body))
        seq += 1
        digest = digest_of(
            seq=seq,
            posted_at=posted_at,
            session=session,
            t_ns=t_ns,
            kind=kind,
            body_text=text,
            previous=previous,
        )
        kept = body_from_json(kind, json.loads(text))
        made.append((Entry(seq, posted_at, session, t_ns, kept, previous, digest), text))
        previous = digest
    return made


def rfc3339(wall: datetime) -> str:
    """A wall time as the ledger writes it: UTC, microseconds, "2026-01-31T07:05:09.000000Z"."""
    if wall.utcoffset() is None:
        raise EntryError("a posting time needs a time zone")
    utc = (wall - (wall.utcoffset() or timedelta())).replace(tzinfo=None)
    return utc.isoformat(timespec="microseconds") + "Z"


def _check_envelope(session: str, t_ns: int, posted_at: str) -> None:
    if not session:
        raise EntryError("an entry needs the session that wrote it")
    _check_value("t_ns", int, t_ns, "an entry")
    canonical(session)
    try:
        if datetime.fromisoformat(posted_at).utcoffset() == timedelta():
            return
    except (TypeError, ValueError):
        pass
    raise EntryError(f"{posted_at!r} is not a UTC wall time such as 2026-01-31T07:05:09.000000Z")


@cache
def _hints(kind: Any) -> dict[str, Any]:
    return get_type_hints(kind)


def check_body(body: Body) -> None:
    """Holds every value of a body to the kind its field has: a mass is a whole number, for one.

    Raises:
        EntryError: Names the field that does not fit.
    """
    kind: Any = type(body)
    for name, hint in _hints(kind).items():
        _check_value(name, hint, getattr(body, name), kind.__name__)


def _check_value(name: str, hint: Any, value: object, where: str) -> None:
    if not _fits(hint, value):
        raise EntryError(f"{value!r} cannot be the {name} of {where}")


def _fits(hint: Any, value: object) -> bool:
    if value is None:
        return hint in (int | None, str | None)
    if hint in (int, int | None):
        return isinstance(value, int) and not isinstance(value, bool) and -_INT_LIMIT <= value < _INT_LIMIT
    if hint is float:
        return isinstance(value, int | float) and not isinstance(value, bool)
    if hint in (str, str | None):
        return isinstance(value, str)
    if isinstance(value, tuple):
        kinds = {tuple[str, ...]: _is_text, tuple[dict[str, str | float], ...]: _is_flat_record}
        return hint in kinds and all(kinds[hint](item) for item in value)
    return isinstance(value, dict) and all(
        isinstance(key, str) and isinstance(item, int) for key, item in value.items()
    )


def _is_text(value: object) -> bool:
    return isinstance(value, str)


def _is_flat_record(value: object) -> bool:
    return isinstance(value, dict) and all(
        isinstance(key, str) and isinstance(item, str | float | int) and not isinstance(item, bool)
        for key, item in value.items()
    )
