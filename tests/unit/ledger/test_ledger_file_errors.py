"""Each way in which a ledger file can be wrong, with real files, disks and processes."""

from __future__ import annotations

import os
import shutil
import sqlite3
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from handsfree.errors import (
    LedgerError,
    LedgerFullError,
    LedgerLockedError,
    LedgerNewerError,
    NotALedgerError,
)
from handsfree.ledger import entries as e
from handsfree.ledger.sqlite_store import SqliteStore, open_ledger, read_ledger
from handsfree.testing.ledger_entries import POSTED_AT

NOBODY = 65534


def put(store: SqliteStore, *bodies: e.Body) -> list[e.Entry]:
    return store.append(bodies, session="test", t_ns=0, posted_at=POSTED_AT)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "ledger.db"


@pytest.fixture
def open_folder() -> Iterator[Path]:
    """A folder that another user may enter."""
    folder = Path(tempfile.mkdtemp(prefix="ledger-"))
    folder.chmod(0o755)
    yield folder
    shutil.rmtree(folder)


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A real file system of 512 KiB."""
    mount = shutil.which("mount")
    if os.geteuid() != 0 or mount is None:
        pytest.skip("needs root to mount a small disk")
    place = tmp_path / "disk"
    place.mkdir()
    done = subprocess.run([mount, "-t", "tmpfs", "-o", "size=512k", "tmpfs", str(place)], check=False)
    if done.returncode:
        pytest.skip("this machine does not let a small disk be mounted")
    yield place
    subprocess.run(["umount", str(place)], check=True)


@pytest.mark.parametrize("opening", [open_ledger, read_ledger])
@pytest.mark.parametrize("content", [b"tag,kg\n417,24.6\n", b"SQLite format 3\0" + b"\xff" * 2000, b"\0"])
def test_a_file_of_another_kind_is_not_a_ledger_and_is_left_alone(
    path: Path, content: bytes, opening
) -> None:
    path.write_bytes(content)
    with pytest.raises(NotALedgerError, match="is no ledger"):
        opening(path)
    assert path.read_bytes() == content


@pytest.mark.parametrize("opening", [open_ledger, read_ledger])
def test_another_programs_database_is_not_a_ledger_and_is_left_alone(path: Path, opening) -> None:
    with closing(sqlite3.connect(path)) as db:
        db.execute("CREATE TABLE entry (seq INTEGER PRIMARY KEY)")
    before = path.read_bytes()
    with pytest.raises(NotALedgerError, match="database of another program"):
        opening(path)
    assert path.read_bytes() == before


@pytest.mark.parametrize("opening", [open_ledger, read_ledger])
def test_a_folder_is_not_a_ledger(tmp_path: Path, opening) -> None:
    with pytest.raises(NotALedgerError, match="is a folder"):
        opening(tmp_path)


def test_an_empty_file_becomes_a_new_ledger(path: Path) -> None:
    path.touch()
    with closing(read_ledger(path)) as reader:
        assert list(reader.entries()) == []
        assert reader.verify().count == 0
        with closing(open_ledger(path)) as store:
            put(store, e.CarcassOpened(1))
            assert [entry.seq for entry in reader.entries()] == [1]


def test_a_missing_folder_is_made_for_a_recorder(tmp_path: Path) -> None:
    place = tmp_path / "new" / "folder" / "ledger.db"
    open_ledger(place).close()
    assert place.exists()


def test_a_folder_that_cannot_be_made_is_told(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    with pytest.raises(LedgerError, match="cannot be written to"):
        open_ledger(tmp_path / "file" / "ledger.db")


def test_a_reader_is_told_that_there_is_no_ledger(path: Path) -> None:
    with pytest.raises(LedgerError, match="There is no ledger at"):
        read_ledger(path)
    assert not path.exists()


@pytest.mark.parametrize("opening", [open_ledger, read_ledger])
def test_a_newer_versions_ledger_is_refused_and_left_alone(path: Path, opening) -> None:
    open_ledger(path).close()
    with closing(sqlite3.connect(path)) as db:
        db.execute("PRAGMA user_version = 99")
    before = path.read_bytes()
    with pytest.raises(
        LedgerNewerError, match=r"newer version of handsfree \(its format is 99.*Update handsfree"
    ):
        opening(path)
    assert path.read_bytes() == before


def test_a_second_recorder_is_refused_with_the_first_ones_process_and_readers_are_not(path: Path) -> None:
    script = (
        "import sys; from pathlib import Path; from handsfree.ledger.sqlite_store import open_ledger\n"
        "store = open_ledger(Path(sys.argv[1])); print('open', flush=True); sys.stdin.read()"
    )
    with subprocess.Popen(
        [sys.executable, "-c", script, str(path)], stdin=subprocess.PIPE, stdout=subprocess.PIPE
    ) as first:
        assert first.stdout is not None
        assert first.stdout.readline() == b"open\n"
        with pytest.raises(LedgerLockedError, match=rf"Another recorder \(process {first.pid}\)"):
            open_ledger(path)
        with closing(read_ledger(path)) as reader:
            assert reader.verify().count == 0
        first.kill()
        first.wait()
    with closing(open_ledger(path)) as store:  # a killed recorder leaves no lock behind
        put(store, e.CarcassOpened(1))


def test_a_full_disk_keeps_what_was_there_and_takes_entries_again_when_there_is_room(
    small_disk: Path,
) -> None:
    ballast = small_disk / "ballast"
    ballast.write_bytes(b"x" * 150_000)
    with closing(open_ledger(small_disk / "ledger.db")) as store:
        kept = put(store, e.CarcassOpened(1))
        with pytest.raises(  # noqa: PT012 (which append fails is the disk's business)
            LedgerFullError, match=r"disk is full.*safe on disk.*not kept.*Free some space"
        ):
            for number in range(2, 10_000):
                kept += put(store, e.CarcassOpened(number, "9" * 1000))
        assert list(store.entries()) == kept
        ballast.unlink()
        kept += put(store, e.NoteMade(None, "room again"))
        assert store.verify().count == len(kept)
    with closing(open_ledger(small_disk / "ledger.db")) as store:
        assert list(store.entries()) == kept


def test_a_disk_full_from_the_start_is_told(small_disk: Path) -> None:
    with pytest.raises(OSError, match="No space left"):
        (small_disk / "ballast").write_bytes(b"x" * 600_000)
    with pytest.raises(LedgerFullError, match=r"cannot be written to|disk is full"):
        open_ledger(small_disk / "ledger.db")


def test_a_read_only_disk_is_told_and_can_be_read(small_disk: Path) -> None:
    with closing(open_ledger(small_disk / "ledger.db")) as store:
        made = put(store, e.CarcassOpened(1))
    subprocess.run(["mount", "-o", "remount,ro", str(small_disk)], check=True)
    with pytest.raises(LedgerFullError, match="cannot be written to"):
        open_ledger(small_disk / "ledger.db")
    with closing(read_ledger(small_disk / "ledger.db")) as reader:
        assert list(reader.entries()) == made
        assert reader.verify().anchored == 1


def test_a_file_size_limit_is_told_and_nothing_answered_is_lost(path: Path) -> None:
    script = """
import resource, sys
from pathlib import Path
from handsfree.errors import LedgerFullError
from handsfree.ledger.entries import NoteMade
from handsfree.ledger.sqlite_store import open_ledger
store = open_ledger(Path(sys.argv[1]))
resource.setrlimit(resource.RLIMIT_FSIZE, (300_000, 300_000))
count = 0
try:
    while True:
        store.append([NoteMade(None, "x" * 500)], session="s", t_ns=0, posted_at="2026-01-31T07:05:09Z")
        count += 1
except LedgerFullError as error:
    print(count, error, flush=True)
"""
    done = subprocess.run(
        [sys.executable, "-c", script, str(path)], capture_output=True, text=True, check=True
    )
    count, sentence = done.stdout.split(" ", 1)
    assert "cannot be written to" in sentence or "disk is full" in sentence
    with closing(open_ledger(path)) as store:
        assert store.verify().count == int(count) > 0


@pytest.mark.parametrize("opening", [open_ledger, read_ledger])
def test_a_ledger_of_another_user_is_told(open_folder: Path, opening) -> None:
    path = open_folder / "ledger.db"
    open_ledger(path).close()
    for file in open_folder.iterdir():
        file.chmod(0o600)
    if os.geteuid() != 0:
        path.chmod(0)
        with pytest.raises(LedgerError, match="Permission denied"):
            opening(path)
        return
    os.seteuid(NOBODY)
    try:
        with pytest.raises(LedgerError, match="Permission denied"):
            opening(path)
    finally:
        os.seteuid(0)


def test_a_folder_that_may_not_be_written_is_told_and_the_ledger_can_be_read(open_folder: Path) -> None:
    path = open_folder / "ledger.db"
    with closing(open_ledger(path)) as store:
        made = put(store, e.CarcassOpened(1))
    if os.geteuid() != 0:
        open_folder.chmod(0o555)
    else:
        os.seteuid(NOBODY)
    try:
        with pytest.raises(LedgerError, match=r"cannot be written to \(Permission denied\)"):
            open_ledger(path)
        with closing(read_ledger(path)) as reader:
            assert list(reader.entries()) == made
    finally:
        if os.geteuid() == NOBODY:
            os.seteuid(0)
        open_folder.chmod(0o755)


def test_a_spoilt_page_is_told_as_damage(path: Path) -> None:
    with closing(open_ledger(path)) as store:
        put(store, *(e.CarcassOpened(number, "9" * 100) for number in range(1, 300)))
    content = bytearray(path.read_bytes())
    size = int.from_bytes(content[16:18], "big")  # page size: sqlite.org/fileformat.html, section 1.3
    for start in range(2 * size, len(content), size):
        content[start : start + 12] = b"\xff" * 12  # a page's header
    path.write_bytes(content)
    with pytest.raises(LedgerError, match="is damaged"), closing(read_ledger(path)) as reader:
        reader.verify()
    with pytest.raises(LedgerError, match="is damaged"):
        open_ledger(path)
    assert path.read_bytes() == content


def test_a_reader_cannot_append(path: Path) -> None:
    open_ledger(path).close()
    with closing(read_ledger(path)) as reader, pytest.raises(LedgerError, match="for reading only"):
        put(reader, e.CarcassOpened(1))
