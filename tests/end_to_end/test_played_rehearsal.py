"""A rehearsal played to the recorder: its session folder replays to the very same entries."""

from __future__ import annotations

import shutil
from dataclasses import dataclass
from pathlib import Path

import pytest
from click.testing import CliRunner

from handsfree.cli.group import group
from handsfree.errors import SessionError
from handsfree.ledger.entries import Entry, PieceEntered
from handsfree.ledger.sqlite_store import read_ledger
from handsfree.session_folder import open_session

needs_flite = pytest.mark.skipif(shutil.which("flite") is None, reason="flite is not installed")

PIECES = """cut,side,count,net_g,destination,said
haunch,left,1,4565,,left haunch
neck,,1,1490,,neck
loin,right,1,905,,right loin
"""


def entries(ledger: Path) -> list[Entry]:
    store = read_ledger(ledger)
    try:
        return list(store.entries())
    finally:
        store.close()


def run(*words: object) -> str:
    done = CliRunner().invoke(group, [str(word) for word in words], catch_exceptions=False)
    assert done.exit_code == 0, done.output
    return done.output


@dataclass(frozen=True)
class Played:
    """One rehearsal that was played."""

    told: str
    folder: Path
    ledger: Path
    config: Path
    wish: tuple[object, ...]


@pytest.fixture(scope="module")
def played(tmp_path_factory: pytest.TempPathFactory) -> Played:
    place = tmp_path_factory.mktemp("played")
    table, config = place / "pieces.csv", place / "larder.toml"
    table.write_text(PIECES, encoding="utf-8")
    # The quickest way through the same path: what is compared is two runs of it.
    config.write_text('[speech]\nengine = "pocketsphinx"\ndenoiser = "none"\n', encoding="utf-8")
    quiet = ("--snr", 30, "--chatter", 0, "--bangs", 0, "--dropouts", 0)
    wish = ("--config", config, "--pieces", table, "--voice", "flite:rms", *quiet)
    told = run("rehearse", place / "session", "--ledger", place / "first.ledger", *wish)
    return Played(told, place / "session", place / "first.ledger", config, wish)


@needs_flite
def test_what_was_played_is_in_the_ledger_as_it_truly_was(played: Played) -> None:
    assert "3 pieces" in played.told
    assert run("score", played.folder, "--ledger", played.ledger).startswith("3 right, 0 wrong")


@needs_flite
def test_a_replay_of_the_folder_takes_the_very_same_steps(played: Played, tmp_path: Path) -> None:
    second = tmp_path / "second.ledger"
    assert open_session(played.folder).own_voice
    run("replay", played.folder, "--ledger", second, "--config", played.config)
    first, again = entries(played.ledger), entries(second)
    assert [type(entry.body) for entry in first] == [type(entry.body) for entry in again]
    for one, other in zip(first, again, strict=True):
        assert (one.body, one.t_ns) == (other.body, other.t_ns)
    assert sum(isinstance(entry.body, PieceEntered) for entry in first) >= 3


@needs_flite
def test_a_rehearsal_is_not_played_twice_into_one_ledger(played: Played, tmp_path: Path) -> None:
    before = entries(played.ledger)
    done = CliRunner().invoke(
        group, [str(w) for w in ("rehearse", tmp_path / "again", "--ledger", played.ledger, *played.wish)]
    )
    assert isinstance(done.exception, SessionError)
    assert "in this ledger already" in str(done.exception)
    assert entries(played.ledger) == before
