"""Session folders: what is read, and what is told of a bad one."""

from __future__ import annotations

from datetime import UTC, datetime
from decimal import Decimal
from pathlib import Path

import pytest

from handsfree.config import ScaleSettings
from handsfree.errors import ConfigError, SessionError
from handsfree.session_folder import AnswerLog, SessionDescription, open_session, write_description

GOOD = 'format = 1\nstart = "2026-11-17T08:10:00Z"\n'


def folder_with(tmp_path: Path, description: str, *, scale: bool = True) -> Path:
    (tmp_path / "session.toml").write_text(description, encoding="utf-8")
    if scale:
        (tmp_path / "scale.csv").write_text("seconds,scale,line\n", encoding="utf-8")
    return tmp_path


def test_everything_that_is_known_is_read(tmp_path: Path) -> None:
    text = (
        GOOD
        + 'plan = "block"\n[carcass]\ntag = "417"\nspecies = "fallow"\nsex = "doe"\ndressed_kg = 25.34\n'
        + 'skin = "off"\nhot_or_cold = "cold"\n[scale.bench]\nd_g = 5\nmax_kg = 15\n'
    )
    session = open_session(folder_with(tmp_path, text))
    assert session.description.start == datetime(2026, 11, 17, 8, 10, tzinfo=UTC)
    assert session.description.plan == "block"
    assert session.description.carcass is not None
    assert session.description.carcass.dressed_kg == Decimal("25.34")
    assert session.description.scales["bench"].d_g == 5
    assert session.sound is None


def test_a_start_may_be_a_toml_time(tmp_path: Path) -> None:
    session = open_session(folder_with(tmp_path, "format = 1\nstart = 2026-11-17T08:10:00+01:00\n"))
    assert session.description.start == datetime(2026, 11, 17, 7, 10, tzinfo=UTC)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('format = 2\nstart = "2026-11-17T08:10:00Z"\n', "has format 2"),
        ("format = 1\n", "start must be an RFC 3339 time"),
        ('format = 1\nstart = "yesterday"\n', "start must be an RFC 3339 time"),
        (GOOD + "[carcass]\ncolour = 1\n", "takes only"),
        (GOOD + '[carcass]\ndressed_kg = "heavy"\n', "dressed_kg must be a weight"),
        (GOOD + "[carcass]\ndressed_kg = -1\n", "dressed_kg must be a weight"),
        (GOOD + '[carcass]\nskin = "half"\n', "skin must be on or off"),
        ("format = \n", "is not valid TOML"),
    ],
)
def test_a_bad_description_is_told_in_words(tmp_path: Path, text: str, words: str) -> None:
    with pytest.raises(SessionError, match=words):
        open_session(folder_with(tmp_path, text))


def test_a_bad_scale_section_names_the_line(tmp_path: Path) -> None:
    with pytest.raises(ConfigError, match=r"session\.toml:4: scale\.bench\.d_g"):
        open_session(folder_with(tmp_path, GOOD + "[scale.bench]\nd_g = 'x'\n"))


def test_a_folder_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(SessionError, match="no session folder"):
        open_session(tmp_path / "nowhere")


def test_a_folder_without_a_description(tmp_path: Path) -> None:
    with pytest.raises(SessionError, match=r"has no session\.toml"):
        open_session(tmp_path)


def test_a_folder_with_nothing_to_replay(tmp_path: Path) -> None:
    with pytest.raises(SessionError, match=r"neither audio\.wav nor scale\.csv"):
        open_session(folder_with(tmp_path, GOOD, scale=False))


def test_what_is_written_is_read_back(tmp_path: Path) -> None:
    bench = ScaleSettings("bench", d_g=5, max_kg=15, shape="plain")
    written = SessionDescription(datetime(2026, 11, 17, 8, 10, tzinfo=UTC), None, {"bench": bench}, "block")
    write_description(tmp_path, written)
    (tmp_path / "scale.csv").write_text("seconds,scale,line\n", encoding="utf-8")
    assert open_session(tmp_path).description == written


def test_spans_of_the_own_voice_are_kept_to_the_nanosecond(tmp_path: Path) -> None:
    folder_with(tmp_path, GOOD)
    log = AnswerLog(tmp_path)
    log.spoke(1_020_000_000, 2_480_000_000, "left haunch")
    log.close()
    assert open_session(tmp_path).own_voice == ((1_020_000_000, 2_480_000_000),)


def test_a_damaged_answer_log_is_told(tmp_path: Path) -> None:
    folder_with(tmp_path, GOOD)
    (tmp_path / "answers.csv").write_text("from_seconds,to_seconds,text\nsoon,later,\n", encoding="utf-8")
    with pytest.raises(SessionError, match=r"answers\.csv cannot be read"):
        open_session(tmp_path)
