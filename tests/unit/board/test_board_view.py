"""The board: what it shows after an entry, the twins of the tones, and what is sent to a screen."""

from __future__ import annotations

import json
import urllib.request
from collections.abc import Iterator
from http.client import HTTPConnection
from pathlib import Path
from typing import Any
from urllib.error import HTTPError

import pytest

from handsfree.answering.messages import Saying, Tone
from handsfree.board.page import page
from handsfree.board.server import BoardServer
from handsfree.board.twins import SHAPES, twins
from handsfree.board.view import Happenings, view_of
from handsfree.carcass_in_hand import PlanShelf
from handsfree.clerk import Outcome
from handsfree.config import Config
from handsfree.errors import DeviceError
from handsfree.ledger import entries as e
from handsfree.ledger.books import Books
from handsfree.ledger.sqlite_store import open_ledger
from handsfree.pairing.messages import Question, QuestionClosed, QuestionKind
from handsfree.speech.meaning import Call, Side
from handsfree.testing.ledger_entries import ONE_OF_EACH, POSTED_AT, piece
from handsfree.testing.memory_store import MemoryStore
from handsfree.testing.shipped_words import shipped_vocabulary
from handsfree.wiring import board

OPENING: list[e.Body] = [
    e.CarcassOpened(1, "417"),
    e.CarcassDescribed(1, species="fallow deer", sex="doe"),
    e.DressedWeightTaken(1, 24_600_000, 28_867.5, 100_000, "rail", "24.6 kg"),
]


def books_of(*bodies: e.Body) -> Books:
    store = MemoryStore()
    store.append([*OPENING, *bodies], session="s", t_ns=0, posted_at=POSTED_AT)
    return Books(store.entries())


def test_dressed_accounted_and_to_go_add_up() -> None:
    view = view_of(books_of(piece(1, "haunch", 3_415_000, side="left")), Happenings(), recorder="running")
    # 24.600 - 3.415 = 21.185, by hand.
    assert (view.title, view.dressed_kg, view.accounted_kg, view.to_go_kg) == (
        "417 fallow deer doe",
        "24.600",
        "3.415",
        "21.185",
    )
    assert not view.over


def test_a_struck_piece_is_shown_and_not_counted() -> None:
    view = view_of(
        books_of(piece(1, "neck", 1_000_000), e.EntryReversed(4, "strike")), Happenings(), recorder="running"
    )
    assert (view.count, view.accounted_kg, view.pieces[0]["struck"]) == (0, "0.000", True)


def test_the_newest_piece_comes_first_and_weights_without_a_name_are_listed() -> None:
    view = view_of(
        books_of(piece(1, "neck", 1_000_000), piece(1, "", 505_000)), Happenings(), recorder="running"
    )
    assert [shown["name"] for shown in view.pieces] == ["unnamed", "neck"]
    assert view.unnamed == ("0.505",)


def test_every_tone_has_a_twin_with_a_shape_and_a_word_of_its_own() -> None:
    assert set(SHAPES) == {tone.value for tone in Tone}
    assert len({word for word, _ in SHAPES.values()}) == len(Tone)
    assert len({outline for _, outline in SHAPES.values()}) == len(Tone)


def test_no_twin_flashes_more_than_three_times_a_second() -> None:
    """WCAG 2.2, success criterion 2.3.1."""
    for tone, twin in twins(board.rhythms()).items():
        starts, at_ms = [], 0
        for on_ms, off_ms in zip(twin["blinks_ms"][::2], twin["blinks_ms"][1::2], strict=True):
            starts.append(at_ms)
            at_ms += on_ms + off_ms
        for first, fourth in zip(starts, starts[3:], strict=False):
            assert fourth - first >= 1000, tone


def test_a_name_of_the_larder_with_markup_in_it_stays_text() -> None:
    made = page("<script>alert(1)</script> & sons", twins(board.rhythms()))
    assert "<script>alert" not in made
    assert "innerHTML" not in made
    assert "http://" not in made
    assert "https://" not in made


@pytest.fixture
def server() -> Iterator[BoardServer]:
    made = BoardServer("<!DOCTYPE html><p>board</p>")
    yield made
    made.close()


def event(server: BoardServer) -> dict[str, Any]:
    """The first state that a new screen is sent."""
    host, port = server.address.removeprefix("http://").rstrip("/").split(":")
    connection = HTTPConnection(host, int(port), timeout=5)
    connection.request("GET", "/events")
    response = connection.getresponse()
    lines = [response.readline().decode() for _ in range(3)]
    response.close()
    connection.close()
    found: dict[str, Any] = json.loads(next(line for line in lines if line.startswith("data:"))[5:])
    return found


def test_a_screen_that_comes_late_gets_the_state_at_once(server: BoardServer) -> None:
    server.show({"title": "417"})
    server.show({"title": "418"})
    assert event(server) == {"title": "418"}


def test_a_note_cannot_end_the_event_it_is_sent_in(server: BoardServer) -> None:
    server.show({"title": "a\n\ndata: {}\n\n"})
    assert event(server) == {"title": "a\n\ndata: {}\n\n"}


def test_the_page_is_served_and_nothing_else_is_there(server: BoardServer) -> None:
    with urllib.request.urlopen(server.address) as response:  # noqa: S310 - our own server
        assert b"board" in response.read()
        assert "default-src 'none'" in response.headers["Content-Security-Policy"]
    with pytest.raises(HTTPError, match="404") as caught:
        urllib.request.urlopen(server.address + "etc/passwd")  # noqa: S310 - our own server
    caught.value.close()


def test_a_port_in_use_is_told_with_what_to_do(server: BoardServer) -> None:
    port = int(server.address.rstrip("/").rsplit(":", 1)[1])
    with pytest.raises(DeviceError, match="--port"):
        BoardServer("", port=port)


def live() -> tuple[board.LiveBoard, list[dict[str, Any]]]:
    shown: list[dict[str, Any]] = []
    return board.LiveBoard(books_of(), PlanShelf(shipped_vocabulary()), shown.append), shown


def test_a_question_stands_on_the_live_board_until_it_is_closed() -> None:
    made, shown = live()
    options = (Call("shank", Side.LEFT), Call("flank", Side.LEFT))
    asked = Question(1, 1, QuestionKind.WHICH, options, 650_000_000)
    made.outcome(Outcome(1, asked), [Saying(Tone.QUESTION, "left shank or left flank?", urgent=True)])
    assert shown[-1]["asked"] == {
        "text": "left shank or left flank?",
        "options": ["left shank", "left flank"],
    }
    assert shown[-1]["sounded"] == {"number": 1, "tone": "question", "text": "left shank or left flank?"}
    made.outcome(Outcome(2, QuestionClosed(2, asked, None)), [])
    assert shown[-1]["asked"] is None


def test_a_list_stands_on_the_board_with_its_numbers() -> None:
    made, shown = live()
    options = (Call("dice", destination="pet"), Call("flank", Side.LEFT))
    made.outcome(Outcome(1, Question(1, 1, QuestionKind.CHOOSE, options, 1)), [Saying(Tone.QUESTION, "?")])
    told = ["number 1: dice for pet", "number 2: left flank", "none of these"]
    assert shown[-1]["asked"] == {"text": "which of these?", "options": told}


def test_the_ledgers_board_follows_the_writer_and_says_when_it_is_gone(tmp_path: Path) -> None:
    path = tmp_path / "larder.ledger"
    writer = open_ledger(path)
    writer.append(list(ONE_OF_EACH[:8]), session="s", t_ns=0, posted_at=POSTED_AT)
    shown = board.LedgerBoard(path, Config())
    try:
        assert shown.view().recorder == "running"
        assert shown.view().sounded is None
        writer.append([e.TroubleNoted("bench", "unplugged")], session="s", t_ns=0, posted_at=POSTED_AT)
        view = shown.view()
        assert view.troubles == ("the bench scale is unplugged",)
        assert view.sounded is not None
        assert view.sounded.tone == "trouble"
        writer.append([e.TroubleNoted("bench", "back")], session="s", t_ns=0, posted_at=POSTED_AT)
        assert shown.view().troubles == ()
        writer.close()
        assert shown.view().recorder == "stopped"
    finally:
        shown.close()
