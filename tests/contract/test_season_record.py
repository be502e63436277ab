from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from pathlib import Path

import pytest
from sqlite_utils import Database

from handsfree.errors import LedgerError
from handsfree.ledger.migrations import APPLICATION_ID, migrations
from handsfree.ledger.queries import COLUMNS
from handsfree.ledger.season_record import SeasonRecord
from handsfree.ledger.sqlite_store import SqliteStore, open_ledger, read_ledger
from handsfree.testing.invented_season import Event, fill, season_events
from handsfree.testing.memory_store import MemoryStore
from handsfree.testing.season_contract import SeasonRecordContract, flat


class TestMemoryStore(SeasonRecordContract):
    def after(self, events: Sequence[Event]) -> SeasonRecord:
        store = MemoryStore()
        fill(store, events)
        return store


class InFiles(SeasonRecordContract):
    @pytest.fixture(autouse=True)
    def _place(self, tmp_path: Path):
        self.folder = tmp_path
        self.made: list[SqliteStore] = []
        yield
        for store in self.made:
            store.close()

    def written(self, events: Sequence[Event]) -> Path:
        path = self.folder / f"{len(self.made)}.ledger"
        with open_ledger(path) as store:
            fill(store, events)
        return path

    def reading(self, path: Path) -> SeasonRecord:
        self.made.append(read_ledger(path))
        return self.made[-1]


class TestSqliteStore(InFiles):
    def after(self, events: Sequence[Event]) -> SeasonRecord:
        return self.reading(self.written(events))

    def test_a_reader_that_is_earlier_than_the_first_recorder_finds_nothing(self) -> None:
        path = self.folder / "empty.ledger"
        path.touch()
        assert self.reading(path).closed_between("", "").carcasses == ()

    def test_a_closed_store_says_so(self) -> None:
        store = read_ledger(self.written([]))
        store.close()
        with pytest.raises(LedgerError, match="already closed"):
            store.closed_between("", "")


def as_version_three(new: Path, old: Path) -> None:
    """The same entries in a file as it was before the columns of names and their index."""
    db = Database(str(old))
    db.execute(f"PRAGMA application_id = {APPLICATION_ID}")
    migrations.apply(db, stop_before="plans")
    db.conn.commit()
    db.execute("ATTACH DATABASE ? AS new", [str(new)])
    copied = f"INSERT INTO entry ({COLUMNS}) SELECT {COLUMNS} FROM new.entry ORDER BY seq"  # noqa: S608
    db.conn.execute(copied)
    db.conn.commit()
    db.close()


class TestSqliteStoreOfAnOlderVersion(InFiles):
    def after(self, events: Sequence[Event]) -> SeasonRecord:
        path = self.written(events)
        old = path.with_suffix(".old")
        as_version_three(path, old)
        return self.reading(old)

    def test_it_is_brought_up_to_date_by_the_next_recorder_and_says_the_same(self) -> None:
        events = self.invented()
        path = self.written(events)
        old = path.with_suffix(".old")
        as_version_three(path, old)
        before = self.reading(old).closed_between("", "")
        open_ledger(old).close()
        with sqlite3.connect(old) as db:
            assert db.execute("SELECT 1 FROM sqlite_master WHERE name = 'piece_by_names'").fetchone()
        db.close()
        after = self.reading(old).closed_between("", "")
        assert after.carcasses == before.carcasses
        assert flat(after) == flat(before)

    def test_it_is_read_out_of_the_bodies_where_an_index_was_dropped(self) -> None:
        path = self.written(self.invented())
        whole = self.reading(path).closed_between("", "")
        db = sqlite3.connect(path)
        db.execute("DROP INDEX closing_by_carcass")
        db.close()
        again = self.reading(path).closed_between("", "")
        assert (again.carcasses, flat(again)) == (whole.carcasses, flat(whole))

    def invented(self):
        return list(season_events(12, seed=3, corrected=0.5))
