"""Frames out of bytes."""

from __future__ import annotations

from handsfree.weighing.framing import LIMIT_BYTES, Framer
from handsfree.weighing.messages import Frame, Torn
from handsfree.weighing.ports import Chunk


def frames(*pieces: bytes, whole: bool = True) -> list[Frame | Torn]:
    framer = Framer("bench", first_is_whole=whole)
    return [found for i, piece in enumerate(pieces) for found in framer.feed(Chunk(i, piece))]


def whole(found: list[Frame | Torn]) -> list[bytes]:
    return [each.data for each in found if isinstance(each, Frame)]


def torn(found: list[Frame | Torn]) -> list[bytes]:
    return [each.data for each in found if isinstance(each, Torn)]


def test_cr_lf_lf_and_cr_all_end_a_line():
    assert whole(frames(b"a\r\nb\nc\rd\r\n")) == [b"a", b"b", b"c", b"d"]


def test_a_line_whose_cr_and_lf_come_in_two_chunks_is_one_frame_stamped_with_the_first():
    found = frames(b"a\r", b"\nb\r\n")
    assert whole(found) == [b"a", b"b"]
    assert [each.t_ns for each in found] == [0, 1]


def test_stx_to_etx_is_a_frame_even_at_the_start_of_a_stream_cut_in_mid_frame():
    found = frames(b"34GSI\x03\x02   1.234GSI \x03", whole=False)
    assert whole(found) == [b"   1.234GSI "]
    assert torn(found) == [b"34GSI"]


def test_a_block_begun_with_stx_may_end_with_a_line_end():
    assert whole(frames(b"\x02   1.234KG \r\n\x02   1.235KG \r\n", whole=False)) == [
        b"   1.234KG ",
        b"   1.235KG ",
    ]


def test_stx_in_mid_line_tears_the_line_before_it():
    found = frames(b"1.2\x02  1.234GSI \x03")
    assert torn(found) == [b"1.2"]
    assert whole(found) == [b"  1.234GSI "]


def test_the_first_line_of_an_unknown_stream_is_torn_because_its_head_may_be_missing():
    found = frames(b"2.345 kg\r\n12.345 kg\r\n", whole=False)
    assert torn(found) == [b"2.345 kg"]
    assert whole(found) == [b"12.345 kg"]


def test_a_stream_cut_inside_its_line_end_begins_with_a_whole_line():
    assert whole(frames(b"\n12.345 kg\r\n", whole=False)) == [b"12.345 kg"]


def test_a_rest_without_a_line_end_is_never_a_frame():
    framer = Framer("bench", first_is_whole=True)
    assert framer.feed(Chunk(1, b"12.345 kg")) == []
    (rest,) = framer.flush(2)
    assert isinstance(rest, Torn)
    assert rest.data == b"12.345 kg"
    assert framer.flush(3) == []


def test_after_a_flush_the_next_line_has_no_known_head():
    framer = Framer("bench", first_is_whole=True)
    framer.feed(Chunk(1, b"1"))
    framer.flush(2)
    assert torn(framer.feed(Chunk(3, b"2.345 kg\r\n"))) == [b"2.345 kg"]


def test_a_pause_in_mid_line_tears_it_and_what_follows_it():
    framer = Framer("bench", first_is_whole=True)
    assert framer.feed(Chunk(0, b"1")) == []
    found = framer.feed(Chunk(2_000_000_000, b"2.345 kg\r\n12.345 kg\r\n"))
    assert torn(found) == [b"1", b"2.345 kg"]
    assert whole(found) == [b"12.345 kg"]


def test_junk_without_a_line_end_is_given_up_in_bounded_pieces_and_its_tail_is_no_frame():
    found = frames(b"x" * (3 * LIMIT_BYTES + 10) + b"\r\n1 kg\r\n")
    assert [len(each.data) for each in found] == [LIMIT_BYTES, LIMIT_BYTES, LIMIT_BYTES, 10, 4]
    assert whole(found) == [b"1 kg"]


def test_empty_lines_are_nothing():
    assert frames(b"\r\n\r\n\n\n\r") == []
