"""What a person with any SQLite tool sees, and how the file is kept."""
# ruff: noqa: RUF005  (columns in groups, as a person reads them)

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from sqlite_utils import Database

from handsfree.ledger import entries as e
from handsfree.ledger.books import Books
from handsfree.ledger.migrations import APPLICATION_ID, VERSION, migrations
from handsfree.ledger.sqlite_store import open_ledger
from handsfree.testing.ledger_entries import ONE_OF_EACH, POSTED_AT, piece

#: A second and third carcass: parked by opening another, closed and opened again, pieces struck,
#: put back, struck again and renamed twice.
MORE: tuple[e.Body, ...] = (
    e.CarcassOpened(2, plan="block"),  # 21
    piece(2, "neck", 400_000),
    e.CarcassDescribed(2, tag="12", species="roe deer"),
    e.CarcassOpened(3, "13"),  # 24: parks 2
    piece(3, "rump", 900_000, side="left"),  # 25
    piece(3, "", 910_000),  # 26
    e.PieceRenamed(26, "rump", "right", 1, "prime", "", ""),
    e.PieceRenamed(26, "loin", "right", 2, "dice", "", ""),
    e.EntryReversed(25, "strike"),  # 29
    e.EntryReversed(29, "put back"),
    e.EntryReversed(25, "strike"),  # 31
    e.DressedWeightTaken(3, 5_000_000, 1.0, 0, "spoken", "5"),
    e.DressedWeightTaken(3, 6_000_000, 1.0, 0, "spoken", "6"),
    e.CarcassClosed(3, "explained", "all there", 0, 1),
    e.CarcassResumed(1),  # opens a closed one again
    e.CarcassDescribed(3, tag="14"),
    e.PlanChanged(2, "primals"),  # 37
    e.PlanChanged(2, "block"),
    e.EntryReversed(37, "strike"),  # 39: an older change, the newer still holds
    e.EntryReversed(38, "strike"),  # as it was opened
    e.EntryReversed(39, "put back"),  # 41
    e.CarcassDescribed(2, plan="block"),
)


@pytest.mark.parametrize("count", [1, 3, 10, 20, 21, 24, 29, 30, 31, 34, 35, 36, 37, 38, 39, 40, 41, 42])
def test_the_views_say_what_the_books_say(tmp_path: Path, count: int) -> None:
    path = tmp_path / "ledger.db"
    with closing(open_ledger(path)) as store:
        store.append((ONE_OF_EACH + MORE)[:count], session="s", t_ns=0, posted_at=POSTED_AT)
        books = Books(store.entries())
    with closing(sqlite3.connect(path)) as db:
        db.row_factory = sqlite3.Row
        pieces = [dict(row) for row in db.execute("SELECT * FROM pieces ORDER BY seq")]
        carcasses = [dict(row) for row in db.execute("SELECT * FROM carcasses ORDER BY number")]
    expected = sorted(
        (p.seq, p.posted_at, p.entered.carcass, p.cut, p.side, p.count, p.destination, p.mass_mg)
        + (p.entered.u_mg, p.entered.d_mg, p.entered.scale, p.entered.method, p.entered.indication)
        + (
            p.entered.indication_before,
            p.entered.heard,
            p.entered.confidence,
            p.entered.by,
            p.struck,
            p.renamed,
        )
        for carcass in books.carcasses.values()
        for p in carcass.pieces.values()
    )
    assert [tuple(row.values()) for row in pieces] == expected
    assert [tuple(row.values()) for row in carcasses] == [
        (c.number, c.opened_at, c.tag, c.species, c.sex, c.skin, c.hot_or_cold, c.plan, c.state)
        + ((c.dressed.mass_mg, c.dressed.indication) if c.dressed else (None, None))
        + (len(c.standing()), c.total_mg(), sum(not p.named for p in c.standing()))
        + (
            (c.closing.verdict, c.closing.sentence, c.closing.unaccounted_mg, c.closing.expanded_u_mg)
            if c.closing
            else (None,) * 4
        )
        + (c.closed_at,)
        for c in books.carcasses.values()
    ]


def test_masses_can_be_queried_as_whole_milligrams_beside_the_indication(tmp_path: Path) -> None:
    path = tmp_path / "ledger.db"
    with closing(open_ledger(path)) as store:
        store.append(ONE_OF_EACH, session="s", t_ns=0, posted_at=POSTED_AT)
    with closing(sqlite3.connect(path)) as db:
        rows = db.execute(
            "SELECT carcass, mass_mg, typeof(mass_mg), indication FROM entry WHERE kind = 'PieceEntered'"
        ).fetchall()
    assert rows == [(1, 3_415_000, "integer", "3.415 kg"), (1, 505_000, "integer", "0.505 kg")]


def test_the_file_says_whose_it_is_and_is_kept_safely(tmp_path: Path) -> None:
    path = tmp_path / "ledger.db"
    with closing(open_ledger(path)) as store:
        ask = {
            name: store._db.execute(f"PRAGMA {name}").fetchone()[0]
            for name in (
                "journal_mode",
                "synchronous",
                "recursive_triggers",
                "application_id",
                "user_version",
            )
        }
    # https://www.sqlite.org/pragma.html: synchronous 2 is FULL
    assert ask == {
        "journal_mode": "wal",
        "synchronous": 2,
        "recursive_triggers": 1,
        "application_id": APPLICATION_ID,
        "user_version": VERSION,
    }
    assert path.read_bytes()[68:72] == b"HFLG"  # sqlite.org/fileformat.html, section 1.3


def test_a_ledger_at_an_earlier_version_is_brought_up_with_its_entries(tmp_path: Path) -> None:
    path = tmp_path / "ledger.db"
    with closing(open_ledger(path)) as store:
        made = store.append(ONE_OF_EACH, session="s", t_ns=0, posted_at=POSTED_AT)
    db = Database(path)
    for view in ("carcasses", "pieces"):
        db.execute(f"DROP VIEW {view}")
    heads = ("closing_by_carcass", "described_by_carcass", "opened_by_carcass", "dressed_by_carcass")
    for index in ("piece_by_names", *heads):
        db.execute(f"DROP INDEX {index}")
    for column in ("cut", "destination", "scale", "butcher", "count"):
        db.execute(f"ALTER TABLE entry DROP COLUMN {column}")
    db["_sqlite_migrations"].delete_where("name <> 'entries'")
    db.execute("PRAGMA user_version = 1")
    db.close()
    with closing(open_ledger(path)) as store:
        assert list(store.entries()) == made
        assert store._db.view_names() == ["carcasses", "pieces"]
        names = [m.name for m in migrations.applied(store._db)]
        assert names == ["entries", "views", "readings", "plans", "season", "butchers"]


def test_a_migration_that_fails_leaves_nothing_of_itself() -> None:
    db = Database(memory=True)
    migrations.apply(db, stop_before="views")
    db.execute("CREATE VIEW carcasses AS SELECT 1")
    with pytest.raises(Exception, match="already exists"):
        migrations.apply(db)
    assert db.view_names() == ["carcasses"]
    assert [m.name for m in migrations.applied(db)] == ["entries"]
    assert db.execute("PRAGMA user_version").fetchone() == (1,)
    db.close()


def test_looking_up_a_carcass_uses_the_indexes(tmp_path: Path) -> None:
    from handsfree.ledger import queries

    with closing(open_ledger(tmp_path / "ledger.db")) as store:
        for query in (queries.OF_CARCASS, queries.TAGGED):
            plan = " ".join(row[3] for row in store._db.execute(f"EXPLAIN QUERY PLAN {query}", ["1"]))
            assert "SCAN entry" not in plan, plan
