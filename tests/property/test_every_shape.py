"""What holds for every packaged shape, whatever happens to the bytes on the way."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

import handsfree.weighing
from handsfree.weighing.escapes import unescape
from handsfree.weighing.hid import report_line
from handsfree.weighing.lines import Aside, Shape, read_line
from handsfree.weighing.messages import Frame, Indication, LoadChange, Plateau, ScaleEvent, Torn
from handsfree.weighing.ports import Chunk, Ended, Lost, Nothing, Received
from handsfree.weighing.shapes import packaged_shapes
from handsfree.weighing.weigher import Weigher

FOLDER = Path(handsfree.weighing.__file__).parent / "shapes"
SHAPES = packaged_shapes()
NAMES = sorted(SHAPES)
CHECKED = [name for name in NAMES if SHAPES[name].framing.check]


def lines_of(name: str) -> list[bytes]:
    data = tomllib.loads((FOLDER / f"{name}.toml").read_text(encoding="utf-8"))
    return [unescape(entry["line"]) for entry in data["example"]]


def wire(shape: Shape, content: bytes) -> bytes:
    """The bytes on the line, reckoned here and not by the code under test."""
    framing = shape.framing
    if framing.kind == "fixed":
        return content
    if framing.kind == "line":
        return content + b"\r\n"
    covered, code = content + b"\x03", 0
    for byte in covered:
        code ^= byte
    return b"\x02" + covered + bytes([code])


def said(name: str, stream: bytes, pieces: int = 5) -> list[tuple[object, ...]]:
    """Everything indicated in a stream that begins and ends anywhere."""
    weigher = Weigher("bench", (SHAPES[name],), unit="kg")
    found = []
    for i in range(0, len(stream), pieces):
        found += weigher.feed(Chunk(i * 1000, stream[i : i + pieces]))
    found += weigher.feed(Ended(len(stream) * 1000))
    return [
        (each.text, each.value_mg, each.stable, each.basis, each.condition)
        for each in found
        if isinstance(each, Indication)
    ]


def is_part(part: list[tuple[object, ...]], whole: list[tuple[object, ...]]) -> bool:
    """Whether one is a piece of the other without gaps."""
    n = len(part)
    return any(whole[i : i + n] == part for i in range(len(whole) - n + 1))


def stream_of(name: str) -> bytes:
    lines = lines_of(name)
    return b"".join(wire(SHAPES[name], line) for line in (lines * 6)[:12])


@pytest.mark.parametrize("name", NAMES)
@settings(max_examples=40)
@given(st.integers(0, 400), st.integers(0, 400), st.integers(1, 30))
def test_a_stream_cut_at_both_ends_gives_a_piece_of_what_the_whole_one_gives(
    name: str, head: int, tail: int, pieces: int
):
    stream = stream_of(name)
    part = stream[head : max(head, len(stream) - tail)]
    if name == "address_status":
        # Without an address the scale that is heard first is the one; here either.
        known = set(said(name, stream)) | {
            (read.text, read.value_mg, read.stable, read.basis, read.condition)
            for line in lines_of(name)
            if isinstance(read := read_line(Frame(0, "", line), SHAPES[name]), Indication)
        }
        assert set(said(name, part, pieces)) <= known
        return
    assert is_part(
        said(name, part, pieces), said(name, b"\r\n" + stream)
    )  # the end before gives the first line its head


@pytest.mark.parametrize("name", CHECKED)
@settings(max_examples=200)
@given(st.integers(0, 10_000), st.integers(0, 7))
@example(0, 0)
def test_one_bit_turned_over_behind_a_check_character_gives_no_weight_that_was_not_sent(
    name: str, at: int, bit: int
):
    stream = bytearray(stream_of(name))
    stream[at % len(stream)] ^= 1 << bit
    sent = set(said(name, stream_of(name)))
    got = said(name, bytes(stream))
    assert set(got) <= sent
    assert len(got) >= 12 - 2


@pytest.mark.parametrize("name", CHECKED)
@given(st.binary(max_size=40), st.integers(0, 11))
def test_junk_between_checked_blocks_gives_no_weight_that_was_not_sent(name: str, junk: bytes, at: int):
    lines = (lines_of(name) * 6)[:12]
    blocks = [wire(SHAPES[name], line) for line in lines]
    stream = b"".join([*blocks[:at], junk, *blocks[at:]])
    assert set(said(name, stream)) <= set(said(name, b"".join(blocks)))


RECEIVED = st.one_of(
    st.builds(Chunk, st.integers(-(10**10), 10**11), st.binary(max_size=60)),
    st.builds(Nothing, st.integers(-(10**10), 10**11)),
    st.builds(Lost, st.integers(0, 10**11), st.just("gone")),
)


@pytest.mark.parametrize("name", [*NAMES, "auto"])
@settings(max_examples=25)
@given(st.data())
def test_any_bytes_at_any_time_are_messages_and_never_an_exception(name: str, data: st.DataObject):
    known = [wire(SHAPES[n], line) for n in (NAMES if name == "auto" else [name]) for line in lines_of(n)]
    sent: st.SearchStrategy[Received] = st.one_of(
        RECEIVED, st.builds(Chunk, st.integers(0, 10**11), st.sampled_from(known))
    )
    weigher = Weigher(
        "bench", tuple(SHAPES.values()) if name == "auto" else (SHAPES[name],), max_mg=15_000_000
    )
    for received in data.draw(st.lists(sent, max_size=40)):
        for each in weigher.feed(received):
            assert isinstance(each, Indication | Plateau | LoadChange | ScaleEvent | Torn)
        weigher.expected(received.t_ns)


@given(st.binary(min_size=1, max_size=64))
def test_any_usb_report_is_a_weight_no_weight_or_torn(report: bytes):
    line = report_line(report).rstrip()
    read = read_line(Frame(0, "bench", line), SHAPES["hid_report"])
    assert isinstance(read, Indication | Aside | Torn)
    if isinstance(read, Indication):
        # The weight is the two last bytes, the lower one first, times a power of ten.
        assert len(report) == 6
        digits = str(int.from_bytes(report[4:], "little"))
        assert read.value_mg == 0 or digits.rstrip("0") in read.text.replace(".", "")
