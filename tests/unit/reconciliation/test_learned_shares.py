"""What an invented larder's closed carcasses teach, and which of them teach nothing."""

from __future__ import annotations

from dataclasses import replace
from math import log

import pytest
from scipy import stats

from handsfree.ledger import entries as e
from handsfree.ledger.books import Books
from handsfree.ledger.carcass import Carcass, CarcassState, Piece
from handsfree.ledger.digest import ZERO_DIGEST, chain
from handsfree.reconciliation.instruments import PROCESS_BY_HAND
from handsfree.reconciliation.shares import Kind, Prior, cutting_losses, shares_json, shares_of, teaches
from handsfree.testing.ledger_entries import POSTED_AT, piece

PRIORS = {("block", "neck"): Prior(0.05, 0.3, "judgement")}


def closed(*masses_mg: int, sentence: str = "Explained.", **more: object) -> Carcass:
    pieces = {}
    for seq, mass_mg in enumerate(masses_mg, 10):
        entered = piece(1, "neck", mass_mg)
        pieces[seq] = Piece(seq, POSTED_AT, entered, "neck", "", 1, "dice")
    made = Carcass(
        1,
        POSTED_AT,
        species="fallow",
        sex="doe",
        plan="block",
        state=CarcassState.CLOSED,
        dressed=e.DressedWeightTaken(1, 20_000_000, 0.0, 5000, "rail", "20.000 kg"),
        pieces=pieces,
        closing=e.CarcassClosed(1, "explained", sentence, 0, 0),
        closed_at=POSTED_AT,
    )
    for name, value in more.items():
        setattr(made, name, value)
    return made


def test_a_closed_carcass_moves_the_share_towards_its_own() -> None:
    # By hand: the prior is worth two carcasses at ln 0.05, one is seen at ln(1.2/20).
    found = shares_of([closed(1_200_000)], PRIORS)
    share = found[Kind("block", "fallow", "doe", "neck")]
    assert share.log_share.mean == pytest.approx((2 * log(0.05) + log(0.06)) / 3)
    assert share.log_share.seen == 1
    assert shares_json(found)[0]["prior"] == "judgement"


@pytest.mark.parametrize(
    "change",
    [
        {"sentence": "Explained. Perhaps the left shank was not logged."},
        {"closing": e.CarcassClosed(1, "not explained", "", 0, 0)},
        {"state": CarcassState.OPEN},
        {"skin": "on"},
        {"dressed": None},
        {"unweighed": [e.CallLeftUnweighed(1, "neck", "", 1, "neck")]},
        {"changed_since_closing": True},
    ],
    ids=["suspect", "verdict", "open", "in skin", "no dressed weight", "unweighed call", "corrected"],
)
def test_a_carcass_in_doubt_teaches_nothing(change: dict[str, object]) -> None:
    assert not teaches(closed(1_000_000, **change))  # type: ignore[arg-type]
    assert shares_of([closed(1_000_000, **change)], PRIORS) == {}  # type: ignore[arg-type]


CLOSING = e.CarcassClosed(1, "explained", "Explained.", 0, 0)


@pytest.mark.parametrize(
    "correction",
    [
        e.DressedWeightTaken(1, 30_000_000, 0.0, 0, "spoken", "30"),
        e.EntryReversed(3, "weighed twice"),
        e.PieceRenamed(3, "shank", "left", 1, "prime", "left shank", "mis-called"),
        piece(1, "neck", 900_000),
    ],
    ids=["dressed weight", "struck", "renamed", "added"],
)
def test_what_was_corrected_after_the_close_teaches_only_once_it_is_closed_again(correction: e.Body) -> None:
    opening = [
        e.CarcassOpened(1, "417", plan="block"),
        e.DressedWeightTaken(1, 20_000_000, 0.0, 5000, "rail", "20.000 kg"),
        piece(1, "neck", 19_900_000),
        CLOSING,
    ]

    def taught(*more: e.Body) -> bool:
        bodies = [*opening, *more]
        made = chain(bodies, session="s", t_ns=0, posted_at=POSTED_AT, after=(0, ZERO_DIGEST))
        return teaches(Books([entry for entry, _ in made]).carcasses[1])

    assert taught()
    assert taught(e.NoteMade(1, "kept for the keeper"))
    assert not taught(correction)
    assert taught(correction, CLOSING)


@pytest.mark.parametrize("how", ["struck", "renamed", "asked"])
def test_a_piece_in_doubt_teaches_nothing(how: str) -> None:
    carcass = closed(1_000_000)
    doubtful = carcass.pieces[10]
    carcass.pieces[10] = (
        replace(doubtful, entered=replace(doubtful.entered, asked="which"))
        if how == "asked"
        else replace(doubtful, struck=how == "struck", renamed=how == "renamed")
    )
    assert shares_of([carcass], PRIORS) == {}


def test_learning_begins_at_the_date_it_was_reset_to() -> None:
    carcass = closed(1_000_000)
    assert teaches(carcass, since=POSTED_AT)
    assert not teaches(carcass, since="9999-01-01T00:00:00.000000Z")


def test_the_cutting_loss_is_what_the_pieces_lack() -> None:
    # By hand: 20 kg in, 19.8 kg out, cold, no time known to have passed: 1 %.
    carcass = closed(9_900_000, 9_900_000)
    assert cutting_losses([carcass], PROCESS_BY_HAND) == pytest.approx([0.01])


def test_the_band_is_that_of_students_distribution() -> None:
    found = shares_of([closed(1_200_000), closed(1_000_000)], PRIORS)
    learned = found[Kind("block", "fallow", "doe", "neck")].log_share
    wanted = stats.t(df=6, loc=learned.mean, scale=learned.predictive_scale)
    [row] = shares_json(found)
    assert log(row["low"]) == pytest.approx(wanted.ppf(0.05), abs=2e-4)
    assert log(row["high"]) == pytest.approx(wanted.ppf(0.95), abs=2e-4)
