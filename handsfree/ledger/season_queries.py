"""What the SQLite store asks the table of entries about many closed carcasses at once.

`migrations.season` gives the table the columns `cut`, `destination`, `scale`, `count` and `butcher`, and
indexes that hold all that is asked. A ledger that no newer program has written to yet has neither: there the
same is read out of the bodies, only slower.
"""
# ruff: noqa: S608  (the parts put together are constants of this module, never values)

from __future__ import annotations

from typing import Final, NamedTuple

from handsfree.ledger.queries import LIFE

#: The last step in the life of every carcass.
LATEST: Final = f"SELECT carcass, kind, max(seq) FROM entry WHERE kind IN {LIFE} GROUP BY carcass"

# {by} names the index where there is one: some SQLite versions do not see by themselves that it has all that
# is asked, and would read every body.
_CLOSINGS = """
SELECT c.seq, c.carcass, c.posted_at,
  json_extract(c.body, '$.verdict'), json_extract(c.body, '$.sentence'), json_extract(c.body, '$.suspect'),
  json_extract(c.body, '$.unaccounted_mg'),
  EXISTS (SELECT 1 FROM entry AS later INDEXED BY entry_by_carcass
    WHERE later.carcass = c.carcass AND later.seq > c.seq AND later.kind IN
    ('CarcassDescribed', 'PlanChanged', 'DressedWeightTaken', 'PieceEntered', 'CallLeftUnweighed'))
FROM entry AS c {by}
WHERE c.kind = 'CarcassClosed' AND c.posted_at >= ? AND (? = '' OR c.posted_at < ?)
"""

_OPENED = "SELECT carcass, tag FROM entry {by} WHERE kind = 'CarcassOpened' AND carcass BETWEEN ? AND ?"

_DESCRIBED = """
SELECT seq, carcass, tag,
  json_extract(body, '$.species'), json_extract(body, '$.sex'), json_extract(body, '$.skin')
FROM entry {by} WHERE kind = 'CarcassDescribed' AND carcass BETWEEN ? AND ?
"""

_DRESSED = """
SELECT seq, carcass, mass_mg FROM entry {by} WHERE kind = 'DressedWeightTaken' AND carcass BETWEEN ? AND ?
"""


class Heads(NamedTuple):
    """What is asked of carcasses, not of their pieces; in no order."""

    closings: str
    """All closings between two moments, superseded ones too."""
    opened: str
    described: str
    dressed: str


def heads(*, indexed: bool) -> Heads:
    """The queries for a ledger with the indexes of `migrations.season`, or without."""
    names = ("closing_by_carcass", "opened_by_carcass", "described_by_carcass", "dressed_by_carcass")
    queries = (_CLOSINGS, _OPENED, _DESCRIBED, _DRESSED)
    return Heads(
        *(
            query.format(by=f"INDEXED BY {name}" if indexed else "")
            for query, name in zip(queries, names, strict=True)
        )
    )


#: Every entry that takes back, puts back or renames, in order, with what it is about in the end: a
#: reversal may itself be reversed, and that is as deep as it goes (`Books`).
CORRECTIONS: Final = """
SELECT r.seq, r.kind, r.refers, coalesce(about.refers, about.seq), coalesce(root.carcass, about.carcass),
  CASE r.kind WHEN 'PieceRenamed' THEN json_extract(r.body, '$.cut') END,
  CASE r.kind WHEN 'PieceRenamed' THEN json_extract(r.body, '$.destination') END,
  CASE r.kind WHEN 'PieceRenamed' THEN json_extract(r.body, '$.count') END
FROM entry AS r JOIN entry AS about ON about.seq = r.refers LEFT JOIN entry AS root ON root.seq = about.refers
WHERE r.kind IN ('EntryReversed', 'PieceRenamed') ORDER BY r.seq
"""

#: Pieces by their numbers, given as one JSON array.
PIECES: Final = """
SELECT json_extract(body, '$.cut'), json_extract(body, '$.destination'), json_extract(body, '$.scale'),
  coalesce(json_extract(body, '$.by'), ''), seq, carcass, json_extract(body, '$.count'), mass_mg
FROM json_each(?) AS wanted CROSS JOIN entry ON entry.seq = wanted.value WHERE kind = 'PieceEntered'
"""

#: All pieces of a ledger without the index, of carcasses whose numbers lie between two.
ALL_PIECES: Final = """
SELECT json_extract(body, '$.cut'), json_extract(body, '$.destination'), json_extract(body, '$.scale'),
  coalesce(json_extract(body, '$.by'), ''), seq, carcass, json_extract(body, '$.count'), mass_mg
FROM entry WHERE kind = 'PieceEntered' AND carcass BETWEEN ? AND ?
"""

#: How many of the indexes there are: all of them, or the bodies are read.
INDEXES: Final = """
SELECT count(*) FROM sqlite_master WHERE type = 'index' AND name IN ('piece_by_names', 'closing_by_carcass',
  'opened_by_carcass', 'described_by_carcass', 'dressed_by_carcass')
"""
ALL_INDEXES: Final = 5

# Named outright, for some SQLite versions do not see by themselves that the index has all that is asked.
_FROM_INDEX = "FROM entry INDEXED BY piece_by_names WHERE kind = 'PieceEntered'"

#: The names next in order after these, to step through the whole index name by name: another butcher's,
#: else another scale's, else another destination's, else another cut's.
NEXT_NAMES: Final = tuple(
    f"SELECT cut, destination, scale, butcher {_FROM_INDEX} AND {after} "
    "ORDER BY cut, destination, scale, butcher LIMIT 1"
    for after in (
        "cut = ?1 AND destination = ?2 AND scale = ?3 AND butcher > ?4",
        "cut = ?1 AND destination = ?2 AND scale > ?3",
        "cut = ?1 AND destination > ?2",
        "cut > ?1",
    )
)

#: The weighings that were entered under these names, of carcasses whose numbers lie between two: each
#: column as one JSON array, by rising number of the carcass, the order of the index. A row of Python values
#: for each of a million weighings would take longer than all the rest.
OF_NAMES: Final = f"""
SELECT json_group_array(carcass), json_group_array(count), json_group_array(mass_mg) {_FROM_INDEX}
AND cut = ? AND destination = ? AND scale = ? AND butcher = ? AND carcass BETWEEN ? AND ?
"""
