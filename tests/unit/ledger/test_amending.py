from __future__ import annotations

from datetime import UTC, datetime

import pytest

from handsfree.errors import EntryError
from handsfree.ledger import amending
from handsfree.ledger import entries as e
from handsfree.ledger.bookkeeper import Bookkeeper
from handsfree.ledger.books import open_books
from handsfree.speech.meaning import Call
from handsfree.testing.ledger_entries import ONE_OF_EACH, POSTED_AT, piece
from handsfree.testing.memory_store import MemoryStore

CUTS = ("haunch", "shank", "neck")


def goes_to(call: Call) -> str:
    return call.destination or "stock"


def closing(_carcass: object) -> e.CarcassClosed:
    return e.CarcassClosed(1, "explained", "fine", 0, 1)


@pytest.fixture
def keeper() -> Bookkeeper:
    """Carcass 1: closed; piece 7 a left haunch of 3.415 kg, piece 8 a right shank of 0.505 kg."""
    store = MemoryStore()
    store.append(ONE_OF_EACH, session="s", t_ns=0, posted_at=POSTED_AT)
    return Bookkeeper(store, open_books(store), session="amend", started_at=datetime(2026, 2, 1, tzinfo=UTC))


def test_a_piece_is_struck_and_restored_with_reasons(keeper: Bookkeeper) -> None:
    keeper.write(amending.strike(keeper.books, 8, " weighed twice "), t_ns=0)
    assert keeper.books.piece(8).struck
    with pytest.raises(EntryError, match=r"Piece 8 \(right shank\) is already struck"):
        amending.strike(keeper.books, 8, "again")
    bodies = amending.restore(keeper.books, 8, "it was not")
    assert bodies == [e.EntryReversed(21, "it was not")]
    keeper.write(bodies, t_ns=0)
    assert not keeper.books.piece(8).struck
    with pytest.raises(EntryError, match="is not struck"):
        amending.restore(keeper.books, 8, "again")


def test_renaming_changes_only_what_is_given(keeper: Bookkeeper) -> None:
    give = {"reason": "looked again", "destination_of": goes_to, "cuts": CUTS}
    (body,) = amending.rename(keeper.books, 8, side="left", **give)
    assert body == e.PieceRenamed(8, "shank", "left", 1, "mince", "", "looked again")
    (body,) = amending.rename(keeper.books, 8, cut="neck", side="", **give)
    assert body == e.PieceRenamed(8, "neck", "", 1, "stock", "", "looked again")
    (body,) = amending.rename(keeper.books, 8, destination="pet", count=2, **give)
    assert body == e.PieceRenamed(8, "shank", "right", 2, "pet", "", "looked again")


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"cut": "haunhc"}, "is not a cut of the cut list. Did you mean haunch"),
        ({"cut": "xyzzy"}, "See the cut list"),
        ({"cut": ""}, "needs the name of its cut"),
        ({"side": "middle"}, "A side is left or right"),
        ({"count": 0}, "at least one"),
        ({"side": "right"}, "already right shank for mince"),
        ({"side": "left", "reason": " "}, "needs a reason"),
    ],
)
def test_a_renaming_that_makes_no_sense_is_told(
    keeper: Bookkeeper, change: dict[str, object], sentence: str
) -> None:
    with pytest.raises(EntryError, match=sentence):
        amending.rename(
            keeper.books,
            8,
            **({"reason": "r", "destination_of": goes_to, "cuts": CUTS} | change),  # type: ignore[arg-type]
        )


def test_what_is_not_a_piece_or_a_carcass_is_told(keeper: Bookkeeper) -> None:
    for seq in (0, 2, 999):
        with pytest.raises(EntryError, match=f"ntry {seq} is not a piece"):
            amending.strike(keeper.books, seq, "x")
    with pytest.raises(EntryError, match="no carcass number 9"):
        amending.weigh_dressed(keeper.books, 9, "20", "x")


def test_a_dressed_weight_is_set_with_its_reason_as_a_note(keeper: Bookkeeper) -> None:
    keeper.write(amending.weigh_dressed(keeper.books, 1, "23.9", "rail was not zeroed"), t_ns=0)
    carcass = keeper.books.by_number(1)
    assert carcass is not None
    assert carcass.dressed is not None
    assert (carcass.dressed.mass_mg, carcass.dressed.scale) == (23_900_000, "typed")
    assert carcass.notes[-1].text == "dressed weight set to 23.9 kg: rail was not zeroed"


@pytest.mark.parametrize("kg", ["", "heavy", "-1", "0", "nan", "inf", "1e9", "0.0000001", "1,5"])
def test_a_typed_weight_that_is_none_is_told(keeper: Bookkeeper, kg: str) -> None:
    with pytest.raises(EntryError, match="is not a weight in kilograms"):
        amending.weigh_dressed(keeper.books, 1, kg, "x")


def test_a_piece_that_was_not_recorded_is_added_by_hand(keeper: Bookkeeper) -> None:
    bodies = amending.add_piece(
        keeper.books, 1, cut="neck", kg="0.82", reason="scale was off", destination_of=goes_to, cuts=CUTS
    )
    keeper.write(bodies, t_ns=0)
    added = keeper.books.piece(21)
    assert (added.cut, added.mass_mg, added.entered.method, added.entered.scale) == (
        "neck",
        820_000,
        "spoken",
        "typed",
    )
    assert added.entered.indication == "0.82 kg"


def test_a_carcass_is_described_and_noted(keeper: Bookkeeper) -> None:
    assert amending.describe(keeper.books, 1, sex="buck", skin="on") == [
        e.CarcassDescribed(1, sex="buck", skin="on")
    ]
    assert amending.note(keeper.books, None, " cold day ") == [e.NoteMade(None, "cold day")]
    for change in ({}, {"tag": "A1"}, {"skin": "half"}, {"hot_or_cold": "warm"}):
        with pytest.raises(EntryError):
            amending.describe(keeper.books, 1, **change)
    with pytest.raises(EntryError, match="needs words"):
        amending.note(keeper.books, 1, "  ")
    with pytest.raises(EntryError, match="no carcass number 5"):
        amending.note(keeper.books, 5, "x")


def test_a_closed_carcass_is_closed_again_only_on_purpose(keeper: Bookkeeper) -> None:
    with pytest.raises(EntryError, match="already closed"):
        amending.close(keeper.books, 1, closing)
    assert amending.close(keeper.books, 1, closing, again=True) == [closing(None)]


def test_what_the_books_cannot_take_never_reaches_the_disk(keeper: Bookkeeper) -> None:
    for bad in (
        e.EntryReversed(1, "x"),
        e.PieceRenamed(2, "neck", "", 1, "", "", ""),
        e.CarcassClosed(7, "", "", None, None),
        e.CarcassOpened(1),
        piece(9, "neck", 1),
    ):
        with pytest.raises(EntryError):
            keeper.write([e.NoteMade(None, "first"), bad], t_ns=0)
    with pytest.raises(EntryError):
        keeper.write([e.EntryReversed(7, "x"), e.EntryReversed(7, "twice")], t_ns=0)
    assert keeper.books.last_seq == 20
    assert not keeper.books.piece(7).struck


def test_bodies_of_one_batch_may_build_on_each_other(keeper: Bookkeeper) -> None:
    keeper.write([e.CarcassOpened(2), piece(2, "neck", 5), e.EntryReversed(22, "x")], t_ns=1_500_000_000)
    assert keeper.books.piece(22).struck
    assert keeper.books.carcasses[2].opened_at == "2026-02-01T00:00:01.500000Z"


def test_books_that_were_not_told_of_an_entry_catch_up_before_the_next(keeper: Bookkeeper) -> None:
    keeper._store.append([e.CarcassOpened(2)], session="s", t_ns=0, posted_at=POSTED_AT)
    keeper.write([piece(2, "neck", 5)], t_ns=0)
    assert keeper.books.carcasses[2].total_mg() == 5
    assert keeper.books.last_seq == 22
