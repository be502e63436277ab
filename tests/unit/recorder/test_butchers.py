"""Who is at the bench: said, typed or named at the start; on pieces, sheet, board and in sessions."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import pytest
from click.testing import CliRunner

from handsfree.board.view import Happenings, view_of
from handsfree.cli.group import group
from handsfree.config import Config, load_config
from handsfree.errors import ConfigError
from handsfree.ledger import entries as e
from handsfree.ledger.books import Books, open_books
from handsfree.ledger.sqlite_store import open_ledger, read_ledger
from handsfree.reporting.making import sheet_of
from handsfree.session_folder import SessionDescription, open_session, write_description
from handsfree.speech.hearing import Listener
from handsfree.speech.typed import TypedRecogniser
from handsfree.testing import bench_scale as bench
from handsfree.testing.memory_store import MemoryStore
from handsfree.testing.typed_session import STARTED_AT, lines, session
from handsfree.wiring import words
from handsfree.wiring.workplace import Occasion, Workplace, workplace

CONFIG = Config(butchers={1: "Morag", 2: "Iain"})
VOCABULARY = words.vocabulary(CONFIG)


def place_over(store: MemoryStore, *, butcher: str = "") -> Workplace:
    listener = Listener(TypedRecogniser(), VOCABULARY.listening())
    occasion = Occasion("live", STARTED_AT, "typed words", butcher=butcher)
    return workplace(CONFIG, store, VOCABULARY, occasion, scales={}, listener=listener)


def take(place: Workplace, talk: Sequence[tuple[float, str]], *streams, until_s: float = 60) -> list[str]:
    """What is answered, in order."""
    answered = []
    for step in session(talk, *streams, until_s=until_s):
        for outcome in place.recorder.take(step):
            answered += [saying.text for saying in place.replies.to(outcome)]
    return answered


def say(place: Workplace, *texts: str, start_s: float = 1.0) -> list[str]:
    talk = [(start_s + 4 * n, text) for n, text in enumerate(texts)]
    return take(place, talk, until_s=start_s + 4 * len(texts))


def who_cut(store: MemoryStore) -> list[tuple[str, str]]:
    bodies = [entry.body for entry in store.entries()]
    return [(body.cut, body.by) for body in bodies if isinstance(body, e.PieceEntered)]


def test_a_butcher_said_by_number_is_answered_by_name_from_the_entry() -> None:
    store = MemoryStore()
    place = place_over(store)
    assert say(place, "ledger butcher two", "ledger butcher number one") == [
        "butcher two, Iain",
        "butcher one, Morag",
    ]
    said = [entry.body for entry in store.entries() if isinstance(entry.body, e.ButcherChanged)]
    assert said == [
        e.ButcherChanged(2, "Iain", "ledger butcher two"),
        e.ButcherChanged(1, "Morag", "ledger butcher number one"),
    ]


def test_a_number_nobody_has_is_answered_in_one_sentence_and_changes_nothing() -> None:
    store = MemoryStore()
    place = place_over(store)
    before = say(place, "ledger butcher one") and store.last()
    assert say(place, "ledger butcher five", "ledger butcher one", start_s=20) == [
        "there is no butcher five",
        "butcher one, Morag, is at the bench already",
    ]
    assert store.last() == before
    assert place.books.bench.name == "Morag"


def test_a_change_of_butcher_is_struck_and_put_back() -> None:
    store = MemoryStore()
    place = place_over(store)
    assert say(place, "ledger butcher one", "ledger butcher two", "ledger strike that") == [
        "butcher one, Morag",
        "butcher two, Iain",
        "now butcher one, Morag",
    ]
    assert say(place, "ledger put that back", "ledger strike that", "ledger strike that", start_s=20) == [
        "now butcher two, Iain",
        "now butcher one, Morag",
        "now nobody at the bench",
    ]
    assert say(place, "ledger strike that", start_s=40) == ["no carcass is open"]


def test_a_butcher_named_before_the_carcass_is_not_what_strike_that_means() -> None:
    store = MemoryStore()
    place = place_over(store)
    assert say(place, "ledger butcher two", "ledger new carcass", "ledger strike that")[-1] == (
        "there is nothing to strike"
    )
    assert place.books.bench.name == "Iain"


def test_a_piece_is_the_one_butchers_who_was_there_when_it_was_called_or_laid() -> None:
    store = MemoryStore()
    pan = lines("bench", [bench.Put(12, 900), bench.Take(18, 900), bench.Put(27.4, 1200)], 40)
    talk = [
        (1.0, "ledger butcher one"),
        (4.0, "ledger new carcass"),
        (8.0, "left shank"),
        (10.0, "ledger butcher two"),  # called before, laid after: Morag's
        (24.0, "right shank"),
        (28.2, "ledger butcher one"),  # laid before, settled after: Iain's
    ]
    take(place_over(store), talk, pan, until_s=40)
    assert who_cut(store) == [("shank", "Morag"), ("shank", "Iain")]


def test_a_piece_after_a_struck_change_is_the_former_butchers() -> None:
    store = MemoryStore()
    say(
        place_over(store),
        *("ledger new carcass", "ledger butcher one", "ledger butcher two", "ledger strike that"),
        *("neck", "ledger weight 1.2"),
    )
    assert who_cut(store) == [("neck", "Morag")]


def test_the_sheet_says_who_cut_it_once_and_piece_by_piece_where_several_did() -> None:
    store = MemoryStore()
    place = place_over(store)
    say(place, "ledger new carcass", "ledger butcher one", "neck", "ledger weight 1.2")
    alone = sheet_of(place.books.carcasses[1])
    assert (alone.notes, [piece.marks for piece in alone.pieces]) == (("Cut by Morag.",), [("by voice",)])
    say(place, "ledger butcher two", "left shank", "ledger weight 0.9", start_s=30)
    both = sheet_of(place.books.carcasses[1])
    assert both.notes == ("Cut by Morag and Iain.",)
    assert [piece.marks for piece in both.pieces] == [
        ("by voice", "cut by Morag"),
        ("by voice", "cut by Iain"),
    ]


def test_the_board_shows_who_is_at_the_bench_with_or_without_a_carcass() -> None:
    store = MemoryStore()
    place = place_over(store)
    assert view_of(place.books, Happenings(), recorder="running").values()["butcher"] == ""
    say(place, "ledger butcher two")
    assert view_of(place.books, Happenings(), recorder="running").values()["butcher"] == "butcher 2, Iain"
    say(place, "ledger new carcass", start_s=10)
    assert view_of(place.books, Happenings(), recorder="running").butcher == "butcher 2, Iain"


def test_who_is_at_the_bench_outlives_the_session_and_may_be_named_at_the_start() -> None:
    store = MemoryStore()
    say(place_over(store, butcher="2"), "ledger new carcass", "neck", "ledger weight 1.2")
    say(place_over(store), "left shank", "ledger weight 0.9")
    say(place_over(store, butcher="iain"), "right shank", "ledger weight 0.9")
    say(place_over(store, butcher="Aileen"), "liver", "ledger weight 0.4")
    say(place_over(store, butcher="none"), "heart", "ledger weight 0.2")
    assert [by for _, by in who_cut(store)] == ["Iain", "Iain", "Iain", "Aileen", ""]
    changes = [entry.body for entry in store.entries() if isinstance(entry.body, e.ButcherChanged)]
    assert [(change.number, change.name) for change in changes] == [(2, "Iain"), (0, "Aileen"), (0, "")]
    assert open_books(store).bench == Books(store.entries()).bench
    with pytest.raises(ConfigError, match="no butcher 7 \\(known: 1 Morag, 2 Iain\\)"):
        place_over(store, butcher="7")


def test_a_kept_session_says_who_was_there_when_it_began(tmp_path: Path) -> None:
    (tmp_path / "scale.csv").write_text("seconds,scale,line\n", encoding="utf-8")
    for name in ("", "Iain"):
        write_description(tmp_path, SessionDescription(STARTED_AT, butcher=name))
        assert open_session(tmp_path).description.butcher == name


@pytest.fixture
def settings(tmp_path: Path) -> Path:
    file = tmp_path / "handsfree.toml"
    file.write_text('# ours\n[butchers]\n1 = "Morag"\n2 = "Iain"\n', encoding="utf-8")
    return file


def test_settings_number_the_butchers(settings: Path) -> None:
    assert load_config(settings).butchers == {1: "Morag", 2: "Iain"}


@pytest.mark.parametrize(
    ("line", "complaint"),
    [
        ('0 = "Ann"', "a butcher's number is one from 1 to 20"),
        ('21 = "Ann"', "a butcher's number is one from 1 to 20"),
        ('two = "Ann"', "a butcher's number is one from 1 to 20"),
        ('3 = "Iain"', "Iain has a number already"),
        ('3 = ""', "must be a name in quotes"),
        ('3 = "none"', "must be a name in quotes"),
        ('3 = "4"', "must be a name in quotes"),
        ("3 = 4", "must be a name in quotes"),
    ],
)
def test_settings_that_number_no_butcher_are_refused(settings: Path, line: str, complaint: str) -> None:
    settings.write_text(settings.read_text(encoding="utf-8") + line + "\n", encoding="utf-8")
    with pytest.raises(ConfigError, match=complaint):
        load_config(settings)


def run(*arguments: object) -> tuple[int, str]:
    done = CliRunner().invoke(group, [str(argument) for argument in arguments])
    return done.exit_code, f"{done.output}{done.exception}"


def test_numbers_are_given_and_taken_from_the_keyboard(settings: Path) -> None:
    assert run("voice", "number", 3, "Aileen", "--config", settings)[0] == 0
    assert run("voice", "number", 1, "--config", settings)[0] == 0
    assert load_config(settings).butchers == {2: "Iain", 3: "Aileen"}
    assert settings.read_text(encoding="utf-8").startswith("# ours\n")
    code, output = run("voice", "number", 4, "Iain", "--config", settings)
    assert (code, "Iain has a number already" in output) == (1, True)
    code, output = run("voice", "list", "--config", settings)
    assert (code, "Aileen, butcher 3: not read in" in output) == (0, True)


def test_a_butcher_is_put_at_the_bench_and_taken_back_by_hand(settings: Path, tmp_path: Path) -> None:
    ledger = tmp_path / "invented.ledger"
    open_ledger(ledger).close()

    def amend(*more: str) -> tuple[int, str]:
        reason = ("--reason", "nobody said so")
        return run("amend", "butcher", *more, *reason, "--ledger", ledger, "--config", settings)

    def at_the_bench() -> str:
        store = read_ledger(ledger)
        try:
            return open_books(store).bench.name
        finally:
            store.close()

    assert amend("2")[0] == 0
    assert at_the_bench() == "Iain"
    code, output = amend("Iain")
    assert (code, "is at the bench already" in output) == (1, True)
    assert amend("none")[0] == 0
    assert at_the_bench() == ""
    assert amend("--back")[0] == 0
    assert at_the_bench() == "Iain"
    code, output = amend("7")
    assert (code, "There is no butcher 7" in output) == (1, True)
    assert amend()[0] == 2


def test_a_whole_typed_session_with_two_butchers(settings: Path, tmp_path: Path) -> None:
    ledger = tmp_path / "invented.ledger"
    talk = ("ledger new carcass", "ledger tag 417", "ledger butcher 1", "neck", "ledger weight 1.25")
    code, output = run("say", *talk, "--config", settings, "--ledger", ledger)
    assert (code, "butcher one, Morag" in output) == (0, True)
    later = ("ledger butcher two", "left shank", "ledger weight 0.905", "ledger close carcass")
    code, output = run("say", *later, "--config", settings, "--ledger", ledger)
    assert (code, "butcher two, Iain" in output) == (0, True)
    code, output = run("pieces", "417", "--ledger", ledger)
    assert "cut by Morag" in output
    assert "cut by Iain" in output
    assert run("verify", "--ledger", ledger)[0] == 0
