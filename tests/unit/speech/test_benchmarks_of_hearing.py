"""What the benchmarks of the ears and of tags fit, count and write."""

from __future__ import annotations

import sys
import tomllib
from importlib.resources import files
from pathlib import Path

import numpy as np
import pytest
from sklearn.linear_model import LogisticRegression

sys.path.insert(0, str(Path(__file__).parents[2] / "benchmarks/hearing"))

from second_ear import Heard, calibration, notes_of, text_of, trained
from tags import WORDS, digits_in, exchanged, tags

from handsfree.speech.fusion import RANK_FIGURES, Column, Fusion, Reading, fusion_file, log_odds, read_fusion
from handsfree.testing.shipped_words import shipped_vocabulary

NOTHING = Column(0.0, 0.0, 0.0)


@pytest.mark.parametrize("kinds", [("whisper", ""), ("moonshine", "whisper")])
def test_the_packaged_weights_are_as_the_benchmark_writes_them(kinds: tuple[str, str]) -> None:
    text = (files("handsfree.speech") / fusion_file(*kinds)).read_text(encoding="utf-8")
    fusion = read_fusion(tomllib.loads(text), "packaged")
    both = notes_of(text)
    assert all(len(notes) > 10 for notes in both)
    assert text_of(fusion, *both) == text


def by_the_gate(own_voice: float = 0.0) -> Fusion:
    """The first engine's own log odds, as they are."""
    belief = (Column(1.0, -7.0, 7.0), *(NOTHING,) * 7)
    return Fusion((1.0, *(0.0,) * (len(RANK_FIGURES) - 1)), 0.0, belief, own_voice)


def phrase(confidence: float, right: bool) -> Heard:
    reading = Reading("neck", -2.0, -9.0, 1, True, -0.1)
    said = "neck" if right else "loin"
    return Heard("phrases pink 10 dB", said, ("neck",), confidence, (reading,), -2.0, 1.0, 1.0)


def test_what_a_voice_of_its_own_adds_is_an_intercept_by_maximum_likelihood() -> None:
    # All clips have the same log odds, so that scikit-learn's logistic regression without a figure to go by
    # finds the intercept, from which those are taken off.
    draw = np.random.default_rng(4)
    heard = [phrase(0.6, bool(right)) for right in draw.random(200) < 0.85]
    found = trained(heard, by_the_gate(), own=True).own_voice
    right = [clip.text == "neck" for clip in heard]
    judge = LogisticRegression(C=np.inf).fit(np.zeros((len(right), 1)), right)
    assert found == pytest.approx(float(judge.intercept_[0]) - log_odds(0.6), abs=1e-3)
    # By hand: the log odds of the share that was right, less those that were said.
    assert found == pytest.approx(log_odds(float(np.mean(right))) - log_odds(0.6), abs=1e-3)


def test_tags_teach_nothing_of_it_and_other_weights_stay() -> None:
    heard = [phrase(0.6, right) for right in (True, True, True, False)]
    tags = [phrase(0.6, False) for _ in range(9)]
    for tag in tags:
        tag.condition = "tags pink 10 dB"
    packaged = by_the_gate(0.5)
    one, other = (trained(clips, packaged, own=True) for clips in (heard, heard + tags))
    assert one == other
    assert (one.rank, one.intercept, one.belief) == (packaged.rank, packaged.intercept, packaged.belief)


def test_the_calibration_is_how_far_what_is_said_is_from_what_is_true() -> None:
    # Nine of ten right where 0.6 was said, none of two where 0.2 was: (10 * 0.3 + 2 * 0.2) / 12 = 0.283.
    heard = [phrase(0.6, number > 0) for number in range(10)] + [phrase(0.2, False)] * 2
    assert "error 28.3 %" in calibration(heard, by_the_gate())
    assert calibration([], by_the_gate()) == "no phrase"


def test_oh_and_four_exchanged_are_told_from_other_mistakes() -> None:
    assert exchanged("072", "472")
    assert exchanged("404", "044")
    assert not exchanged("072", "072")
    assert not exchanged("072", "471")
    assert not exchanged("072", "0472")


def test_a_tag_is_read_by_its_digits_however_it_is_worded() -> None:
    grammar = shipped_vocabulary().listening()
    assert {digits_in(grammar, f"ledger tag one {word} two") for word in WORDS} == {"102"}
    assert digits_in(grammar, "left haunch") == digits_in(grammar, "no phrase at all") == ""
    assert all(" oh" in tag and grammar.contains(tag) for tag in tags("development", 1, 2, 5))
