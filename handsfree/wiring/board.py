"""The board over a ledger that another process writes, and the board of a live session."""

from __future__ import annotations

import os
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any

from handsfree.answering import enquiries
from handsfree.answering.messages import Saying, Tone
from handsfree.answering.sayings import saying_of
from handsfree.answering.tones import TONES
from handsfree.answering.troubles import trouble
from handsfree.board.page import page
from handsfree.board.server import BoardServer
from handsfree.board.twins import twins
from handsfree.board.view import Asked, BoardView, Happenings, view_of
from handsfree.carcass_in_hand import PlanShelf
from handsfree.clerk import Outcome
from handsfree.config import Config
from handsfree.ledger.books import Books, open_books
from handsfree.ledger.entries import Entry, SessionBegan, SessionEnded, TroubleNoted
from handsfree.ledger.sidecars import beside
from handsfree.ledger.sqlite_store import SqliteStore, read_ledger
from handsfree.mass import format_kg
from handsfree.pairing.messages import Question, QuestionClosed, QuestionKind
from handsfree.wiring import words
from handsfree.wiring.workplace import manner

_POLL_S = 0.3
#: Entries looked back over for troubles that still last.
_LOOK_BACK = 200


def rhythms() -> dict[str, list[tuple[float, float]]]:
    """Seconds of sound and silence of every tone, note by note."""
    return {tone.value: [(note.duration_s, note.gap_s) for note in notes] for tone, notes in TONES.items()}


def document(config: Config) -> str:
    """The board's page with the twins of the tones there are."""
    return page(config.larder.name, twins(rhythms()))


def remaining(plans: PlanShelf, books: Books) -> list[str]:
    """What the plan of the carcass in hand still expects, in words."""
    return [item.words() for item in plans.remaining(books.carcass)] if books.carcass else []


class LiveBoard:
    """The board of the session that runs in this process: fed with what was answered.

    Everything shown comes from the books, which are level with the disk, and from the sayings.
    """

    def __init__(self, books: Books, plans: PlanShelf, show: Callable[[dict[str, Any]], None]) -> None:
        self._books = books
        self._plans = plans
        self._show = show
        self._happenings = Happenings()
        self.refresh()

    def outcome(self, outcome: Outcome, sayings: list[Saying]) -> None:
        """Take what came of a decision, and what was answered."""
        match outcome.cause:
            case Question() as question:
                text = sayings[0].text if sayings else "what was that?"
                if question.kind is QuestionKind.CHOOSE:
                    # The names stand below, each with its number.
                    about = f"no name, {format_kg(question.net_mg, 3)} kg: " if question.piece else ""
                    text = f"{about}which of these?"
                self._happenings.asked = Asked(text, _options(question))
            case QuestionClosed():
                self._happenings.asked = None
        for entry in outcome.entries:
            _note_trouble(self._happenings, entry)
        for saying in sayings:
            self._happenings.sound(saying.tone.value, saying.text)
        if sayings or outcome.entries or isinstance(outcome.cause, Question | QuestionClosed):
            self.refresh()

    def refresh(self, *, recorder: str = "running") -> None:
        """Show things as they stand."""
        rest = remaining(self._plans, self._books)
        self._show(view_of(self._books, self._happenings, recorder=recorder, remaining=rest).values())


class LedgerBoard:
    """The board of a ledger that is read only. Questions leave no entry and are not seen here."""

    def __init__(self, ledger: Path, config: Config) -> None:
        self._ledger = ledger
        vocabulary = words.vocabulary(config)
        self._plans = PlanShelf(vocabulary, config.speech.plan)
        self._store: SqliteStore = read_ledger(ledger)
        self._books = open_books(self._store)
        self._manner = manner(config, vocabulary)
        self._happenings = Happenings()
        for entry in self._store.entries(after=max(0, self._books.last_seq - _LOOK_BACK)):
            _note_trouble(self._happenings, entry)

    def view(self) -> BoardView:
        """Read what was added, and the board after it."""
        for entry in self._store.entries(after=self._books.last_seq):
            self._books.apply(entry)
            _note_trouble(self._happenings, entry)
            saying = saying_of(entry, self._books, self._manner)
            if saying is not None:
                self._happenings.sound(saying.tone.value, saying.text)
        return view_of(
            self._books,
            self._happenings,
            recorder="running" if _is_written(self._ledger) else "stopped",
            remaining=remaining(self._plans, self._books),
        )

    def close(self) -> None:
        """Let go of the ledger."""
        self._store.close()


def serve(
    ledger: Path,
    config: Config,
    *,
    host: str,
    port: int,
    stop: threading.Event,
    ready: Callable[[str], None] = lambda _address: None,
) -> None:
    """Serve the board of a ledger until stopped.

    Raises:
        LedgerError: The ledger cannot be read.
        DeviceError: The address or port cannot be used.
    """
    board = LedgerBoard(ledger, config)
    try:
        server = BoardServer(document(config), host, port)
        try:
            ready(server.address)
            while not stop.is_set():
                server.show(board.view().values())
                stop.wait(_POLL_S)
        finally:
            server.close()
    finally:
        board.close()


def _options(question: Question) -> tuple[str, ...]:
    names = [enquiries.called(each) for each in question.options]
    match question.kind:
        case QuestionKind.CONFIRM | QuestionKind.TAG | QuestionKind.TRAY | QuestionKind.DRESSED_WEIGHT:
            return ("yes", "no")
        case QuestionKind.WHICH:
            return tuple(names)
        case QuestionKind.CHOOSE:
            numbered = (f"number {place}: {name}" for place, name in enumerate(names, 1))
            return (*numbered, "none of these")
        case QuestionKind.WHAT_WAS_THAT:
            struck = ("ledger strike that",) if question.piece is not None else ()
            return ("the name of the cut", *struck)


def _note_trouble(happenings: Happenings, entry: Entry) -> None:
    match entry.body:
        case TroubleNoted() as body:
            said = trouble(body)
            if said.tone is Tone.TROUBLE:
                happenings.troubles[body.device] = said.text
            else:
                happenings.troubles.pop(body.device, None)
        case SessionBegan() | SessionEnded():
            happenings.troubles.clear()


def _is_written(ledger: Path) -> bool:
    """Whether a recorder that is alive writes this ledger."""
    try:
        os.kill(int(beside(ledger, ".writer").read_text(encoding="ascii")), 0)
    except PermissionError:
        return True  # it is there, but another user's
    except (OSError, ValueError, OverflowError):
        return False
    return True
