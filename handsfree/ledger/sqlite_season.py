"""Answers `SeasonRecord` from the SQLite file: figures in columns, corrections folded in."""

from __future__ import annotations

import json
import sqlite3
from array import array
from bisect import bisect_left
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from operator import itemgetter
from typing import Any

from handsfree.ledger import season_queries as sql
from handsfree.ledger.season_record import ClosedCarcass, ClosedSeason, Weighing, Weighings, in_columns

_Names = tuple[str, str, str, str]
_Span = tuple[int, int]


def closed_between(db: sqlite3.Connection, since: str, before: str) -> ClosedSeason:
    """See `SeasonRecord.closed_between`.

    Raises:
        sqlite3.Error: As SQLite says.
    """
    indexed = db.execute(sql.INDEXES).fetchone()[0] == sql.ALL_INDEXES
    heads = sql.heads(indexed=indexed)
    standing = {seq for _, kind, seq in db.execute(sql.LATEST) if kind == "CarcassClosed"}
    found = db.execute(heads.closings, (since, before, before))
    closings = sorted(row for row in found if row[0] in standing)  # by entry
    if not closings:
        return ClosedSeason((), ())
    numbers = {row[1] for row in closings}
    span = (min(numbers), max(numbers))
    corrections = db.execute(sql.CORRECTIONS).fetchall()
    carcasses = tuple(_carcasses(db, heads, closings, span, corrections))
    corrected = _corrected(db, corrections)
    rows = [row for row in corrected.standing if row.carcass in numbers]
    if not indexed:
        pieces = (Weighing(*each) for each in db.execute(sql.ALL_PIECES, span))
        rows += [row for row in pieces if row.seq not in corrected.numbers and row.carcass in numbers]
        return ClosedSeason(carcasses, in_columns(rows))
    weighings = _by_names(db, span, corrected.entered)
    if len(numbers) < span[1] - span[0] + 1:
        weighings = (each.only(numbers) for each in weighings)
    return ClosedSeason(carcasses, _merged(weighings, rows))


@dataclass(slots=True)
class _Corrected:
    """The pieces that a correction is about."""

    numbers: set[int] = field(default_factory=set)
    entered: dict[_Names, list[Weighing]] = field(default_factory=lambda: defaultdict(list))
    """As they were entered, by the names they were entered under."""
    standing: list[Weighing] = field(default_factory=list)
    """As they stand now; struck ones are not among them."""


def _carcasses(
    db: sqlite3.Connection, heads: sql.Heads, closings: Iterable[Any], span: _Span, corrections: Iterable[Any]
) -> Iterator[ClosedCarcass]:
    said = {number: (tag, "", "", "") for number, tag in db.execute(heads.opened, span)}
    for _, number, tag, species, sex, skin in sorted(db.execute(heads.described, span), key=_seq):
        old = said[number]
        said[number] = (
            old[0] if tag is None else tag,
            old[1] if species is None else species,
            old[2] if sex is None else sex,
            old[3] if skin is None else skin,
        )
    weighed = sorted(db.execute(heads.dressed, span))
    dressed = {number: mass_mg for _, number, mass_mg in weighed}
    touched = {row[4]: row[0] for row in corrections}  # the last one of each carcass
    for seq, number, posted_at, verdict, sentence, suspect, unaccounted_mg, later in closings:
        tag, species, sex, skin = said[number]
        yield ClosedCarcass(
            number,
            tag,
            species,
            sex,
            skin,
            posted_at,
            dressed.get(number),
            verdict,
            sentence,
            suspect,
            unaccounted_mg,
            bool(later) or touched.get(number, 0) > seq,
        )


_seq = itemgetter(0)


def _corrected(db: sqlite3.Connection, corrections: Iterable[Any]) -> _Corrected:
    renamed: dict[int, tuple[str, str, int]] = {}
    struck_by: dict[int, int] = {}  # the piece by its reversal
    about: set[int] = set()
    for seq, kind, refers, root, _, cut, destination, count in corrections:
        about.add(root)
        if kind == "PieceRenamed":
            renamed[root] = (cut, destination, count)
        elif refers in struck_by:  # the reversal of a reversal puts the piece back
            del struck_by[refers]
        else:
            struck_by[seq] = refers
    struck = set(struck_by.values())
    found = _Corrected()
    for each in db.execute(sql.PIECES, (json.dumps(sorted(about)),)):
        row = Weighing(*each)
        found.numbers.add(row.seq)
        found.entered[row[:4]].append(row)
        if row.seq not in struck:
            cut, destination, count = renamed.get(row.seq, (row.cut, row.destination, row.pieces))
            found.standing.append(row._replace(cut=cut, destination=destination, pieces=count))
    return found


def _by_names(
    db: sqlite3.Connection, span: _Span, without: dict[_Names, list[Weighing]]
) -> Iterator[Weighings]:
    """The weighings as they were entered, but for those that were corrected."""
    for names in _names(db):
        columns = db.execute(sql.OF_NAMES, (*names, *span)).fetchone()
        found = Weighings(*names, *(array("q", json.loads(column)) for column in columns))
        if names in without:
            found = _less(found, without[names])
        if found.carcass:
            yield found


def _less(weighings: Weighings, rows: Iterable[Weighing]) -> Weighings:
    """The weighings without these; which of several that are alike goes makes no difference."""
    kept = [True] * len(weighings.carcass)
    for row in rows:
        place = bisect_left(weighings.carcass, row.carcass)
        while place < len(kept) and weighings.carcass[place] == row.carcass:
            alike = (weighings.count[place], weighings.mass_mg[place]) == (row.pieces, row.mass_mg)
            if alike and kept[place]:
                kept[place] = False
                break
            place += 1
    return weighings.picked(kept)


def _names(db: sqlite3.Connection) -> list[_Names]:
    # No names come before empty ones, which an unnamed piece has.
    found: list[_Names] = [("", "", "", "")]
    while True:
        for place, query in enumerate(sql.NEXT_NAMES):
            names = db.execute(query, found[-1][: 4 - place]).fetchone()
            if names is not None:
                found.append(names)
                break
        else:
            return found


def _merged(plain: Iterable[Weighings], rows: list[Weighing]) -> tuple[Weighings, ...]:
    """The uncorrected weighings with the corrected ones put in among them."""
    found = {(each.cut, each.destination, each.scale, each.by): each for each in plain if each.carcass}
    for more in in_columns(rows):
        into = found.setdefault((more.cut, more.destination, more.scale, more.by), more)
        if into is not more:
            into.carcass.extend(more.carcass)
            into.count.extend(more.count)
            into.mass_mg.extend(more.mass_mg)
    return tuple(found[names] for names in sorted(found))
