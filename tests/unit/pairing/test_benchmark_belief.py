"""How the benchmark judges the probabilities of names: against hand computation and scikit-learn."""

from __future__ import annotations

import sys
from math import exp, log
from pathlib import Path

import pytest

from handsfree.speech.meaning import Call
from handsfree.testing.rehearsal.scenario import TruthRow
from handsfree.testing.shipped_words import shipped_vocabulary

sys.path.insert(0, str(Path(__file__).parents[2] / "benchmarks" / "pairing"))
from belief import Believed, mean_log, names_of, tables

NONE = 0.1
"""What the readings below lack to 1, by sound and by all evidence: plan and weight say nothing."""
SOUND = (0.6, 0.3)
PLAIN = Believed(tuple(map(log, SOUND)), (0.0, 0.0), SOUND, 0)


def row(cut: str, side: str, count: int, destination: str) -> TruthRow:
    return TruthRow(1.0, "piece", cut, side, count, 640, destination)


def test_where_only_the_sound_speaks_its_weight_is_an_exponent() -> None:
    for weight in (0.5, 1.0, 2.0):
        terms = [*(chance**weight for chance in SOUND), NONE]
        assert PLAIN.of_truth(weight, 1.0) == pytest.approx(terms[0] / sum(terms), rel=1e-9)
    unheard = Believed(PLAIN.sound, PLAIN.rest, PLAIN.probability, None)
    assert unheard.of_truth(1.0, 1.0) == pytest.approx(NONE)
    assert not unheard.is_right


def test_as_shipped_the_truth_has_the_probability_that_was_kept() -> None:
    # By hand: the weight speaks e^2 for the second, "no call" has 0.1 by sound: Z = 0.6 + 0.3 e^2 + 0.1.
    terms = (0.6, 0.3 * exp(2))
    whole = sum(terms) + NONE
    kept = tuple(each / whole for each in terms)
    one = Believed(PLAIN.sound, (0.0, 2.0), kept, 1)
    assert one.of_truth(1.0, 1.0) == pytest.approx(terms[1] / whole)
    assert one.of_truth(2.0, 1.0) == pytest.approx(0.09 * exp(2) / (0.36 + 0.09 * exp(2) + NONE))
    # Judged with the square instead, the same evidence comes out the same with the weight of 1.
    squared = (0.36, 0.09 * exp(2))
    kept = tuple(each / (sum(squared) + NONE) for each in squared)
    other = Believed(PLAIN.sound, (0.0, 2.0), kept, 1)
    assert other.of_truth(1.0, 2.0) == pytest.approx(terms[1] / whole)


def test_the_mean_log_is_scikit_learns() -> None:
    metrics = pytest.importorskip("sklearn.metrics", reason="scikit-learn is not installed")
    chances = [(0.7, 0.2), (0.5, 0.1), (0.25, 0.6)]
    truths = [0, None, 1]
    every = [
        Believed(tuple(map(log, pair)), (0.0, 0.0), pair, true)
        for pair, true in zip(chances, truths, strict=True)
    ]
    outside = metrics.log_loss(
        [2 if true is None else true for true in truths],
        [(*pair, 1.0 - sum(pair)) for pair in chances],
        labels=[0, 1, 2],
    )
    assert -mean_log(every, 1.0, 1.0) == pytest.approx(outside, rel=1e-9)


def test_a_name_is_true_without_its_side_and_without_the_usual_place() -> None:
    vocabulary = shipped_vocabulary()
    usual = vocabulary.destination_of(Call("haunch"))
    as_usual = names_of(row("haunch", "left", 1, usual), vocabulary.destination_of)
    assert as_usual == {"left haunch", "haunch", f"left haunch for {usual}", f"haunch for {usual}"}
    elsewhere = names_of(row("haunch", "left", 2, "stock"), vocabulary.destination_of)
    assert usual != "stock"
    assert elsewhere == {"2 left haunch for stock", "2 haunch for stock"}


def test_the_tables_tell_how_often_it_was_right() -> None:
    wrong = Believed(PLAIN.sound, PLAIN.rest, PLAIN.probability, 1)
    told = "\n".join(tables([PLAIN, PLAIN, PLAIN, wrong], 1.0))
    assert "4, said  60.0%, true  75.0%" in told
    # (3 (1 - 0.6)^2 + 0.6^2) / 4 = 0.21 by hand.
    assert "expected calibration error 15.0%, Brier score 0.2100" in told
    assert tables([], 1.0) == ["no piece was named from readings"]
