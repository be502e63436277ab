"""Why a piece has its name: factors against logarithms worked out by hand."""

from __future__ import annotations

import io
from dataclasses import replace
from math import log

from rich.console import Console

from handsfree.ledger.books import Books
from handsfree.ledger.digest import ZERO_DIGEST, chain
from handsfree.ledger.entries import Body, CarcassOpened, EntryReversed, PieceRenamed
from handsfree.reporting.why import why_in_words, why_json
from handsfree.testing.ledger_entries import POSTED_AT, piece

READINGS = (
    {"name": "left shank", "heard": "left shank", "sound": log(0.6), "plan": 0.0, "weight": log(2.0),
     "probability": 0.8},
    {"name": "left flank", "heard": "left flank", "sound": log(0.3), "plan": -3.0, "weight": 0.0,
     "probability": 0.15},
)  # fmt: skip


def books(*bodies: Body) -> tuple[Books, list]:
    entries = [
        entry for entry, _ in chain(bodies, session="s", t_ns=0, posted_at=POSTED_AT, after=(0, ZERO_DIGEST))
    ]
    return Books(entries), entries


SHANK = replace(piece(1, "shank", 660_000, side="left"), readings=READINGS, lag_ms=-1250)


def test_the_parts_are_shown_as_probability_and_factors() -> None:
    ledger, entries = books(CarcassOpened(1, "417"), SHANK)
    told = why_json(ledger.piece(2), entries)
    first, second = told["readings"]
    assert (first["sound"], first["plan"], first["weight"], first["probability"]) == (0.6, 1.0, 2.0, 0.8)
    assert second["plan"] == 0.0498  # e to the minus 3
    assert (told["name"], told["net_g"], told["lag_ms"]) == ("left shank", "660", -1250)


def text_of(*bodies: Body) -> str:
    ledger, entries = books(*bodies)
    console = Console(width=100, record=True, file=io.StringIO())
    console.print(why_in_words(ledger.piece(2), entries))
    return console.export_text()


def test_in_words_it_says_when_the_call_came_and_what_is_left_for_no_call() -> None:
    text = text_of(CarcassOpened(1, "417"), SHANK)
    assert 'Heard "left shank", 1.2 s before the load moved.' in text
    assert "no call" in text
    assert "10.0%" in text  # by sound: 1 - 0.6 - 0.3
    assert "5.0%" in text  # together: 1 - 0.8 - 0.15


def test_what_was_done_to_it_later_is_told_and_what_concerns_others_is_not() -> None:
    text = text_of(
        CarcassOpened(1, "417"),
        SHANK,
        piece(1, "neck", 900_000),
        PieceRenamed(2, "flank", "left", 1, "mince", "left flank", "that was"),
        PieceRenamed(3, "breast", "left", 1, "mince", "left breast", "that was"),
        EntryReversed(2, "strike"),
        EntryReversed(6, "put back"),
    )
    assert "Entry 4 named it left flank: that was." in text
    assert "Entry 6 struck it: strike." in text
    assert "Entry 7 put it back: put back." in text
    assert "breast" not in text


def test_an_entry_of_an_older_version_still_tells_what_was_heard() -> None:
    text = text_of(CarcassOpened(1, "417"), piece(1, "shank", 660_000, side="left"))
    assert 'Heard "left shank".' in text
    assert "no call" not in text


def test_a_provisional_dressed_weight_behind_a_factor_is_said_so() -> None:
    held = replace(SHANK, readings=({**READINGS[0], "against": "provisional dressed weight"}, READINGS[1]))
    assert "Usual weights rest on: provisional dressed weight." in text_of(CarcassOpened(1, "417"), held)
    assert "rest on" not in text_of(CarcassOpened(1, "417"), SHANK)


def test_a_name_that_was_offered_and_not_heard_is_told_as_such() -> None:
    offered = replace(SHANK, cut="haunch", asked="confirm")
    told = "Its name was not heard: it was offered by weight and plan, and taken on a yes."
    assert told in text_of(CarcassOpened(1, "417"), offered)
    assert told not in text_of(CarcassOpened(1, "417"), replace(SHANK, asked="confirm"))
    assert told not in text_of(CarcassOpened(1, "417"), replace(offered, asked="which"))
