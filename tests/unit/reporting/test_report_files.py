import os
from collections.abc import Iterator
from pathlib import Path

import pytest

from handsfree.errors import ReportError
from handsfree.reporting.files import write_text


def test_a_report_is_written_as_it_is_and_its_folder_made(tmp_path: Path) -> None:
    path = write_text(tmp_path / "sheets" / "417.csv", "a,b\r\nhâche,±\r\n")
    assert path.read_bytes() == "a,b\r\nhâche,±\r\n".encode()
    assert path.is_absolute()


def test_an_older_report_is_replaced_and_nothing_else_is_left(tmp_path: Path) -> None:
    path = tmp_path / "417.html"
    path.write_text("old")
    path.chmod(0o640)
    write_text(path, "new")
    assert path.read_text() == "new"
    assert path.stat().st_mode & 0o777 == 0o640
    assert [one.name for one in tmp_path.iterdir()] == ["417.html"]


def test_a_new_report_can_be_read_like_any_new_file(tmp_path: Path) -> None:
    plain = tmp_path / "plain"
    plain.write_text("x")
    written = write_text(tmp_path / "sheet", "x")
    assert written.stat().st_mode == plain.stat().st_mode


def test_a_folder_in_the_way_is_a_clear_error(tmp_path: Path) -> None:
    with pytest.raises(ReportError, match=r"could not be written: it is a folder.*[Cc]hoose another folder"):
        write_text(tmp_path, "x")


def test_a_file_where_the_folder_should_be_is_a_clear_error(tmp_path: Path) -> None:
    (tmp_path / "sheets").write_text("not a folder")
    with pytest.raises(ReportError, match="could not be written"):
        write_text(tmp_path / "sheets" / "417.html", "x")


@pytest.mark.skipif(not Path("/proc/self").exists(), reason="no /proc of Linux here")
def test_a_folder_that_takes_no_files_is_a_clear_error_and_keeps_the_old_one() -> None:
    with pytest.raises(ReportError, match="The ledger is untouched"):
        write_text(Path("/proc/no-such-folder/417.html"), "x")


@pytest.fixture
def nobody() -> Iterator[None]:
    """Root may write anywhere, so as root the test goes on as nobody."""
    root = os.geteuid() == 0
    if root:
        os.seteuid(65534)
    yield
    if root:
        os.seteuid(0)


@pytest.mark.usefixtures("nobody")
def test_a_folder_without_permission_is_a_clear_error() -> None:
    with pytest.raises(ReportError, match="Permission denied"):
        write_text(Path("/417.html"), "x")
