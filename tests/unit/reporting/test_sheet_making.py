"""The sheet of the invented carcass against sums done by hand (see `handsfree.testing.invented_carcass`)."""

from dataclasses import replace
from datetime import timedelta, timezone

import pytest

from handsfree.errors import BalanceError
from handsfree.ledger import entries as e
from handsfree.ledger.books import Books
from handsfree.reporting.figures import BalanceFigures
from handsfree.reporting.making import sheet_of
from handsfree.testing.invented_carcass import INVENTED_LARDER, invented_books, invented_entries

# By hand: 31 250 - 30 520 - 125 = 605 g.
FIGURES = BalanceFigures(
    31_250_000, 30_520_000, 125_000, 605_000, 78_000, "not explained", "Something is missing"
)


@pytest.fixture
def carcass():
    return invented_books().carcasses[1]


@pytest.fixture
def sheet(carcass):
    return sheet_of(carcass, FIGURES, larder=INVENTED_LARDER, last_seq=42, digest="ab" * 32)


def test_the_heading_says_whose_sheet_it_is(sheet) -> None:
    heading = sheet.heading
    assert heading.larder == "Nettlebeck Larder (invented)"
    assert heading.title == "carcass 417, fallow deer buck"
    assert (heading.skin, heading.hot_or_cold, heading.state) == ("skin off", "cold", "closed")
    assert heading.dressed_mg == 31_250_000
    assert heading.instrument == "rail scale, d = 50 g"
    assert heading.opened == "14 October 2025, 08:30"
    assert heading.closed == "14 October 2025, 08:38"


def test_pieces_stand_in_order_and_struck_ones_apart(sheet) -> None:
    assert len(sheet.pieces) == 29
    assert [piece.seq for piece in sheet.pieces] == sorted(piece.seq for piece in sheet.pieces)
    assert [(piece.name, piece.net_kg) for piece in sheet.struck] == [("left shoulder", "2.120")]
    assert sheet.pieces[4].name == "left haunch"
    assert sheet.pieces[4].net_kg == "4.135"
    assert sheet.pieces[4].share == pytest.approx(4135 / 31250)


def test_marks_tell_what_is_unusual_about_a_piece(sheet) -> None:
    marks = {piece.name: piece.marks for piece in sheet.pieces if piece.marks}
    assert marks == {
        "right thick flank": ("low confidence 0.44",),
        "right flank": ("renamed from right shank",),
        "unnamed": ("unnamed",),
        "kidneys": ("by voice",),
    }


@pytest.mark.parametrize(
    ("asked", "mark"), [("confirm", "named when asked"), ("what was that", "low confidence 0.44")]
)
def test_a_doubtful_name_that_was_settled_by_an_answer_is_marked_so(asked: str, mark: str) -> None:
    entries = [
        replace(each, body=replace(each.body, asked=asked))
        if isinstance(each.body, e.PieceEntered) and each.body.confidence == 0.44
        else each
        for each in invented_entries()
    ]
    marks = {piece.name: piece.marks for piece in sheet_of(Books(entries).carcasses[1]).pieces}
    assert marks["right thick flank"] == (mark,)


def test_a_piece_named_later_is_marked_so() -> None:
    entries = invented_entries(closed=False)
    unnamed = next(x for x in entries if isinstance(x.body, e.PieceEntered) and not x.body.cut)
    body = e.PieceRenamed(unnamed.seq, "neck", "", 1, "dice", "neck", "answered")
    books = Books([*entries, replace(entries[-1], seq=len(entries) + 1, body=body)])
    sheet = sheet_of(books.carcasses[1])
    assert not sheet.unnamed
    assert next(piece for piece in sheet.pieces if piece.seq == unnamed.seq).marks == ("named later",)


def test_totals_by_destination_are_the_hand_sums(sheet) -> None:
    grams = {d.total.name: d.total.mass_mg // 1000 for d in sheet.destinations}
    assert grams == {
        "prime": 155 + 160 + 865 + 880 + 4135 + 1240 + 1105 + 930 + 585 + 610 + 640 + 520,
        "dice": 2120 + 2145 + 1980 + 1865,
        "mince": 730 + 745 + 455 + 460 + 2640 + 720,
        "pet": 540 + 95,
        "stock": 1890 + 1425,
        "waste": 310,
        "condemned": 365,
        "no destination": 210,
    }
    assert list(grams) == ["prime", "dice", "mince", "pet", "stock", "waste", "condemned", "no destination"]


def test_every_way_of_summing_gives_the_same_total(sheet) -> None:
    assert sheet.total_mg == 30_520_000
    assert sum(piece.mass_mg for piece in sheet.pieces) == 30_520_000
    assert sum(total.mass_mg for total in sheet.cuts) == 30_520_000
    for destination in sheet.destinations:
        assert sum(cut.mass_mg for cut in destination.cuts) == destination.total.mass_mg


def test_counted_lots_count_their_pieces(sheet) -> None:
    assert {total.name: total.pieces for total in sheet.cuts}["double chops"] == 4
    # 29 weighings, of which one of four chops and one of six cutlets: 27 + 4 + 6
    assert sum(total.pieces for total in sheet.cuts) == 37


def test_the_identity_closes_as_written(sheet) -> None:
    identity = sheet.identity
    assert identity.dressed_kg == "31.250"
    assert (identity.pieces_kg, identity.process_loss_kg, identity.unaccounted_kg) == (
        "30.520",
        "0.125",
        "0.605",
    )


@pytest.mark.parametrize("loss_mg", [124_499, 124_500, 125_500, 125_501, 1])
def test_a_loss_that_is_no_whole_gram_still_closes_as_written(carcass, loss_mg: int) -> None:
    figures = replace(FIGURES, process_loss_mg=loss_mg, unaccounted_mg=730_000 - loss_mg)
    identity = sheet_of(carcass, figures).identity
    grams = [
        round(float(text) * 1000)
        for text in (identity.pieces_kg, identity.process_loss_kg, identity.unaccounted_kg)
    ]
    assert sum(grams) == 31_250


def test_yields_are_shares_of_the_dressed_weight(sheet) -> None:
    shares = {total.name: total.share for total in sheet.yields}
    # prime 11 825; with dice 8110 and mince 5750 it is 25 685 g of 31 250 g
    assert shares["prime"] == pytest.approx(11825 / 31250)
    assert shares["prime, dice and mince"] == pytest.approx(25685 / 31250)
    assert shares["all pieces"] == pytest.approx(30520 / 31250)


def test_left_and_right_are_compared_where_both_were_weighed(sheet) -> None:
    pairs = {pair.cut: pair for pair in sheet.pairs}
    assert set(pairs) == {"fillet", "loin", "shoulder", "breast", "flank"}
    assert pairs["shoulder"].difference == pytest.approx(25 / 2132.5)


def test_calls_without_a_weight_notes_and_temperatures_are_kept(sheet) -> None:
    assert sheet.unweighed == ("liver",)
    assert sheet.temperatures == ("core 4.2 °C",)
    assert sheet.notes == ("bruise on the left shoulder",)
    assert sheet.digest == "ab" * 32


def test_times_are_shown_in_the_zone_asked_for(carcass) -> None:
    summer = timezone(timedelta(hours=1), "BST")
    sheet = sheet_of(carcass, zone=summer)
    assert sheet.heading.opened == "14 October 2025, 09:30"
    assert sheet.pieces[0].time == "09:31:27"
    assert sheet.heading.zone == "BST"


def test_figures_of_other_pieces_are_refused(carcass) -> None:
    with pytest.raises(BalanceError, match=r"worked out from other pieces\. Reconcile again\."):
        sheet_of(carcass, replace(FIGURES, pieces_mg=30_519_000))


def test_figures_that_do_not_add_up_are_refused(carcass) -> None:
    with pytest.raises(BalanceError, match="does not add up"):
        sheet_of(carcass, replace(FIGURES, unaccounted_mg=604_000))


def test_without_a_dressed_weight_there_is_no_balance_and_the_reason_is_given() -> None:
    entry = e.Entry(1, "2025-10-14T08:30:00.000000Z", "s", 0, e.CarcassOpened(1), "0" * 64, "1" * 64)
    sheet = sheet_of(Books([entry]).carcasses[1])
    assert sheet.balance is None
    assert sheet.yields == ()
    assert "no dressed weight" in sheet.no_balance
    assert sheet.heading.title == "carcass number 1 (no tag)"


def test_weights_finer_than_a_gram_are_written_exactly_throughout() -> None:
    entries = invented_entries(closed=False)
    # One pound is 453 592.37 mg; to the milligram 453 592.
    pound = replace(entries[6].body, mass_mg=453_592, indication="1.000 lb")
    entries[6] = replace(entries[6], body=pound)
    sheet = sheet_of(Books(entries).carcasses[1])
    assert sheet.decimals == 6
    assert sheet.pieces[0].net_kg == "0.453592"
    assert sheet.pieces[1].net_kg == "0.160000"


def test_figures_come_out_of_a_real_reconciliation(carcass) -> None:
    from handsfree.reconciliation.reconcile import reconcile
    from handsfree.reporting.reconciled import figures_of

    figures = figures_of(reconcile(carcass))
    assert figures is not None
    sheet = sheet_of(carcass, figures)
    assert figures.pieces_mg == 30_520_000
    assert figures.dressed_mg == figures.pieces_mg + figures.process_loss_mg + figures.unaccounted_mg
    assert sheet.balance is figures


def test_a_carcass_without_dressed_weight_gives_no_figures() -> None:
    from handsfree.reconciliation.reconcile import reconcile
    from handsfree.reporting.reconciled import figures_of

    entry = e.Entry(1, "2025-10-14T08:30:00.000000Z", "s", 0, e.CarcassOpened(1), "0" * 64, "1" * 64)
    assert figures_of(reconcile(Books([entry]).carcasses[1])) is None
