"""The gate: the logistic function, held figures, and what its data file must have."""

from math import exp

import pytest
from hypothesis import given
from hypothesis import strategies as st

from handsfree.errors import ConfigError
from handsfree.speech.evidence import FIGURES, Evidence
from handsfree.speech.gate import Gate, packaged_gate, read_gate

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
    good = Evidence(1.0, 1.5, 0.7, 0.0, 7.0, 8.0, 14.0)
    bad = Evidence(4.5, 7.0, 0.3, 0.8, 15.0, 20.0, 4.0)
    assert packaged_gate().probability(good) > 0.8
    assert packaged_gate().probability(bad) < 0.1


def data() -> dict[str, object]:
    row = {"weight": 1.0, "centre": 0.0, "scale": 1.0, "lowest": -1.0, "highest": 1.0}
    return {"intercept": 0.0, **{figure: dict(row) for figure in FIGURES}}


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
