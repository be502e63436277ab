"""Evidence computed by hand on small segments."""

import pytest

from handsfree.speech.evidence import FIGURES, NO_RIVAL, Segment, weigh

PHRASE = [
    Segment("<sil>", 0, 9, -5.0),
    Segment("left", 10, 29, -60.0),
    Segment("haunch(2)", 30, 69, -80.0),
    Segment("<sil>", 70, 99, -10.0),
]
PHONES = [
    Segment("SIL", 0, 9, -5.0),
    Segment("L", 10, 19, -20.0),
    Segment("EH", 20, 29, -20.0),
    Segment("HH", 30, 39, -10.0),
    Segment("AO", 40, 79, -40.0),
    Segment("S", 80, 89, -9.0),
    Segment("SIL", 90, 99, -5.0),
]


def test_figures_by_hand() -> None:
    evidence = weigh(PHRASE, PHONES)
    assert evidence is not None
    # left: phones -40 against -60, 20 lost in 20 frames. haunch: -10 and 30 of 40 frames of -40,
    # so -40 against -80, 40 lost in 40 frames. Both 1 a frame.
    assert evidence.loss_mean == pytest.approx(1.0)
    assert evidence.loss_worst_word == pytest.approx(1.0)
    # L EH HH AO inside (AO's middle, 59.5, is), S outside; 4 + 6 letters; 60 frames.
    assert evidence.phones_per_letter == pytest.approx(0.4)
    assert evidence.phones_outside == pytest.approx(1 / 5)
    assert evidence.frames_per_letter == pytest.approx(6.0)
    assert evidence.slowest_word == pytest.approx(40 / 6)
    assert evidence.letters == 10


def test_the_worst_word_is_seen_behind_a_good_one() -> None:
    worse = [PHRASE[0], Segment("left", 10, 29, -100.0), *PHRASE[2:]]
    evidence = weigh(worse, PHONES)
    assert evidence is not None
    assert evidence.loss_worst_word == pytest.approx(60 / 20)
    assert evidence.loss_mean == pytest.approx(100 / 60)


def test_silence_alone_is_no_evidence() -> None:
    assert weigh([Segment("<sil>", 0, 99, -10.0), Segment("++NOISE++", 100, 120, -9.0)], PHONES) is None
    assert weigh([], PHONES) is None


def test_evidence_without_phones_is_still_finite() -> None:
    evidence = weigh(PHRASE, [])
    assert evidence is not None
    assert evidence.phones_per_letter == 0
    assert len(evidence.figures()) == len(FIGURES)


def test_misfit_distance_and_margin_by_hand() -> None:
    expected = ["L", "EH", "F", "T", "HH", "AO", "N", "CH"]
    evidence = weigh(PHRASE, PHONES, expected, margin=12.5)
    assert evidence is not None
    # left -60 and haunch -80 over 20 + 40 frames.
    assert evidence.misfit == pytest.approx(140 / 60)
    # L EH HH AO were heard: F, T, N and CH are missing, four of eight.
    assert evidence.phones_apart == pytest.approx(0.5)
    assert evidence.margin == 12.5


def test_a_margin_beyond_all_doubt_counts_as_no_rival() -> None:
    far = weigh(PHRASE, PHONES, margin=1e6)
    none = weigh(PHRASE, PHONES)
    assert far is not None
    assert none is not None
    assert far.margin == none.margin == NO_RIVAL
