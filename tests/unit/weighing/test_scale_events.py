"""What the butcher must be told of a scale."""

from __future__ import annotations

from handsfree.weighing.messages import LoadChange, ScaleEvent, ScaleEventKind, Torn
from handsfree.weighing.ports import Chunk, Ended, Lost, Nothing
from handsfree.weighing.shapes import find_shapes
from handsfree.weighing.weigher import Weigher

S = 1_000_000_000
PLAIN = find_shapes("number_unit")


def weigher(**settings: object) -> Weigher:
    return Weigher("bench", PLAIN, 5_000, first_is_whole=True, **settings)  # type: ignore[arg-type]


def events(found: list[object]) -> list[ScaleEventKind]:
    return [each.kind for each in found if isinstance(each, ScaleEvent)]


def lines(texts: list[str], start_s: float = 0.0) -> list[Chunk]:
    return [Chunk(round((start_s + i / 10) * S), f"{text}\r\n".encode()) for i, text in enumerate(texts, 1)]


def feed(one: Weigher, chunks: list[Chunk]) -> list[object]:
    return [message for chunk in chunks for message in one.feed(chunk)]


def test_two_seconds_without_a_line_are_told_once_and_so_is_the_end():
    one = weigher()
    feed(one, lines(["1.000 kg"] * 10))
    assert one.standing is not None
    found: list[object] = []
    for t_s in (1.5, 2.9, 3.1, 5.0, 9.0):
        found += one.feed(Nothing(round(t_s * S)))
    assert events(found) == [ScaleEventKind.SILENT]
    assert one.standing is None
    assert events(feed(one, lines(["1.000 kg"] * 10, 9.0))) == [ScaleEventKind.BACK]
    assert one.standing is not None


def test_a_slow_scale_is_not_silent_between_its_lines():
    one = weigher()
    chunks = [Chunk(t * S, b"1.000 kg\r\n") for t in (1, 2, 3, 4, 5, 8, 9)]
    assert events(feed(one, chunks)) == []


def test_a_scale_that_never_speaks_is_silent_too():
    assert events(weigher().feed(Nothing(3 * S))) == [ScaleEventKind.SILENT]
    assert events(weigher(silence_s=None).feed(Nothing(300 * S))) == []


def test_unplugged_and_back_and_the_cut_line_is_torn():
    one = weigher()
    feed(one, lines(["1.000 kg"] * 10))
    one.feed(Chunk(2 * S, b"12.3"))
    found = one.feed(Lost(2 * S + 1, "gone"))
    assert [each.data for each in found if isinstance(each, Torn)] == [b"12.3"]
    assert events(found) == [ScaleEventKind.UNPLUGGED]
    assert one.standing is None
    assert events(one.feed(Nothing(9 * S))) == []
    back = feed(one, lines(["45.000 kg"] + ["1.700 kg"] * 10, 9.0))
    assert events(back) == [ScaleEventKind.BACK]
    assert [each.delta_mg for each in back if isinstance(each, LoadChange)] == [700_000]


def test_overload_and_its_end_are_told_once():
    found = feed(weigher(), lines(["1.000 kg"] * 8 + ["^^^^^ kg"] * 8 + ["1.000 kg"] * 8))
    assert events(found) == [ScaleEventKind.OVERLOAD, ScaleEventKind.OVERLOAD_OVER]
    assert not any(isinstance(each, LoadChange) for each in found)


def test_underload_ends_with_back():
    found = feed(weigher(), lines(["1.000 kg"] * 8 + ["----- kg"] * 8 + ["1.000 kg"] * 8))
    assert events(found) == [ScaleEventKind.UNDERLOAD, ScaleEventKind.BACK]


def test_a_changed_unit_is_told_and_the_same_load_in_pounds_is_no_change():
    # 10.000 kg / 0.453 592 37 = 22.0462 lb
    found = feed(weigher(), lines(["10.000 kg"] * 8 + ["22.05 lb"] * 8))
    assert events(found) == [ScaleEventKind.UNIT_CHANGED]
    assert not any(isinstance(each, LoadChange) for each in found)


def test_twenty_unreadable_lines_are_told_once_and_so_is_the_first_readable_one():
    one = weigher()
    assert events(feed(one, lines(["what"] * 19))) == []
    assert events(feed(one, lines(["what"] * 30, 2.0))) == [ScaleEventKind.UNREADABLE]
    assert events(feed(one, lines(["1.000 kg"], 5.1))) == [ScaleEventKind.READABLE]
    assert one.torn == 49


def test_the_end_of_a_stream_tears_its_rest_and_reads_what_was_held_back():
    one = Weigher("bench", find_shapes("auto"), first_is_whole=True)
    assert one.feed(Chunk(1, b"ST,GS   1.234,kg\r\nST,GS   1.2")) == []
    found = one.feed(Ended(2))
    assert [type(each).__name__ for each in found] == ["Torn", "Indication"]
