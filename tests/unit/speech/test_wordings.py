"""Wordings of one meaning count together."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from handsfree.speech.meaning import Call, Command, Meaning, Side, Verb
from handsfree.speech.messages import Hypothesis
from handsfree.speech.ports import Recognition
from handsfree.speech.wordings import by_meaning

TAG, OTHER, HAUNCH = (
    Command(Verb.TAG, digits="102"),
    Command(Verb.TAG, digits="112"),
    Call("haunch", Side.LEFT),
)


def heard(*readings: tuple[str, Meaning | None, float | None]) -> Recognition:
    hypotheses = tuple(Hypothesis(text, meaning, -5.0, chance) for text, meaning, chance in readings)
    return Recognition(hypotheses, readings[0][2] or 0.4 if readings else 0.0)


def test_oh_and_zero_tell_the_same_tag() -> None:
    found = by_meaning(
        heard(("tag one oh two", TAG, 0.33), ("tag one one two", OTHER, 0.1), ("tag one zero two", TAG, 0.16))
    )
    assert [(each.text, each.probability) for each in found.hypotheses] == [
        ("tag one oh two", pytest.approx(0.49)),
        ("tag one one two", pytest.approx(0.1)),
    ]
    assert found.confidence == pytest.approx(0.49)


def test_two_wordings_may_outdo_the_likeliest() -> None:
    found = by_meaning(
        heard(("tag one one two", OTHER, 0.3), ("tag one oh two", TAG, 0.25), ("tag one zero two", TAG, 0.2))
    )
    assert [each.text for each in found.hypotheses] == ["tag one oh two", "tag one one two"]
    assert found.confidence == pytest.approx(0.45)


def test_of_two_as_likely_the_engines_own_order_stands() -> None:
    found = by_meaning(heard(("tag one one two", OTHER, 0.3), ("left haunch", HAUNCH, 0.30000000000000004)))
    assert [each.meaning for each in found.hypotheses] == [OTHER, HAUNCH]


def test_readings_without_a_meaning_are_not_taken_for_one_another() -> None:
    plain = heard(("yes", None, 0.5), ("no", None, 0.4))
    assert by_meaning(plain) == plain


def test_an_engine_without_probabilities_is_left_alone() -> None:
    plain = heard(("left haunch", HAUNCH, None), ("haunch left", HAUNCH, None))
    assert by_meaning(plain) == plain
    assert by_meaning(Recognition((), 0.0)) == Recognition((), 0.0)


@given(st.lists(st.tuples(st.sampled_from([TAG, OTHER, HAUNCH, None]), st.floats(0.01, 1.0)), min_size=1))
def test_nothing_is_lost_and_nothing_gained(shares: list[tuple[Meaning | None, float]]) -> None:
    total = sum(share for _, share in shares)
    given_to = sorted(((meaning, share / total) for meaning, share in shares), key=lambda each: -each[1])
    before = heard(*((str(place), meaning, share) for place, (meaning, share) in enumerate(given_to)))
    before = Recognition(before.hypotheses, given_to[0][1])
    after = by_meaning(before)
    assert sum(each.probability or 0.0 for each in after.hypotheses) == pytest.approx(1.0)
    assert {each.meaning for each in after.hypotheses} == {meaning for meaning, _ in given_to}
    assert after.confidence == pytest.approx(after.hypotheses[0].probability)
    assert {each.text for each in by_meaning(after).hypotheses} == {each.text for each in after.hypotheses}
