"""What the SQLite store asks of the table of entries."""
# ruff: noqa: S608  (the parts put together are constants of this module, never values)

from __future__ import annotations

#: The kinds that move a carcass through its life.
LIFE = "('CarcassOpened', 'CarcassParked', 'CarcassResumed', 'CarcassClosed')"

#: The columns of a `chain_check.Row`, in its order.
COLUMNS = "seq, posted_at, session, t_ns, kind, body, previous, digest"

_ABOUT = """
  about(seq) AS (
    SELECT seq FROM entry WHERE carcass IN ({carcasses})
    UNION
    SELECT entry.seq FROM about JOIN entry ON entry.refers = about.seq
  )
"""

INSERT = f"INSERT INTO entry ({COLUMNS}) VALUES (?, ?, ?, ?, ?, ?, ?, ?)"

LAST = "SELECT seq, digest FROM entry ORDER BY seq DESC LIMIT 1"

#: The next rows after one, at most so many.
PAGE = f"SELECT {COLUMNS} FROM entry WHERE seq > ? ORDER BY seq LIMIT ?"

#: The rows whose numbers are given as one JSON array.
PICKED = f"SELECT {COLUMNS} FROM entry WHERE seq IN (SELECT value FROM json_each(?)) ORDER BY seq"

#: Numbers of the entries that suffice to go on working: all about the unfinished carcasses, the
#: container on each scale and the latest of other masses (as many as
#: `books.KNOWN_TRAYS`), the way of weighing, the last changes of butcher (`bench.KNOWN_CHANGES`) and
#: the one that holds, and (for who is open, who is parked, and the next number) the lives of the
#: carcasses that anything happened to since the oldest unfinished one was opened, of the one opened
#: last and of the one last taken in hand or put out of it.
WORKING = f"""
WITH RECURSIVE
  life AS (SELECT seq, kind, carcass FROM entry WHERE kind IN {LIFE}),
  latest AS (SELECT carcass, kind, max(seq) FROM life GROUP BY carcass),
  unfinished AS (SELECT carcass FROM latest WHERE kind <> 'CarcassClosed'),
  recent AS (
    SELECT carcass FROM life
    WHERE seq >= (SELECT min(seq) FROM life WHERE carcass IN (SELECT carcass FROM unfinished))
    UNION SELECT max(carcass) FROM life
    UNION SELECT carcass FROM life WHERE seq = (SELECT max(seq) FROM life)
  ),
  bench(seq) AS (
    SELECT seq FROM (SELECT seq FROM entry WHERE kind = 'ButcherChanged' ORDER BY seq DESC LIMIT 12)
    UNION
    SELECT max(b.seq) FROM entry AS b WHERE b.kind = 'ButcherChanged' AND NOT EXISTS (
      SELECT 1 FROM entry AS r WHERE r.kind = 'EntryReversed' AND r.refers = b.seq AND NOT EXISTS (
        SELECT 1 FROM entry AS back WHERE back.kind = 'EntryReversed' AND back.refers = r.seq))
    UNION
    SELECT entry.seq FROM bench JOIN entry ON entry.refers = bench.seq
  ),
  {_ABOUT.format(carcasses="SELECT carcass FROM unfinished")}
SELECT seq FROM life WHERE carcass IN (SELECT carcass FROM recent)
UNION SELECT seq FROM about
UNION SELECT seq FROM bench
UNION SELECT max(seq) FROM entry WHERE kind = 'ContainerSet' GROUP BY json_extract(body, '$.scale')
UNION SELECT seq FROM (
  SELECT max(seq) AS seq FROM entry WHERE kind = 'ContainerSet'
  GROUP BY json_extract(body, '$.scale'), json_extract(body, '$.mass_mg') ORDER BY 1 DESC LIMIT 12
)
UNION SELECT max(seq) FROM entry WHERE kind = 'WeighingTurned'
ORDER BY seq
"""

#: Numbers of the entries about one carcass.
OF_CARCASS = f"WITH RECURSIVE {_ABOUT.format(carcasses='?')} SELECT seq FROM about ORDER BY seq"

#: Numbers of the closed carcasses, the latest closed first. With max(), SQLite takes `kind` from the
#: row of the maximum (https://www.sqlite.org/lang_select.html, "bare columns").
CLOSED = f"""
SELECT carcass FROM (SELECT carcass, kind, max(seq) AS seq FROM entry WHERE kind IN {LIFE} GROUP BY carcass)
WHERE kind = 'CarcassClosed' ORDER BY seq DESC LIMIT ?
"""

#: Numbers of the beginnings of sessions at one moment; the index over kinds leaves only sessions to look at.
SESSIONS_BEGUN = """
SELECT seq FROM entry
WHERE kind = 'SessionBegan' AND json_extract(body, '$.started_at') = ? ORDER BY seq
"""

TAGGED = "SELECT DISTINCT carcass FROM entry WHERE tag = ? ORDER BY carcass DESC"

CARCASS_OF = "SELECT carcass FROM entry WHERE seq = ?"

COUNT = "SELECT count(*) FROM entry"

NOTED = "SELECT 1 FROM entry WHERE seq = ? AND digest = ?"
