"""The ledger's tables, guards and views, as named migrations; each in one transaction with its record.

A migration is never edited once a ledger may have been written with it: a change is a new one.
"""
# ruff: noqa: S608  (the parts put together are constants of this module, never values)

from __future__ import annotations

from sqlite_utils import Database, Migrations

from handsfree.ledger.queries import LIFE

#: "HFLG" in the file's header: says whose file this is (https://www.sqlite.org/pragma.html#pragma_application_id).
APPLICATION_ID = 0x48464C47

migrations = Migrations("handsfree.ledger")


def _described(name: str) -> str:
    """What was said last of a carcass, as SQL."""
    return f"""coalesce((SELECT json_extract(body, '$.{name}') FROM described
        WHERE described.carcass = o.carcass AND json_extract(body, '$.{name}') IS NOT NULL
        ORDER BY seq DESC LIMIT 1), {"o.tag" if name == "tag" else "''"})"""


_ENTRIES = (
    # The columns after `digest` are read out of the body by SQLite itself: they can be queried and
    # indexed, and can never say anything else than the digested body says.
    """
    CREATE TABLE entry (
      seq INTEGER PRIMARY KEY,
      posted_at TEXT NOT NULL,
      session TEXT NOT NULL,
      t_ns INTEGER NOT NULL,
      kind TEXT NOT NULL,
      body TEXT NOT NULL CHECK (json_valid(body)),
      previous TEXT NOT NULL CHECK (length(previous) = 64),
      digest TEXT NOT NULL CHECK (length(digest) = 64),
      carcass INTEGER GENERATED ALWAYS AS (json_extract(body, '$.carcass')) VIRTUAL,
      refers INTEGER GENERATED ALWAYS AS
        (coalesce(json_extract(body, '$.reverses'), json_extract(body, '$.piece'))) VIRTUAL,
      mass_mg INTEGER GENERATED ALWAYS AS (json_extract(body, '$.mass_mg')) VIRTUAL,
      indication TEXT GENERATED ALWAYS AS (json_extract(body, '$.indication')) VIRTUAL,
      tag TEXT GENERATED ALWAYS AS (json_extract(body, '$.tag')) VIRTUAL
    ) STRICT
    """,
    "CREATE INDEX entry_by_carcass ON entry (carcass) WHERE carcass IS NOT NULL",
    "CREATE INDEX entry_by_reference ON entry (refers) WHERE refers IS NOT NULL",
    "CREATE INDEX entry_by_tag ON entry (tag) WHERE tag IS NOT NULL",
    "CREATE INDEX entry_by_kind ON entry (kind, carcass)",
    """
    CREATE TRIGGER entry_is_never_changed BEFORE UPDATE ON entry
    BEGIN SELECT RAISE(ABORT, 'an entry of the ledger is never changed: correct it with a new entry'); END
    """,
    """
    CREATE TRIGGER entry_is_never_removed BEFORE DELETE ON entry
    BEGIN SELECT RAISE(ABORT, 'an entry of the ledger is never removed: reverse it with a new entry'); END
    """,
    # INSERT OR REPLACE deletes without firing delete triggers while recursive_triggers is off, as it
    # is by default (https://www.sqlite.org/lang_conflict.html). seq is the only unique key.
    """
    CREATE TRIGGER entry_is_never_replaced BEFORE INSERT ON entry
    WHEN EXISTS (SELECT 1 FROM entry WHERE seq = NEW.seq)
    BEGIN SELECT RAISE(ABORT, 'an entry of the ledger is never replaced: correct it with a new entry'); END
    """,
    """
    CREATE TRIGGER entry_follows_the_last BEFORE INSERT ON entry
    WHEN NOT EXISTS (SELECT 1 FROM entry WHERE seq = NEW.seq) AND (
      NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM entry)
      OR NEW.previous IS NOT coalesce(
        (SELECT digest FROM entry ORDER BY seq DESC LIMIT 1), printf('%064d', 0)))
    BEGIN SELECT RAISE(ABORT, 'an entry of the ledger follows the last one and carries its digest'); END
    """,
)

_VIEWS = (
    """
    CREATE VIEW pieces AS
    WITH renaming AS (
      SELECT refers AS piece, max(seq) AS seq FROM entry WHERE kind = 'PieceRenamed' GROUP BY refers
    ), reversal AS (
      SELECT r.refers AS piece FROM entry AS r
      WHERE r.kind = 'EntryReversed'
        AND NOT EXISTS (SELECT 1 FROM entry AS back WHERE back.kind = 'EntryReversed' AND back.refers = r.seq)
    )
    SELECT
      p.seq AS seq,
      p.posted_at AS posted_at,
      p.carcass AS carcass,
      json_extract(coalesce(n.body, p.body), '$.cut') AS cut,
      json_extract(coalesce(n.body, p.body), '$.side') AS side,
      json_extract(coalesce(n.body, p.body), '$.count') AS count,
      json_extract(coalesce(n.body, p.body), '$.destination') AS destination,
      p.mass_mg AS mass_mg,
      json_extract(p.body, '$.u_mg') AS u_mg,
      json_extract(p.body, '$.d_mg') AS d_mg,
      json_extract(p.body, '$.scale') AS scale,
      json_extract(p.body, '$.method') AS method,
      p.indication AS indication,
      json_extract(p.body, '$.indication_before') AS indication_before,
      json_extract(p.body, '$.heard') AS heard,
      json_extract(p.body, '$.confidence') AS confidence,
      p.seq IN (SELECT piece FROM reversal) AS struck,
      n.seq IS NOT NULL AS renamed
    FROM entry AS p
    LEFT JOIN renaming ON renaming.piece = p.seq
    LEFT JOIN entry AS n ON n.seq = renaming.seq
    WHERE p.kind = 'PieceEntered'
    """,
    f"""
    CREATE VIEW carcasses AS
    WITH life AS (
      SELECT carcass, kind, max(seq) AS seq FROM entry WHERE kind IN {LIFE} GROUP BY carcass
    ), in_hand AS (
      SELECT carcass FROM entry WHERE kind IN ('CarcassOpened', 'CarcassResumed')
      ORDER BY seq DESC LIMIT 1
    ), standing AS (
      SELECT carcass, count(*) AS pieces, sum(mass_mg) AS pieces_mg, sum(cut = '') AS unnamed
      FROM pieces WHERE NOT struck GROUP BY carcass
    ), described AS (
      SELECT seq, carcass, body FROM entry WHERE kind = 'CarcassDescribed'
    ), dressing AS (
      SELECT carcass, max(seq) AS seq FROM entry WHERE kind = 'DressedWeightTaken' GROUP BY carcass
    ), closing AS (
      SELECT carcass, max(seq) AS seq FROM entry AS c WHERE kind = 'CarcassClosed'
        AND NOT EXISTS (SELECT 1 FROM entry AS again WHERE again.kind = 'CarcassResumed'
                        AND again.carcass = c.carcass AND again.seq > c.seq)
      GROUP BY carcass
    )
    SELECT
      o.carcass AS number,
      o.posted_at AS opened_at,
      {{tag}} AS tag,
      {{species}} AS species,
      {{sex}} AS sex,
      {{skin}} AS skin,
      {{hot_or_cold}} AS hot_or_cold,
      {{plan}} AS plan,
      CASE
        WHEN life.kind = 'CarcassClosed' THEN 'closed'
        WHEN life.kind <> 'CarcassParked' AND o.carcass = (SELECT carcass FROM in_hand) THEN 'open'
        ELSE 'parked'
      END AS state,
      d.mass_mg AS dressed_mg,
      d.indication AS dressed_indication,
      coalesce(standing.pieces, 0) AS pieces,
      coalesce(standing.pieces_mg, 0) AS pieces_mg,
      coalesce(standing.unnamed, 0) AS unnamed,
      json_extract(c.body, '$.verdict') AS verdict,
      json_extract(c.body, '$.sentence') AS sentence,
      json_extract(c.body, '$.unaccounted_mg') AS unaccounted_mg,
      json_extract(c.body, '$.expanded_u_mg') AS expanded_u_mg,
      coalesce(c.posted_at, '') AS closed_at
    FROM entry AS o
    JOIN life ON life.carcass = o.carcass
    LEFT JOIN standing ON standing.carcass = o.carcass
    LEFT JOIN dressing ON dressing.carcass = o.carcass
    LEFT JOIN entry AS d ON d.seq = dressing.seq
    LEFT JOIN closing ON closing.carcass = o.carcass
    LEFT JOIN entry AS c ON c.seq = closing.seq
    WHERE o.kind = 'CarcassOpened'
    """.format(
        **{name: _described(name) for name in ("tag", "species", "sex", "skin", "hot_or_cold", "plan")}
    ),
)


#: A plan that is set by an entry that was taken back, and that entry not back again, does not count;
#: a carcass begins with the plan in its opening.
_PLAN_IN_FORCE = """coalesce((SELECT json_extract(p.body, '$.plan') FROM entry AS p
        WHERE p.carcass = o.carcass AND p.kind IN ('CarcassDescribed', 'PlanChanged')
          AND json_extract(p.body, '$.plan') IS NOT NULL
          AND NOT EXISTS (SELECT 1 FROM entry AS r WHERE r.kind = 'EntryReversed' AND r.refers = p.seq
            AND NOT EXISTS (SELECT 1 FROM entry AS back
                            WHERE back.kind = 'EntryReversed' AND back.refers = r.seq))
        ORDER BY p.seq DESC LIMIT 1), json_extract(o.body, '$.plan'), '')"""


_NAMES = (
    ("cut", "TEXT", "json_extract(body, '$.cut')"),
    ("destination", "TEXT", "json_extract(body, '$.destination')"),
    ("scale", "TEXT", "json_extract(body, '$.scale')"),
    ("butcher", "TEXT", "coalesce(json_extract(body, '$.by'), '')"),
    ("count", "INTEGER", "json_extract(body, '$.count')"),
)

_SEASON_INDEXES = (
    """
    CREATE INDEX piece_by_names ON entry (cut, destination, scale, butcher, carcass, count, mass_mg)
    WHERE kind = 'PieceEntered'
    """,
    """
    CREATE INDEX closing_by_carcass ON entry (carcass, posted_at, json_extract(body, '$.verdict'),
      json_extract(body, '$.sentence'), json_extract(body, '$.suspect'),
      json_extract(body, '$.unaccounted_mg'))
    WHERE kind = 'CarcassClosed'
    """,
    """
    CREATE INDEX described_by_carcass ON entry (carcass, tag, json_extract(body, '$.species'),
      json_extract(body, '$.sex'), json_extract(body, '$.skin'))
    WHERE kind = 'CarcassDescribed'
    """,
    "CREATE INDEX opened_by_carcass ON entry (carcass, tag) WHERE kind = 'CarcassOpened'",
    "CREATE INDEX dressed_by_carcass ON entry (carcass, mass_mg) WHERE kind = 'DressedWeightTaken'",
)


@migrations()
def entries(db: Database) -> None:
    """The table of entries, its indexes, and the guards that refuse any change."""
    for statement in _ENTRIES:
        db.execute(statement)
    _set_version(db, 1)


@migrations()
def views(db: Database) -> None:
    """What a person with any SQLite tool can read: pieces and carcasses as they stand now."""
    for statement in _VIEWS:
        db.execute(statement)
    _set_version(db, 2)


@migrations()
def readings(db: Database) -> None:
    """Pieces keep what their name was chosen from, how the call lay to the load, and who cut them."""
    _set_version(db, 3)


@migrations()
def plans(db: Database) -> None:
    """Plans are changed by an entry of their own; a closing keeps its suspect and what it believed."""
    described = _described("plan")
    old = _VIEWS[1]
    assert described in old
    db.execute("DROP VIEW carcasses")
    db.execute(old.replace(described, _PLAN_IN_FORCE))
    _set_version(db, 4)


@migrations()
def season(db: Database) -> None:
    """The names of pieces as columns, and indexes over all that a season asks of carcasses and pieces."""
    for name, kind, value in _NAMES:
        db.execute(f"ALTER TABLE entry ADD COLUMN {name} {kind} GENERATED ALWAYS AS ({value}) VIRTUAL")
    for statement in _SEASON_INDEXES:
        db.execute(statement)
    _set_version(db, 5)


@migrations()
def butchers(db: Database) -> None:
    """Who works at the bench is changed by an entry; the view of pieces says who cut them."""
    old, known = _VIEWS[0], "      p.seq IN (SELECT piece FROM reversal) AS struck,"
    assert known in old
    db.execute("DROP VIEW pieces")
    db.execute(old.replace(known, f"      p.butcher AS butcher,\n{known}"))
    _set_version(db, 6)


#: `user_version` of a ledger on which all migrations have run. A new kind of entry, or a new field of
#: one, also takes a migration (which may do nothing else), so that an older version says "newer".
VERSION = 6


def _set_version(db: Database, version: int) -> None:
    db.execute(f"PRAGMA user_version = {version}")
