"""What holds for any bytes from a scale."""

from __future__ import annotations

import re

from hypothesis import given
from hypothesis import strategies as st

from handsfree.weighing.escapes import escape, unescape
from handsfree.weighing.framing import LIMIT_BYTES, Framer
from handsfree.weighing.hid import read_report
from handsfree.weighing.messages import Frame, Indication, LoadChange, Torn
from handsfree.weighing.ports import Chunk, Ended
from handsfree.weighing.shapes import find_shapes
from handsfree.weighing.weigher import Weighed, Weigher

AUTO = find_shapes("auto")

LINES = st.sampled_from(
    [
        b"ST,GS   1.234,kg\r\n",
        b"US,GS-  0.005,kg\r\n",
        b"    1.234 kg\r\n",
        b"-  1.640 kg   ?N\n",
        b"\x02   1.234KG \r\n",
        b"\x02   1.234GSI \x03",
        b"ST,GS    85.5g  \r",
        b"^^^^^^^^^ kg\r\n",
        b"GROSS WEIGHT    1138.0\n",
    ]
)
STREAMS = st.lists(st.one_of(LINES, LINES, st.binary(max_size=40)), max_size=30).map(b"".join)


def framed(pieces: list[bytes]) -> list[tuple[type, bytes]]:
    framer = Framer("bench")
    found = [each for piece in pieces for each in framer.feed(Chunk(1, piece))]
    return [(type(each), each.data) for each in [*found, *framer.flush(1)]]


def cut(data: bytes, places: list[int]) -> list[bytes]:
    edges = sorted({place % (len(data) + 1) for place in places})
    return [data[a:b] for a, b in zip([0, *edges], [*edges, len(data)], strict=True)]


@given(STREAMS, st.lists(st.integers(0, 10_000), max_size=40))
def test_where_a_stream_is_cut_into_chunks_changes_no_frame(data: bytes, places: list[int]):
    assert framed(cut(data, places)) == framed([data])


@given(STREAMS)
def test_every_frame_lies_in_the_stream_between_two_ends(data: bytes):
    ends = re.split(rb"[\r\n\x02\x03]", data)
    for kind, found in framed([data]):
        if kind is Frame:
            assert found in ends[1:]  # the first has no known head
            assert len(found) < LIMIT_BYTES


@given(STREAMS)
def test_no_byte_but_ends_is_dropped_silently(data: bytes):
    kept = b"".join(found for _, found in framed([data]))
    assert kept == bytes(byte for byte in data if byte not in b"\r\n\x02\x03")


def weigh(pieces: list[bytes], gap_ns: int = 100_000_000) -> list[Weighed]:
    weigher = Weigher("bench", AUTO)
    found = [each for i, piece in enumerate(pieces) for each in weigher.feed(Chunk(i * gap_ns, piece))]
    return found + weigher.feed(Ended(len(pieces) * gap_ns))


@given(st.lists(st.one_of(LINES, st.binary(max_size=300)), max_size=40))
def test_any_bytes_in_give_no_exception_and_no_weight_that_was_not_in_a_whole_line(pieces: list[bytes]):
    whole = [line.decode("latin-1") for line in re.split(rb"[\r\n\x02\x03]", b"".join(pieces))]
    for each in weigh(pieces):
        if isinstance(each, Indication) and each.value_mg:
            number = each.text.split(" ")[0].lstrip("-")
            assert any(number in line for line in whole)


@given(STREAMS, st.lists(st.integers(0, 10_000), max_size=40))
def test_chunks_that_arrive_together_weigh_the_same_however_they_are_cut(data: bytes, places: list[int]):
    assert weigh(cut(data, places), gap_ns=0) == weigh([data], gap_ns=0)


@given(st.sampled_from(["12.345 kg", "ST,GS  12.345,kg", "-  1.640 kg    N", "ST,GS   106.2g  "]), st.data())
def test_a_line_cut_anywhere_is_never_read_as_a_weight(line: str, data: st.DataObject):
    at = data.draw(st.integers(1, len(line)))
    assert not any(isinstance(each, Indication) for each in weigh([line[:at].encode()]))
    assert not any(isinstance(each, Indication) for each in weigh([line[at:].encode() + b"\r\n"]))


@given(st.lists(st.integers(-200, 3_000), min_size=1, max_size=60), st.integers(1, 20))
def test_load_changes_add_up_to_the_difference_of_the_plateaus_they_name(steps: list[int], hold: int):
    """Whatever the display does, a change is the difference of two plateaus that were indicated."""
    weigher = Weigher("bench", find_shapes("number_unit"), 5_000, first_is_whole=True)
    shown = {round(step * 5_000) for step in steps}
    t_ns = 0
    for step in steps:
        for _ in range(hold):
            t_ns += 100_000_000
            for each in weigher.feed(Chunk(t_ns, f"{step * 0.005:.3f} kg\r\n".encode())):
                if isinstance(each, LoadChange):
                    assert each.delta_mg == each.after.value_mg - each.before.value_mg
                    assert abs(each.delta_mg) >= 10_000
                    assert {each.before.value_mg, each.after.value_mg} <= shown
                    assert each.before.end_ns <= each.onset_ns <= each.t_ns


@given(st.binary(max_size=10))
def test_any_report_is_an_indication_or_torn(report: bytes):
    assert isinstance(read_report(report, "bench", 0), Indication | Torn)


@given(st.binary(max_size=60))
def test_escapes_go_there_and_back(data: bytes):
    assert unescape(escape(data)) == data
    assert escape(data).isascii()
    assert escape(data).isprintable()
