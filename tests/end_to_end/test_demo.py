"""`handsfree demo`: the ledger made from the actual sound against the script's truth."""

from __future__ import annotations

import re
from html.parser import HTMLParser
from pathlib import Path

import pytest

from handsfree.config import Config
from handsfree.ledger.books import Books, Carcass, CarcassState
from handsfree.ledger.entries import EntryReversed, PieceRenamed, SessionBegan, TroubleNoted
from handsfree.ledger.sqlite_store import read_ledger
from handsfree.mass import MG_PER_G
from handsfree.reconciliation.reconcile import Reconciliation
from handsfree.testing.rehearsal.scenario import TruthRow
from handsfree.testing.rehearsal.score import Score, score, truth_from_csv
from handsfree.wiring import bookshelf

ROOT = Path(__file__).parents[2]
TRUTH = truth_from_csv((ROOT / "demo_audio" / "session" / "truth.csv").read_text(encoding="utf-8"))


def truth(event: str) -> list[TruthRow]:
    return [row for row in TRUTH if row.event == event]


@pytest.fixture(scope="module")
def books(demo_run: Path) -> Books:
    store = read_ledger(demo_run / "demo.ledger")
    try:
        return Books(store.entries())
    finally:
        store.close()


@pytest.fixture(scope="module")
def carcass(books: Books) -> Carcass:
    assert len(books.carcasses) == 1
    return books.carcasses[1]


@pytest.fixture(scope="module")
def balance(books: Books, carcass: Carcass) -> Reconciliation:
    return bookshelf.reconciliation(books, carcass, Config())


def test_every_piece_is_right_and_none_invented(carcass: Carcass) -> None:
    found: Score = score(TRUTH, carcass.standing(), d_g=5)
    assert found.perfect, "\n".join(found.lines())
    assert len(carcass.standing()) >= 32


def test_the_carcass_is_described_and_closed(carcass: Carcass) -> None:
    assert (carcass.tag, carcass.species, carcass.sex) == ("417", "fallow", "doe")
    assert carcass.state is CarcassState.CLOSED
    assert [each.celsius for each in carcass.temperatures] == ["4.2"]
    assert [each.text for each in carcass.notes] == ["bruised"]


def test_the_dressed_weight_is_the_rail_scales(carcass: Carcass) -> None:
    assert carcass.dressed is not None
    assert carcass.dressed.scale == "rail"
    assert carcass.dressed.mass_mg == truth("dressed")[0].net_g * MG_PER_G


def test_the_struck_piece_is_out_of_the_sum_and_still_in_the_ledger(carcass: Carcass) -> None:
    struck = [piece for piece in carcass.pieces.values() if piece.struck]
    expected = truth("struck")
    assert [(piece.cut, piece.side) for piece in struck] == [(row.cut, row.side) for row in expected]


def test_the_mis_call_was_corrected_by_voice(demo_run: Path) -> None:
    store = read_ledger(demo_run / "demo.ledger")
    bodies = [entry.body for entry in store.entries()]
    store.close()
    renamed = [(body.cut, body.side) for body in bodies if isinstance(body, PieceRenamed)]
    assert renamed == [(row.cut, row.side) for row in truth("renamed")]
    assert sum(isinstance(body, EntryReversed) for body in bodies) == len(truth("struck"))
    # The dropout of the bench scale is noted, and its end.
    troubles = [(body.device, body.kind) for body in bodies if isinstance(body, TroubleNoted)]
    assert [t for t in troubles if t[0] == "bench"] == [("bench", "silent"), ("bench", "back")]
    began = bodies[0]
    assert isinstance(began, SessionBegan)
    assert "PocketSphinx" in began.engine


def test_the_balance_notices_what_is_missing_and_names_it(balance: Reconciliation) -> None:
    missing = truth("missing")[0]
    assert balance.verdict.questioned
    assert balance.suspect is not None
    assert [(e.cut, e.side) for e in balance.suspect.missing] == [(missing.cut, missing.side)]
    assert f"{missing.side} {missing.cut}" in balance.headline()
    assert balance.balance.closes()


def test_the_screen_shows_the_sheet_and_where_the_page_is(demo_run: Path) -> None:
    screen = (demo_run / "screen.txt").read_text(encoding="utf-8")
    missing = truth("missing")[0]
    for words in ("Carcass 417", "Pieces", "Balance", f"{missing.side} {missing.cut}", "demo_sheet.html"):
        assert words in screen


def test_the_readme_shows_what_the_demo_prints(demo_run: Path) -> None:
    screen = [line.rstrip() for line in (demo_run / "screen.txt").read_text(encoding="utf-8").splitlines()]
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    shown = re.search(r"```\n(Balance\n.*?)```", readme, re.DOTALL)
    assert shown is not None
    for line in shown[1].splitlines():
        assert line in screen


class _Page(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.text: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        for name, value in attrs:
            if name in {"src", "href"}:
                assert value is None or value.startswith("#"), f"{tag} {name}={value} leaves the page"

    def handle_data(self, data: str) -> None:
        self.text.append(data)


def test_the_page_is_self_contained_and_has_the_picture(demo_run: Path) -> None:
    text = (demo_run / "demo_sheet.html").read_text(encoding="utf-8")
    page = _Page()
    page.feed(text)
    assert "svg" in page.tags
    assert not re.search(r"url\((?!#)", text)
    words = " ".join(page.text)
    for piece in truth("piece"):
        assert piece.cut in words
