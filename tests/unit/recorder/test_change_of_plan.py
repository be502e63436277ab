"""A plan changed by voice or by hand in mid-carcass: what remains, the balance, the sheet, the way back."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from pathlib import Path

import pytest
from click.testing import CliRunner

from handsfree.carcass_in_hand import CarcassFacts
from handsfree.cli.group import group
from handsfree.config import Config
from handsfree.ledger import entries as e
from handsfree.ledger.books import Books, open_books
from handsfree.ledger.sqlite_store import open_ledger
from handsfree.reporting.making import sheet_of
from handsfree.speech.hearing import Listener
from handsfree.speech.typed import TypedRecogniser
from handsfree.testing.ledger_entries import POSTED_AT, piece
from handsfree.testing.memory_store import MemoryStore
from handsfree.testing.typed_session import STARTED_AT, session
from handsfree.wiring import words
from handsfree.wiring.workplace import Occasion, Workplace, workplace

VOCABULARY = words.vocabulary(Config())
#: A fallow buck of 40 kg cut to primals; the shares are the cut list's (Massey Univ. thesis 1985).
PRIMALS = {
    "left haunch": 7.84, "right haunch": 7.84, "left shoulder": 3.54, "right shoulder": 3.54, "saddle": 6.16,
    "left flank": 3.04, "right flank": 3.04, "neck": 4.72,
}  # fmt: skip


def place_over(store: MemoryStore, *, facts: bool = True) -> Workplace:
    known = CarcassFacts("417", "fallow", "buck", Decimal("40.0"), "off", "cold") if facts else None
    occasion = Occasion("live", STARTED_AT, "typed words", carcass=known, plan="block")
    listener = Listener(TypedRecogniser(), VOCABULARY.listening())
    return workplace(Config(), store, VOCABULARY, occasion, scales={}, listener=listener)


def say(place: Workplace, texts: Sequence[str], *, start_s: float = 1.0) -> list[str]:
    """What is answered to these phrases, four seconds apart."""
    talk = [(start_s + 4 * n, text) for n, text in enumerate(texts)]
    answered = []
    for step in session(talk, until_s=start_s + 4 * len(texts)):
        for outcome in place.recorder.take(step):
            answered += [saying.text for saying in place.replies.to(outcome)]
    return answered


def enter_primals(store: MemoryStore, place: Workplace, *, without: str = "") -> None:
    bodies = []
    for name, kg in PRIMALS.items():
        side, _, cut = name.rpartition(" ")
        if name != without:
            bodies.append(piece(1, cut, round(kg * 1e6), side=side))
    for entry in store.append(bodies, session="s", t_ns=0, posted_at=POSTED_AT):
        place.books.apply(entry)


def test_what_remains_answers_from_the_plan_said_last() -> None:
    place = place_over(MemoryStore())
    first, changed, second = say(place, ["ledger what remains", "ledger plan primals", "ledger what remains"])
    assert changed == "plan primals"
    # Only the block plan takes the fore shank off; whole haunches are the primals'.
    assert "left fore shank" in first
    assert "haunch" not in first
    assert "fore shank" not in second
    assert "left haunch" in second


def test_a_change_of_plan_is_struck_put_back_or_said_the_other_way_round() -> None:
    store = MemoryStore()
    place = place_over(store)
    answers = say(place, ["ledger plan primals", "ledger strike that", "ledger put that back"])
    assert answers == ["plan primals", "now plan block", "now plan primals"]
    assert say(place, ["ledger change plan to block", "ledger plan block"], start_s=30) == [
        "plan block",
        "the plan is block already",
    ]
    assert place.books.carcass is not None
    assert place.books.carcass.plan == "block"
    # The books read anew, from all entries or from those that suffice, are the books kept.
    assert Books(store.entries()).carcasses == place.books.carcasses == open_books(store).carcasses


def test_a_plan_said_with_no_carcass_in_hand_begins_one() -> None:
    store = MemoryStore()
    place = place_over(store, facts=False)
    say(place, ["ledger plan primals"])
    assert [body.plan for body in (r.body for r in store.entries()) if isinstance(body, e.CarcassOpened)] == [
        "primals"
    ]


def test_the_balance_and_its_suspects_go_by_the_plan_in_force_at_the_close() -> None:
    store = MemoryStore()
    place = place_over(store)
    enter_primals(store, place, without="neck")
    carcass = place.books.carcasses[1]
    as_block = place.clerk.reconciliation_of(carcass)
    say(place, ["ledger plan primals"])
    as_primals = place.clerk.reconciliation_of(place.books.carcasses[1])
    assert {item.cut for item in as_block.balance.remaining} >= {"dice", "mince", "bone"}
    assert [item.words() for item in as_primals.balance.remaining] == ["neck"]
    assert as_primals.suspect is not None
    assert [item.words() for item in as_primals.suspect.missing] == ["neck"]
    say(place, ["ledger close carcass"], start_s=10)
    closed = place.books.by_number(1)
    assert closed is not None
    assert closed.closing is not None
    assert closed.closing.suspect == "not logged"
    assert "Cut to the plan primals from 08:10:0" in sheet_of(closed).notes[0]


def test_an_untouched_sheet_says_nothing_of_plans() -> None:
    place = place_over(MemoryStore())
    say(place, ["ledger plan primals", "ledger strike that"])
    assert not [note for note in sheet_of(place.books.carcasses[1]).notes if "plan" in note]


@pytest.fixture
def ledger(tmp_path: Path) -> Path:
    file = tmp_path / "invented.ledger"
    store = open_ledger(file)
    store.append([e.CarcassOpened(1, "417", "block")], session="test", t_ns=0, posted_at=POSTED_AT)
    store.close()
    return file


def test_a_plan_is_changed_and_taken_back_by_hand(ledger: Path) -> None:
    def amend(*more: str) -> tuple[int, str]:
        done = CliRunner().invoke(group, ["amend", "plan", "417", *more, "--ledger", str(ledger)])
        return done.exit_code, f"{done.output}{done.exception}"

    def plan() -> str:
        store = open_ledger(ledger)
        try:
            return Books(store.entries()).carcasses[1].plan
        finally:
            store.close()

    assert amend("primals", "--reason", "sold whole")[0] == 0
    assert plan() == "primals"
    assert amend("primals", "--reason", "again")[0] == 1
    assert amend("--back", "--reason", "it was not")[0] == 0
    assert plan() == "block"
    code, output = amend("--back", "--reason", "again")
    assert (code, "was not changed" in output) == (1, True)
    assert amend("sausages", "--reason", "no such plan")[0] != 0
    assert amend("--reason", "nothing named")[0] == 2
