"""The auto shape."""

from __future__ import annotations

from decimal import Decimal

import pytest

from handsfree.testing.scale_text import SHAPES, Shown
from handsfree.weighing.messages import Frame, Indication, Torn
from handsfree.weighing.reading import LineReader
from handsfree.weighing.shapes import find_shapes

AUTO = find_shapes("auto")


def frame(t_ns: int, text: str) -> Frame:
    return Frame(t_ns, "bench", text.strip("\r\n\x02\x03").encode("latin-1"))


@pytest.mark.parametrize("name", sorted(SHAPES))
@pytest.mark.parametrize("unit", ["kg", "g", "lb", "oz"])
def test_each_shape_is_known_from_its_own_lines(name: str, unit: str):
    reader = LineReader("bench", AUTO)
    shown = [
        Shown(steps, Decimal(5), unit, stable=stable, net=net)
        for steps, stable, net in [
            (0, True, False),
            (123, False, False),
            (-40, False, True),
            (247, True, False),
        ]
    ]
    found: list[object] = []
    for t_ns, each in enumerate([*shown, *shown]):
        found += reader.feed(frame(t_ns, SHAPES[name](each)))
    found += reader.flush()
    assert reader.shape is not None
    # Whole grams have no decimal mark to tell a point from a comma by.
    assert reader.shape.name == ("number_unit" if (name, unit) == ("number_comma_unit", "g") else name)
    assert [each.t_ns for each in found if isinstance(each, Indication)] == list(range(8))
    texts = [each.text for each in found if isinstance(each, Indication)]
    assert texts == [f"{'-' if s.negative else ''}{s.number} {unit}" for s in [*shown, *shown]]


def test_once_chosen_it_never_switches():
    reader = LineReader("bench", AUTO)
    for t_ns in range(5):
        reader.feed(frame(t_ns, "ST,GS   1.234,kg"))
    for t_ns in range(5, 30):
        (found,) = reader.feed(frame(t_ns, "    1.234 kg"))
        assert isinstance(found, Torn)


def test_lines_that_fit_no_shape_are_torn_at_once_and_choose_nothing():
    reader = LineReader("bench", AUTO)
    for t_ns in range(30):
        (found,) = reader.feed(frame(t_ns, "hello"))
        assert isinstance(found, Torn)
    assert reader.shape is None


def test_a_few_lines_and_then_quiet_choose_after_two_seconds():
    reader = LineReader("bench", AUTO)
    assert reader.feed(frame(1, "ST,GS   1.234,kg")) == []
    assert reader.tick(1_000_000_000) == []
    (found,) = reader.tick(2_100_000_000)
    assert isinstance(found, Indication)
    assert found.t_ns == 1


def test_a_shape_that_lacks_only_its_unit_says_so():
    (found,) = LineReader("bench", AUTO).feed(frame(1, "GROSS WEIGHT    1138.0"))
    assert isinstance(found, Torn)
    assert "unit" in found.reason
