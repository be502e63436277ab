"""The gate: the logistic function, held figures, and what its data file must have."""

from dataclasses import replace
from math import exp

import pytest
from hypothesis import given
from hypothesis import strategies as st

from handsfree.errors import ConfigError
from handsfree.speech.evidence import FIGURES, Evidence
from handsfree.speech.gate import Gate, RivalOdds, packaged_gate, read_gate

COUNT = len(FIGURES)
NEUTRAL = Evidence(*([0.0] * COUNT))


def gate(weight: float = 1.0, low: float = -10.0, high: float = 10.0) -> Gate:
    return Gate(
        0.5, (weight, *[0.0] * (COUNT - 1)), (1.0,) * COUNT, (2.0,) * COUNT, (low,) * COUNT, (high,) * COUNT
    )


def evidence(first: float) -> Evidence:
    return Evidence(first, *([0.0] * (COUNT - 1)))


def test_the_probability_is_the_logistic_of_the_weighed_sum() -> None:
    # 0.5 + 1.0 * (4 - 1) / 2 = 2
    assert gate().probability(evidence(4.0)) == pytest.approx(1 / (1 + exp(-2)))


def test_beyond_what_was_seen_in_development_nothing_more_is_concluded() -> None:
    assert gate(high=3.0).probability(evidence(3.0)) == gate(high=3.0).probability(evidence(300.0))


def test_without_evidence_nothing_is_believed() -> None:
    assert gate().probability(None) == 0.0


@given(st.lists(st.floats(-1e6, 1e6), min_size=COUNT, max_size=COUNT))
def test_whatever_the_evidence_the_packaged_gate_gives_a_probability(figures: list[float]) -> None:
    assert 0.0 <= packaged_gate().probability(Evidence(*figures)) <= 1.0


def test_a_phrase_that_fits_as_well_as_phones_is_believed_and_one_far_off_is_not() -> None:
    good = Evidence(0.0, 0.5, 0.8, 0.0, 7.0, 8.0, 14.0, misfit=2.0, phones_apart=0.2, margin=80.0)
    bad = Evidence(4.5, 7.0, 0.3, 0.8, 15.0, 20.0, 4.0, misfit=6.0, phones_apart=0.9, margin=3.0)
    assert packaged_gate().probability(good) > 0.8
    assert packaged_gate().probability(bad) < 0.1


def data() -> dict[str, object]:
    row = {"weight": 1.0, "centre": 0.0, "scale": 1.0, "lowest": -1.0, "highest": 1.0}
    rival = {"intercept": 0.0, "behind": 0.0, "best": 0.0}
    return {"intercept": 0.0, **{figure: dict(row) for figure in FIGURES}, "rival": rival}


def test_a_whole_data_file_is_read() -> None:
    assert read_gate(data(), "gate.toml").probability(NEUTRAL) == 0.5


@pytest.mark.parametrize("bad", [None, "1", True, float("nan")])
def test_a_coefficient_that_is_no_number_is_named(bad: object) -> None:
    broken = data()
    broken["letters"] = {**broken["letters"], "weight": bad}  # type: ignore[dict-item]
    with pytest.raises(ConfigError, match=r"gate\.toml has no number for 'weight'"):
        read_gate(broken, "gate.toml")


def test_a_missing_intercept_or_a_scale_of_nothing_is_refused() -> None:
    broken = data()
    del broken["intercept"]
    with pytest.raises(ConfigError, match="'intercept'"):
        read_gate(broken, "gate.toml")
    flat = data()
    flat["letters"] = {**flat["letters"], "scale": 0.0}  # type: ignore[dict-item]
    with pytest.raises(ConfigError, match="not positive"):
        read_gate(flat, "gate.toml")


def test_rivals_share_what_the_best_reading_leaves_by_hand() -> None:
    made = replace(gate(), rival=RivalOdds(intercept=1.0, behind=-0.1, best=-0.5))
    # The best reading's log odds are 2 (above): 0.8808. A rival 10 behind has 1 - 1 - 1 = -1 and
    # would be 0.2689: only 0.1192 is left, and it gets that. One 40 behind has 1 - 4 - 1 = -4: 0.0180.
    best, near = made.probabilities(evidence(4.0), [10.0])
    assert best == pytest.approx(1 / (1 + exp(-2)))
    assert near == pytest.approx(1 - best)
    assert made.probabilities(evidence(4.0), [40.0])[1] == pytest.approx(1 / (1 + exp(4)))


@given(
    st.lists(st.floats(-1e6, 1e6), min_size=COUNT, max_size=COUNT),
    st.lists(st.floats(0.0, 1e4), max_size=4).map(sorted),
)
def test_the_probabilities_of_all_readings_and_none_are_a_distribution(
    figures: list[float], behind: list[float]
) -> None:
    chances = packaged_gate().probabilities(Evidence(*figures), behind)
    assert len(chances) == 1 + len(behind)
    assert all(0.0 <= chance <= 1.0 for chance in chances)
    assert sum(chances) <= 1.0 + 1e-9
    assert list(chances[1:]) == sorted(chances[1:], reverse=True)


def test_without_evidence_no_reading_is_believed() -> None:
    assert packaged_gate().probabilities(None, [1.0, 2.0]) == (0.0, 0.0, 0.0)
