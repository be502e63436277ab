"""Scoring a ledger against the truth of a rehearsal."""

from __future__ import annotations

import pytest

from handsfree.errors import SessionError
from handsfree.ledger.books import Piece
from handsfree.ledger.entries import PieceEntered
from handsfree.testing.rehearsal.scenario import TruthRow
from handsfree.testing.rehearsal.score import Outcome, score, truth_from_csv

TRUTH = [
    TruthRow(10.0, "piece", "haunch", "left", 1, 2105, "prime"),
    TruthRow(20.0, "chatter"),
    TruthRow(30.0, "piece", "haunch", "right", 1, 2150, "prime"),
    TruthRow(40.0, "piece", "double chops", "", 4, 830, "prime"),
]


def piece(seq, cut, side, count, net_g, destination="prime", asked=""):
    entered = PieceEntered(
        1, cut, side, count, destination, net_g * 1000, 1443.0, 5000, "bench", "tray building", "", heard=cut,
        asked=asked,
    )  # fmt: skip
    return Piece(seq, "", entered, cut, side, count, destination)


LEFT = piece(1, "haunch", "left", 1, 2105)
RIGHT = piece(2, "haunch", "right", 1, 2150)
CHOPS = piece(3, "double chops", "", 4, 830)


def outcomes(*pieces):
    return [finding.outcome.value for finding in score(TRUTH, pieces, d_g=5).findings]


def test_the_same_pieces_are_all_right():
    found = score(TRUTH, [LEFT, RIGHT, CHOPS], d_g=5)
    assert found.perfect
    assert found.lines() == ["3 right, 0 wrong, 0 questioned, 0 unnamed, 0 lost, 0 invented"]


def test_one_scale_interval_off_is_right_and_two_are_wrong():
    assert outcomes(LEFT, piece(2, "haunch", "right", 1, 2155), CHOPS) == ["right", "right", "right"]
    assert outcomes(LEFT, piece(2, "haunch", "right", 1, 2160), CHOPS) == ["right", "wrong", "right"]


@pytest.mark.parametrize(
    "wrong",
    [
        piece(3, "cutlets", "", 4, 830),
        piece(3, "double chops", "left", 4, 830),
        piece(3, "double chops", "", 5, 830),
        piece(3, "double chops", "", 4, 830, "pet"),
    ],
)
def test_another_cut_side_count_or_destination_is_wrong_and_says_why(wrong):
    found = score(TRUTH, [LEFT, RIGHT, wrong], d_g=5)
    assert found.count(Outcome.WRONG) == 1
    assert "4 double chops of 830 g at 40.0 s" in found.lines()[1]


def test_a_weight_without_a_name_is_unnamed_and_not_wrong():
    assert outcomes(LEFT, RIGHT, piece(3, "", "", 1, 830, "")) == ["right", "right", "unnamed"]


def test_a_weighing_without_an_entry_is_lost():
    assert outcomes(LEFT, CHOPS) == ["right", "lost", "right"]


def test_an_entry_without_a_weighing_is_invented():
    assert outcomes(LEFT, RIGHT, CHOPS, piece(4, "neck", "", 1, 600)) == [
        "right",
        "right",
        "right",
        "invented",
    ]


def test_two_pieces_with_swapped_names_are_two_wrong():
    swapped = [piece(1, "haunch", "right", 1, 2105), piece(2, "haunch", "left", 1, 2150)]
    assert outcomes(*swapped, CHOPS) == ["wrong", "wrong", "right"]


def test_truth_is_read_from_its_file():
    header = "seconds,event,cut,side,count,net_g,destination\n"
    text = header + "10.000,piece,haunch,left,1,2105,prime\n20,chatter,,,,,\n"
    assert truth_from_csv(text) == TRUTH[:2]


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("", "line 1"),
        ("a,b\n", "line 1"),
        ("seconds,event,cut,side,count,net_g,destination\nten,piece,neck,,1,5,dice\n", "line 2"),
        ("seconds,event,cut,side,count,net_g,destination\n10,piece\n", "line 2"),
    ],
)
def test_a_truth_file_that_is_none_is_refused_with_its_line(text, line):
    with pytest.raises(SessionError, match=line):
        truth_from_csv(text)


def test_what_was_asked_about_is_not_called_wrong_unasked_and_counts_as_a_question():
    found = score(TRUTH, [LEFT, RIGHT, piece(3, "cutlets", "", 4, 830, asked="which")], d_g=5)
    assert (found.count(Outcome.WRONG), found.count(Outcome.QUESTIONED), found.questions) == (0, 1, 1)
    answered = score(TRUTH, [LEFT, RIGHT, piece(3, "double chops", "", 4, 830, asked="which")], d_g=5)
    assert (answered.count(Outcome.RIGHT), answered.questions) == (3, 1)
