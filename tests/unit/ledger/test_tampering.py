"""What the digest chain sees when another program has changed a ledger, and what it cannot see."""
# ruff: noqa: S608  (statements of an intruder, made up here)

from __future__ import annotations

import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from handsfree.errors import LedgerNewerError, LedgerTamperedError
from handsfree.ledger import entries as e
from handsfree.ledger.digest import digest_of
from handsfree.ledger.sqlite_store import SqliteStore, open_ledger, read_ledger
from handsfree.testing.ledger_entries import ONE_OF_EACH, POSTED_AT, piece

GUARDS = (
    "entry_is_never_changed",
    "entry_is_never_removed",
    "entry_is_never_replaced",
    "entry_follows_the_last",
)


def put(store: SqliteStore, *bodies: e.Body) -> list[e.Entry]:
    return store.append(bodies, session="test", t_ns=0, posted_at=POSTED_AT)


@pytest.fixture(scope="module")
def sound(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A ledger of 19 + 300 entries: the tail checked at opening does not reach back to the 19."""
    place = tmp_path_factory.mktemp("sound") / "ledger.db"
    with closing(open_ledger(place)) as store:
        put(store, *ONE_OF_EACH)
        put(store, *(e.NoteMade(None, str(number)) for number in range(300)))
    return place


@pytest.fixture
def path(sound: Path, tmp_path: Path) -> Path:
    """A copy of that ledger to be spoilt."""
    for suffix in ("", ".anchor"):
        shutil.copy(f"{sound}{suffix}", tmp_path)
    return tmp_path / "ledger.db"


def spoil(path: Path, *statements: str, guards: bool = False) -> None:
    with closing(sqlite3.connect(path)) as db:
        if not guards:
            for name in GUARDS:
                db.execute(f"DROP TRIGGER {name}")
        for statement in statements:
            db.execute(statement)
        db.commit()


REPLACE = (
    "{verb} INTO entry (seq, posted_at, session, t_ns, kind, body, previous, digest) "
    "SELECT seq, posted_at, session, t_ns, kind, replace(body, '3415000', '2415000'), previous, digest "
    "FROM entry WHERE seq = 7"
)


@pytest.mark.parametrize("recursive", ["ON", "OFF"])
@pytest.mark.parametrize(
    ("statement", "says"),
    [
        ("UPDATE entry SET posted_at = posted_at", "never changed"),
        ("UPDATE entry SET seq = 1000 WHERE seq = 7", "never changed"),
        ("DELETE FROM entry", "never removed"),
        ("DELETE FROM entry WHERE seq = 320", "never removed"),
        (REPLACE.format(verb="INSERT OR REPLACE"), "never replaced"),
        (REPLACE.format(verb="REPLACE"), "never replaced"),
        (REPLACE.format(verb="INSERT"), "never replaced"),
        ("UPDATE OR REPLACE entry SET seq = 8 WHERE seq = 7", "never changed"),
        (REPLACE.format(verb="INSERT").replace("SELECT seq", "SELECT 999"), "follows the last one"),
        (REPLACE.format(verb="INSERT").replace("SELECT seq", "SELECT 321"), "carries its digest"),
        (REPLACE.format(verb="INSERT").replace("SELECT seq", "SELECT NULL"), "follows the last one"),
        (REPLACE.format(verb="INSERT OR IGNORE"), "never replaced"),
        (
            REPLACE.format(verb="INSERT") + " ON CONFLICT (seq) DO UPDATE SET body = excluded.body",
            "never replaced",
        ),
    ],
)
def test_the_database_itself_refuses_any_change(
    path: Path, statement: str, says: str, recursive: str
) -> None:
    with closing(sqlite3.connect(path)) as db:
        db.execute(f"PRAGMA recursive_triggers = {recursive}")
        with pytest.raises(sqlite3.IntegrityError, match=says):
            db.execute(statement)
    with closing(read_ledger(path)) as reader:
        assert reader.verify().count == 320


@pytest.mark.parametrize(
    ("statement", "says"),
    [
        (
            "UPDATE entry SET body = replace(body, '3415000', '2415000') WHERE seq = 7",
            "entry 7 is not as it was",
        ),
        ("UPDATE entry SET posted_at = '2026-02-01T00:00:00Z' WHERE seq = 3", "entry 3 is not as it was"),
        ("UPDATE entry SET t_ns = 1 WHERE seq = 19", "entry 19 is not as it was"),
        ("UPDATE entry SET session = 'x' WHERE seq = 1", "entry 1 is not as it was"),
        ("UPDATE entry SET kind = 'PieceRenamed' WHERE seq = 10", "entry 10 is not as it was"),
        ("UPDATE entry SET digest = upper(digest) WHERE seq = 5", "entry 5 is not as it was"),
        ("UPDATE entry SET body = ' ' || body WHERE seq = 9", "entry 9 is not as it was"),
        ("UPDATE entry SET session = CAST(x'ff' AS TEXT) WHERE seq = 4", "entry 4 is not as it was"),
        ("DELETE FROM entry WHERE seq = 7", "entry 7 is missing"),
        ("DELETE FROM entry WHERE seq BETWEEN 100 AND 119", "entries 100 to 119 are missing"),
        ("DELETE FROM entry WHERE seq = 1", "entry 1 is missing"),
    ],
)
def test_a_change_with_the_guards_dropped_is_seen_and_the_first_bad_entry_named(
    path: Path, statement: str, says: str
) -> None:
    spoil(path, statement)
    with closing(read_ledger(path)) as reader:
        with pytest.raises(LedgerTamperedError, match=says):
            reader.verify()
        with pytest.raises(LedgerTamperedError, match=says):
            list(reader.entries())
    with pytest.raises(LedgerTamperedError, match=says):  # guards are missing: the whole chain is checked
        open_ledger(path)


def test_entries_that_changed_places_are_seen(path: Path) -> None:
    spoil(
        path,
        "UPDATE entry SET seq = 1000 WHERE seq = 7",
        "UPDATE entry SET seq = 7 WHERE seq = 8",
        "UPDATE entry SET seq = 8 WHERE seq = 1000",
    )
    with closing(read_ledger(path)) as reader, pytest.raises(LedgerTamperedError, match="entry 7 is not"):
        reader.verify()


def test_an_entry_digested_anew_breaks_the_chain_at_the_next_one(path: Path) -> None:
    with closing(read_ledger(path)) as reader:
        old = list(reader.entries())[6]
    body = '{"carcass":1,"text":"forged"}'
    digest = digest_of(
        seq=7,
        posted_at=old.posted_at,
        session=old.session,
        t_ns=old.t_ns,
        kind="NoteMade",
        body_text=body,
        previous=old.previous,
    )
    spoil(path, f"UPDATE entry SET kind = 'NoteMade', body = '{body}', digest = '{digest}' WHERE seq = 7")
    with (
        closing(read_ledger(path)) as reader,
        pytest.raises(LedgerTamperedError, match="entry 8 does not follow"),
    ):
        reader.verify()


def test_a_cut_off_end_is_seen_by_the_note_beside_the_ledger(path: Path) -> None:
    spoil(path, "DELETE FROM entry WHERE seq > 310")
    with (
        closing(read_ledger(path)) as reader,
        pytest.raises(LedgerTamperedError, match="311 to 320 are missing"),
    ):
        reader.verify()
    with pytest.raises(LedgerTamperedError, match=r"cut off.*delete the \.anchor file"):
        open_ledger(path)


def test_an_older_copy_put_back_is_seen_even_with_all_guards_in_place(path: Path, tmp_path: Path) -> None:
    old = tmp_path / "old.db"
    shutil.copy(path, old)
    with closing(open_ledger(path)) as store:
        put(store, e.NoteMade(None, "later"))
    shutil.copy(old, path)
    with pytest.raises(LedgerTamperedError, match="entry 321 is missing"):
        open_ledger(path)
    path.with_name("ledger.db.anchor").unlink()  # on purpose, as the message says
    with closing(open_ledger(path)) as store:
        assert store.verify().count == 320


def test_without_the_note_a_cut_off_end_is_not_seen_and_verify_says_that_it_had_none(path: Path) -> None:
    spoil(path, "DELETE FROM entry WHERE seq > 310")
    path.with_name("ledger.db.anchor").unlink()
    with closing(read_ledger(path)) as reader:
        found = reader.verify()
    assert (found.count, found.anchored) == (310, None)


@pytest.mark.parametrize("note", [b"", b"garbage", b"\xff", b"12 abc\n"])
def test_a_note_that_cannot_be_read_is_no_note(path: Path, note: bytes) -> None:
    path.with_name("ledger.db.anchor").write_bytes(note)
    with closing(read_ledger(path)) as reader:
        assert reader.verify().anchored is None
    with closing(open_ledger(path)) as store:
        put(store, e.NoteMade(None, "next"))
        assert store.verify().anchored == 321


def test_dropped_guards_and_views_come_back_when_the_chain_is_sound(path: Path) -> None:
    spoil(path, "DROP VIEW pieces", "DROP INDEX entry_by_carcass", "CREATE VIEW pieces AS SELECT 1")
    with closing(open_ledger(path)) as store:
        put(store, e.NoteMade(None, "next"))
    with closing(sqlite3.connect(path)) as db:
        with pytest.raises(sqlite3.IntegrityError, match="never removed"):
            db.execute("DELETE FROM entry")
        assert db.execute("SELECT count(*) FROM pieces").fetchone() == (2,)


def test_a_dropped_table_of_entries_is_told(path: Path) -> None:
    spoil(path, "DROP TABLE entry", guards=True)
    with pytest.raises(LedgerTamperedError, match="table of entries is gone"):
        open_ledger(path)
    with pytest.raises(LedgerTamperedError, match="table of entries is gone"):
        read_ledger(path)


def test_an_altered_table_of_entries_is_told(path: Path) -> None:
    spoil(path, "ALTER TABLE entry ADD COLUMN extra TEXT", guards=True)
    with pytest.raises(LedgerTamperedError, match="table of entries was altered"):
        open_ledger(path)


def test_an_entry_slipped_in_while_the_recorder_runs_is_seen_at_the_next_append(path: Path) -> None:
    with closing(open_ledger(path)) as store:
        last = store.last()[1]
        spoil(
            path,
            "INSERT INTO entry (seq, posted_at, session, t_ns, kind, body, previous, digest) "
            f"VALUES (321, '', '', 0, 'NoteMade', '{{}}', '{last}', '{'0' * 64}')",
            guards=True,
        )
        with pytest.raises(LedgerTamperedError, match="Another program has written"):
            put(store, piece(1, "neck", 1000))


def test_a_sound_entry_of_an_unknown_kind_is_a_newer_versions(path: Path) -> None:
    with closing(read_ledger(path)) as reader:
        previous = reader.last()[1]
    fields = {"seq": 321, "posted_at": POSTED_AT, "session": "s", "t_ns": 0, "kind": "HungForDays"}
    digest = digest_of(**fields, body_text='{"days":3}', previous=previous)  # type: ignore[arg-type]
    spoil(
        path,
        "INSERT INTO entry (seq, posted_at, session, t_ns, kind, body, previous, digest) "
        f"VALUES (321, '{POSTED_AT}', 's', 0, 'HungForDays', '{{\"days\":3}}', '{previous}', '{digest}')",
        guards=True,
    )
    with closing(read_ledger(path)) as reader:
        assert reader.verify().count == 321
        with pytest.raises(LedgerNewerError, match=r"Entry 321 .*HungForDays"):
            list(reader.entries())
