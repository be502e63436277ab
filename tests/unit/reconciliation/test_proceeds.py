"""Utilisation, value and evenness of an invented carcass, by hand; published shares are not made to fit."""

from __future__ import annotations

from decimal import Decimal

import pytest

from handsfree.ledger import entries as e
from handsfree.ledger.carcass import Carcass, Piece
from handsfree.reconciliation.proceeds import Prices, evenness, utilisation, value_of
from handsfree.testing.ledger_entries import POSTED_AT, piece


def carcass(dressed_mg: int, *pieces: tuple[str, str, int]) -> Carcass:
    return Carcass(
        1,
        POSTED_AT,
        dressed=e.DressedWeightTaken(1, dressed_mg, 0.0, 5000, "rail", ""),
        pieces={
            seq: Piece(seq, POSTED_AT, piece(1, cut, mass_mg), cut, "", 1, destination)
            for seq, (cut, destination, mass_mg) in enumerate(pieces, 1)
        },
    )


def test_published_shares_that_add_to_more_than_all_stay_so() -> None:
    # Massey Univ. MAgrSc thesis 1985 (hdl 10179/14178), fallow: the five printed means add to 100.7 %.
    shares = {"neck": 126, "flank": 154, "shoulder": 178, "saddle": 155, "haunch": 394}
    found = utilisation([carcass(1_000_000, *((cut, cut, mass * 1000) for cut, mass in shares.items()))])
    assert sum(found.values()) == pytest.approx(1.007)
    assert next(iter(found)) == "haunch"


def test_the_lamb_cutting_test_adds_to_all() -> None:
    # National Live Stock & Meat Board, Handbook on Cutting Lamb, p. 6: 32 + 13 + 11 + 23 + 21 = 100.
    pieces = [(str(mass), str(mass), mass * 10_000) for mass in (32, 13, 11, 23, 21)]
    assert sum(utilisation([carcass(1_000_000, *pieces)]).values()) == pytest.approx(1.0)


def test_a_missing_price_is_told_and_not_taken_as_nothing() -> None:
    # By hand: 2 kg at 18.50 by cut and 1.5 kg at 6 by destination make 46; the bone has no price.
    prices = Prices("EUR", {"loin": Decimal("18.50")}, {"prime": Decimal(12), "mince": Decimal(6)})
    found = value_of(
        carcass(
            9_000_000,
            ("loin", "prime", 2_000_000),
            ("flank", "mince", 1_500_000),
            ("bone", "stock", 3_000_000),
        ),
        prices,
    )
    assert found.amount == Decimal(46)
    assert found.unpriced_mg == {"bone": 3_000_000}
    assert not found.complete


def test_evenness_is_that_of_the_mean_piece() -> None:
    # By hand: means 100 g and 120 g: standard deviation 14.142 g of 110 g, 1.2 to 1.
    found = evenness([(400_000, 4), (360_000, 3)])
    assert found is not None
    assert found.cv == pytest.approx(14.142 / 110, rel=1e-4)
    assert found.greatest_to_least == pytest.approx(1.2)


def test_one_lot_has_no_spread_and_none_has_nothing() -> None:
    one = evenness([(400_000, 4)])
    assert one is not None
    assert one.cv is None
    assert evenness([]) is None
