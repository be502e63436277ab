"""Writing one scale's settings into a file that somebody wrote by hand."""

from __future__ import annotations

import stat
from pathlib import Path

import pytest

from handsfree.config import ScaleSettings, load_config
from handsfree.config_writing import scale_lines, write_scale
from handsfree.errors import ConfigError

BY_HAND = """\
# invented settings
[larder]
name = "Nettlebeck larder"        # invented

[scale.bench]
port = "/dev/ttyUSB0"   # the left one
baud = 9600
d_g = 5                 # scale interval

[speech]
microphone = "headset"
"""


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "handsfree.toml"
    path.write_text(BY_HAND)
    return path


def test_comments_order_and_other_keys_stay(file: Path):
    write_scale(file, "bench", {"baud": 4800, "parity": "E"})
    wanted = BY_HAND.replace("baud = 9600", "baud = 4800")
    assert [line for line in file.read_text().splitlines() if "parity" not in line] == wanted.splitlines()
    assert load_config(file).scales["bench"] == ScaleSettings(
        "bench", port="/dev/ttyUSB0", baud=4800, parity="E", d_g=5
    )


def test_a_second_scale_is_added_to_the_first(file: Path):
    write_scale(file, "rail", {"port": "socket://10.0.0.7:4001", "d_g": 20, "only_on_key": True})
    scales = load_config(file).scales
    assert scales["rail"] == ScaleSettings("rail", port="socket://10.0.0.7:4001", d_g=20, only_on_key=True)
    assert scales["bench"].d_g == 5
    assert all(line in file.read_text() for line in BY_HAND.splitlines())


def test_none_takes_a_key_out(file: Path):
    write_scale(file, "bench", {"d_g": None, "span": None})
    assert load_config(file).scales["bench"].d_g is None


def test_a_file_that_is_not_there_is_made_with_its_folder(tmp_path: Path):
    path = tmp_path / "new" / "handsfree.toml"
    write_scale(path, "bench", {"port": "hid:"})
    assert load_config(path).scales["bench"].port == "hid:"
    assert path.read_text() == scale_lines("bench", {"port": "hid:"})


def test_a_value_that_is_not_allowed_leaves_the_file_as_it_was(file: Path):
    with pytest.raises(
        ConfigError, match=r"handsfree\.toml:\d+: scale\.bench\.parity must be one of.*as it was"
    ):
        write_scale(file, "bench", {"parity": "Q"})
    assert file.read_text() == BY_HAND
    assert [path.name for path in file.parent.iterdir()] == [file.name]


@pytest.mark.parametrize("text", ["[larder\n", "scale = 3\n", "[scale]\nbench = 1\n", "\xff"])
def test_a_file_that_cannot_be_changed_is_left_as_it_was(file: Path, text: str):
    file.write_bytes(text.encode("latin-1"))
    with pytest.raises(ConfigError):
        write_scale(file, "bench", {"baud": 1200})
    assert file.read_bytes() == text.encode("latin-1")


def test_a_folder_that_cannot_be_written_is_a_settings_error(tmp_path: Path):
    (tmp_path / "folder").write_text("no folder")
    with pytest.raises(ConfigError, match="cannot be"):
        write_scale(tmp_path / "folder" / "handsfree.toml", "bench", {"baud": 1200})


def test_owner_rights_and_a_link_survive(file: Path, tmp_path: Path):
    file.chmod(0o600)
    link = tmp_path / "link.toml"
    link.symlink_to(file)
    write_scale(link, "bench", {"baud": 2400})
    assert link.is_symlink()
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    assert load_config(file).scales["bench"].baud == 2400
