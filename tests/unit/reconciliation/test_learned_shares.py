"""What an invented larder's closed carcasses teach, and which of them teach nothing."""

from __future__ import annotations

from dataclasses import replace
from math import exp, log

import pytest
from scipy import stats

from handsfree.ledger import entries as e
from handsfree.ledger.books import Books
from handsfree.ledger.carcass import Carcass, CarcassState, Piece
from handsfree.ledger.digest import ZERO_DIGEST, chain
from handsfree.reconciliation.instruments import PROCESS_BY_HAND
from handsfree.reconciliation.shares import (
    ANY,
    Kind,
    Prior,
    chilling_losses,
    cutting_losses,
    shares_json,
    shares_of,
    teaches,
    usual_share,
)
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
        {"closing": e.CarcassClosed(1, "explained", "Explained.", 0, 0, suspect="not logged")},
        {"skin": "on"},
        {"dressed": None},
        {"unweighed": [e.CallLeftUnweighed(1, "neck", "", 1, "neck")]},
        {"changed_since_closing": True},
    ],
    ids=[
        "suspect in words",
        "verdict",
        "open",
        "suspect",
        "in skin",
        "no dressed weight",
        "unweighed call",
        "corrected",
    ],
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


def test_the_suspect_of_a_closing_is_its_field_and_its_sentence_only_where_there_is_none() -> None:
    # A note may say "probably" too: only entries older than the field are read for it.
    told = e.CarcassClosed(1, "explained", "Probably nothing to speak of.", 0, 0, suspect="")
    assert teaches(closed(1_000_000, closing=told))
    assert not teaches(closed(1_000_000, closing=replace(told, suspect=None)))


@pytest.mark.parametrize(
    ("skin", "unaccounted_mg", "taught"),
    # 20 kg: a skin of 7.5 % is 1.5 kg, at 2.33 spreads of 0.3 below that still 0.75 kg (from memory,
    # as the share itself). Said off, the balance need not tell.
    [("", 0, True), ("", 500_000, True), ("", 700_000, False), ("off", 700_000, True), ("on", 0, False)],
)
def test_a_skin_that_nobody_spoke_of_is_ruled_out_by_the_balance(
    skin: str, unaccounted_mg: int, taught: bool
) -> None:
    closing = e.CarcassClosed(1, "explained", "", unaccounted_mg, 100_000, suspect="")
    assert teaches(closed(1_000_000, skin=skin, closing=closing)) is taught


def test_a_skin_among_the_pieces_leaves_an_unknown_dressed_weight_unknown() -> None:
    carcass = closed(1_000_000)
    carcass.pieces[99] = Piece(99, POSTED_AT, piece(1, "skin", 1_500_000), "skin", "", 1, "waste")
    assert not teaches(carcass)


def test_kinds_are_learned_together_the_others_in_place_of_the_published_share() -> None:
    # By hand. Published: ln 0.05, worth two. Three roe does at ln 0.08, one fallow buck at ln 0.06, two
    # fallow does at ln 0.04. What roe taught: (2 ln 0.05 + 3 ln 0.08)/5, then worth two; with the buck
    # after it (2 x that + ln 0.06)/3, again worth two; then the does' own.
    roe = [closed(1_600_000, species="roe deer")] * 3
    fallow = [closed(1_200_000, sex="buck"), closed(800_000), closed(800_000)]
    found = shares_of([*roe, *fallow], PRIORS)
    list_place = (2 * log(0.05) + 3 * log(0.08)) / 5
    species_place = (2 * list_place + log(0.06)) / 3

    def mean(species: str, sex: str) -> float:
        return found[Kind("block", species, sex, "neck")].log_share.mean

    assert mean("fallow", "doe") == pytest.approx((2 * species_place + 2 * log(0.04)) / 4)
    assert mean("fallow", ANY) == pytest.approx((2 * list_place + log(0.06) + 2 * log(0.04)) / 5)
    every = 3 * log(0.08) + log(0.06) + 2 * log(0.04)
    assert mean(ANY, ANY) == pytest.approx((2 * log(0.05) + every) / 8)
    # The others move the place only: a kind with nothing of its own stays as wide as published.
    buck = found[Kind("block", "fallow", "buck", "neck")].log_share
    assert (buck.kappa, buck.nu, buck.seen) == (3, 5, 1)


def test_the_nearest_kind_with_enough_carcasses_tells_what_is_usual() -> None:
    does, bucks = [closed(1_000_000)] * 5, [closed(1_200_000, sex="buck")] * 4
    found = shares_of([*does, *bucks, closed(1_600_000, species="roe deer")], PRIORS)

    def nearest(species: str, sex: str) -> tuple[str, str, int] | None:
        share = usual_share(found, "block", species, sex, "neck")
        return (share.species, share.sex, share.log_share.seen) if share else None

    assert nearest("fallow", "doe") == ("fallow", "doe", 5)
    assert nearest("fallow", "buck") == ("fallow", ANY, 9)  # four bucks are too few
    assert nearest("fallow", "") == ("fallow", ANY, 9)  # nobody said the sex
    assert nearest("sika", "stag") == (ANY, ANY, 10)
    assert usual_share(found, "primals", "fallow", "doe", "neck") is None  # another plan cuts otherwise
    assert usual_share(shares_of(bucks, PRIORS), "block", "fallow", "buck", "neck") is None


def test_carcasses_of_unknown_sex_teach_the_species() -> None:
    found = shares_of([closed(1_000_000, sex="")], PRIORS)
    assert set(found) == {Kind("block", ANY, ANY, "neck"), Kind("block", "fallow", ANY, "neck")}
    # The list has no other carcasses than the species: one row is told.
    assert [row["species"] for row in shares_json(found)] == ["fallow"]


def test_a_hot_carcass_teaches_the_chilling_and_not_the_cutting() -> None:
    # By hand: 20 kg hot, a day later 19.4 kg: 3 %, of which 0.35 % to the knife (by hand, the preset).
    carcass = closed(9_700_000, 9_700_000, hot_or_cold="hot", dressed_at="2026-01-30T07:05:09.000000Z")
    assert cutting_losses([carcass], PROCESS_BY_HAND) == []
    assert chilling_losses([carcass], PROCESS_BY_HAND) == pytest.approx([0.0265])
    # Two hours after the weighing it was hardly begun: 13 % of it done, and how much is not known well.
    warm = closed(9_700_000, 9_700_000, hot_or_cold="hot", dressed_at="2026-01-31T05:05:09.000000Z")
    assert chilling_losses([warm], PROCESS_BY_HAND) == []


def test_a_share_is_the_exponential_of_its_mean() -> None:
    [row] = shares_json(shares_of([closed(1_200_000)], PRIORS))
    assert row["share"] == pytest.approx(exp((2 * log(0.05) + log(0.06)) / 3), abs=1e-6)
