"""The weighing of two engines: every expected value is worked out by hand from the weights given."""

from __future__ import annotations

import tomllib
from math import exp, log

import pytest

from handsfree.errors import ConfigError
from handsfree.speech.fusion import (
    BELIEF_FIGURES,
    RANK_FIGURES,
    Belief,
    Column,
    Fusion,
    Reading,
    packaged_fusion,
    read_fusion,
)

COLUMNS = (Column(0.0, -100.0, 100.0),) * len(BELIEF_FIGURES)


def fusion(rank: dict[str, float], intercept: float = 0.0, **belief: Column) -> Fusion:
    columns = dict(zip(BELIEF_FIGURES, COLUMNS, strict=True)) | belief
    return Fusion(
        tuple(rank.get(name, 0.0) for name in RANK_FIGURES),
        intercept,
        tuple(columns[name] for name in BELIEF_FIGURES),
    )


def reading(text: str, ear: float, first: bool = True, blank: float = -20.0, tokens: int = 2) -> Reading:
    return Reading(text, ear, blank, tokens, first)


def test_the_worth_is_the_weighted_sum() -> None:
    weights = fusion({"ear": 0.5, "blank": -0.25, "tokens": 1.0, "first_best": 3.0})
    # 0.5 * -6 + 0.25 * 20 + 2 + 3 = 7, and 3 less where the first engine has another best.
    assert weights.worth(reading("haunch", -6.0)) == pytest.approx(7.0)
    assert weights.worth(reading("shank", -6.0, first=False)) == pytest.approx(4.0)
    means = fusion({"ear_per_token": 1.0, "blank_per_token": -0.5})
    # -6 / 2 + 0.5 * 20 / 2 = 2; a reading without a token is not divided by nothing.
    assert means.worth(reading("haunch", -6.0)) == pytest.approx(2.0)
    assert means.worth(reading("haunch", -6.0, tokens=0)) == pytest.approx(4.0)


def test_a_reading_the_first_engine_never_had_can_win() -> None:
    weights = fusion({"ear": 1.0, "first_best": 5.0})
    heard, only_ear = reading("haunch", -20.0), reading("shank", -10.0, first=False)
    assert [r.text for r in weights.ordered([heard, only_ear])] == ["shank", "haunch"]
    near = reading("shank", -16.0, first=False)
    assert [r.text for r in weights.ordered([heard, near])] == ["haunch", "shank"]


def test_the_evidence_says_who_chose_what() -> None:
    weights = fusion({"ear": 1.0, "first_best": 5.0})
    heard, only_ear = reading("haunch", -20.0), reading("shank", -10.0, first=False)
    belief = weights.belief_in(weights.ordered([heard, only_ear]), 0.75, freely=-4.0)
    # The first engine chose the other one: its log odds, ln 3, count there. (-4 + 10) / 2 = 3 a token.
    assert belief == Belief(0.0, pytest.approx(log(3)), 0.0, pytest.approx(5.0), 3.0, -5.0, 5.0, 2.0)
    both = weights.belief_in([reading("haunch", -3.0)], 0.75, freely=-3.0)
    assert (both.gate, both.gate_other, both.agree) == (pytest.approx(log(3)), 0.0, 1.0)


def test_the_confidence_is_the_logistic_of_the_sum_within_what_was_learned() -> None:
    weights = fusion({}, -1.0, margin=Column(0.5, 0.0, 4.0))
    sure = Belief(0, 0, 0, 2.0, 0, 0, 0, 0)
    assert weights.confidence(sure) == pytest.approx(0.5)  # -1 + 0.5 * 2 = 0
    beyond = Belief(0, 0, 0, 50.0, 0, 0, 0, 0)
    assert weights.confidence(beyond) == pytest.approx(1 / (1 + exp(-1.0)))  # held at 4: -1 + 2 = 1


@pytest.mark.parametrize("ear", [("whisper",), ("moonshine", "whisper")])
def test_the_packaged_weights_trust_what_both_like(ear: tuple[str, ...]) -> None:
    weights = packaged_fusion(*ear)
    good, bad = reading("haunch", -3.0), reading("shank", -25.0, first=False)
    ordered = weights.ordered([bad, good])
    assert ordered[0] is good
    likely = weights.confidence(weights.belief_in(ordered, 0.95, freely=-2.5))
    unlikely = weights.confidence(weights.belief_in([bad, reading("rump", -25.5)], 0.05, freely=-4.0))
    assert unlikely < 0.5 < likely


@pytest.mark.parametrize("ear", [("whisper",), ("moonshine", "whisper")])
def test_beside_a_voice_of_its_own_the_packaged_weights_believe_more(ear: tuple[str, ...]) -> None:
    weights, evidence = packaged_fusion(*ear), Belief(0.0, 0.0, 1.0, 2.0, 1.0, -2.0, 3.0, 2.0)
    assert weights.beside_own_voice().confidence(evidence) > weights.confidence(evidence)


@pytest.mark.parametrize("left_out", ["ear", "intercept", "own_voice", "weight"])
def test_data_with_a_hole_is_refused_in_words(left_out: str) -> None:
    column = {"weight": 1.0, "lowest": 0.0, "highest": 1.0}
    data = {
        "rank": dict.fromkeys(RANK_FIGURES, 1.0),
        "belief": {"intercept": 0.0, "own_voice": 1.0} | {name: dict(column) for name in BELIEF_FIGURES},
    }
    assert isinstance(read_fusion(data, "made.toml"), Fusion)
    data["rank"].pop(left_out, None)
    data["belief"].pop(left_out, None)
    data["belief"]["margin"].pop(left_out, None)
    with pytest.raises(ConfigError, match=f"made.toml has no number for '{left_out}'"):
        read_fusion(data, "made.toml")


def test_a_weight_that_is_no_number_is_refused() -> None:
    with pytest.raises(ConfigError, match="no number"):
        read_fusion(tomllib.loads('rank = "heavy"\nbelief = 3'), "made.toml")
