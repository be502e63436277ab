"""Blocks with a check character and frames of a fixed width."""

from __future__ import annotations

from pathlib import Path

import pytest

from handsfree.errors import ShapeError
from handsfree.weighing.framings import Check, Framing, cutter
from handsfree.weighing.messages import Frame, Indication, ScaleEvent, Torn
from handsfree.weighing.ports import Chunk, Ended
from handsfree.weighing.shapes import find_shapes, read_shape
from handsfree.weighing.weigher import Weighed, Weigher

BLOCK = Framing("block", b"\x02", b"\x03", after_end=1, check=Check("xor", "byte", end=b"\x03"))
HEX = Framing("block", b"\x02", b"\x03", after_end=2, check=Check("sum", "hex", b"\x02", b"\x03"))
FIXED = Framing("fixed", b"+-", length=9)


def cut(framing: Framing, *pieces: bytes, step_ns: int = 1) -> tuple[list[bytes], list[bytes]]:
    """Whole frames, torn bytes."""
    one = cutter("bench", framing)
    found = [each for i, piece in enumerate(pieces) for each in one.feed(Chunk(i * step_ns, piece))]
    whole = [each.data for each in found if isinstance(each, Frame)]
    return whole, [each.data for each in found if isinstance(each, Torn)]


# By hand: "12" is 0x31 ^ 0x32 = 0x03, with ETX 0x03 ^ 0x03 = 0x00; "13" gives 0x31 ^ 0x33 ^ 0x03 = 0x01.
def test_a_check_character_is_the_exclusive_or_up_to_and_with_etx():
    assert cut(BLOCK, b"\x0212\x03\x00\x0213\x03\x01") == ([b"12", b"13"], [])


# By hand: 0x02 + 0x31 + 0x32 + 0x03 = 0x68; digits may be small letters.
def test_a_sum_may_be_spelled_in_hexadecimal():
    assert cut(HEX, b"\x0212\x0368\x0212\x0368") == ([b"12", b"12"], [])
    # 0x02 + 0x4B + 0x67 + 0x03 = 0xB7
    assert cut(HEX, b"\x02Kg\x03b7") == ([b"Kg"], [])


def test_a_wrong_check_character_tears_its_frame_and_no_other():
    assert cut(BLOCK, b"\x0213\x03\x00\x0212\x03\x00") == ([b"12"], [b"13\x00"])


# "1" ^ "0" ^ ETX = 0x31 ^ 0x30 ^ 0x03 = 0x02, an STX; "3" ^ "3" ^ ETX = 0x03, an ETX;
# "<" ^ "2" ^ ETX = 0x3C ^ 0x32 ^ 0x03 = 0x0D (a CR).
@pytest.mark.parametrize(("content", "code"), [(b"10", b"\x02"), (b"<2", b"\x0d"), (b"33", b"\x03")])
def test_a_check_character_may_look_like_a_mark(content: bytes, code: bytes):
    frame = b"\x02" + content + b"\x03" + code
    assert cut(BLOCK, frame * 3) == ([content] * 3, [])
    assert cut(BLOCK, *(bytes([byte]) for byte in frame * 3)) == ([content] * 3, [])


def test_what_stands_outside_a_block_is_torn_and_never_a_frame():
    assert cut(BLOCK, b"34GS\x03\x00junk\r\n\x0212\x03\x00") == ([b"12"], [b"34GS", b"\x00junk"])


def test_a_block_may_hold_line_ends():
    # 0x31 ^ 0x0D ^ 0x0A ^ 0x32 ^ 0x03 = 0x07
    assert cut(BLOCK, b"\x021\r\n2\x03\x07") == ([b"1\r\n2"], [])


def test_a_new_block_tears_the_one_before():
    assert cut(BLOCK, b"\x021\x0212\x03\x00") == ([b"12"], [b"1"])


def test_a_pause_tears_a_block_and_its_tail():
    whole, torn = cut(BLOCK, b"\x021", b"2\x03\x00\x0212\x03\x00", step_ns=2_000_000_000)
    assert (whole, torn) == ([b"12"], [b"1", b"2", b"\x00"])


def test_frames_of_a_fixed_width_are_found_from_the_middle_on():
    stream = b".234kg+01.234kg-00.250kg+1.236kg+01.237kg"
    assert cut(FIXED, stream) == (
        [b"+01.234kg", b"-00.250kg", b"+01.237kg"],
        [b".234kg", b"+1.236kg"],
    )


def test_endless_junk_is_given_up_in_bounded_pieces():
    for framing in (BLOCK, FIXED):
        whole, torn = cut(framing, b"x" * 1000)
        assert whole == []
        assert 0 < max(len(each) for each in torn) <= 256


def weigh(stream: bytes, shape: str, **settings: object) -> list[Weighed]:
    weigher = Weigher("bench", find_shapes(shape), **settings)  # type: ignore[arg-type]
    found: list[Weighed] = []
    for i in range(0, len(stream), 7):
        found += weigher.feed(Chunk(i * 1_000_000, stream[i : i + 7]))
    return found + weigher.feed(Ended(len(stream) * 1_000_000))


def block(text: str) -> bytes:
    code = 0x03
    for byte in text.encode():
        code ^= byte
    return b"\x02" + text.encode() + b"\x03" + bytes([code])


@pytest.mark.parametrize("shape", ["auto", "block_check"])
def test_blocks_with_a_check_character_are_found_by_themselves(shape: str):
    stream = b"".join(block(f"{i / 1000:8.3f}kgGS") for i in range(1, 20))
    found = weigh(stream[3:], shape)
    assert [each.value_mg for each in found if isinstance(each, Indication)] == [
        i * 1000 for i in range(2, 20)
    ]


def test_a_flipped_bit_behind_a_check_character_gives_no_weight():
    stream = bytearray(b"".join(block(f"{i / 1000:8.3f}kgGS") for i in range(1, 20)))
    at = stream.index(b"0.010") + 4
    stream[at] ^= 0x01
    found = weigh(bytes(stream), "auto")
    values = [each.value_mg for each in found if isinstance(each, Indication)]
    assert values == [i * 1000 for i in range(1, 20) if i != 10]
    assert any(isinstance(each, Torn) and "check character" in each.reason for each in found)


def test_frames_without_anything_between_them_are_found_by_themselves():
    stream = b"".join(b"=%8.3f" % (i / 1000) for i in range(20))
    found = weigh(stream, "auto", unit="kg")
    assert [each.value_mg for each in found if isinstance(each, Indication)] == [i * 1000 for i in range(20)]
    assert not any(isinstance(each, ScaleEvent) for each in found)


def two_scales(first: int, second: int) -> bytes:
    lines = [f"{n:02d},ST,GS,+{g / 1000:7.3f},kg\r\n" for n, g in ((1, first), (2, second))]
    return "".join(lines).encode()


def test_two_scales_on_one_wire_are_told_apart_by_their_numbers():
    stream = b"".join(two_scales(i, 1000 + i) for i in range(20))
    for shape in ("auto", "address_status"):
        for address, first in (("01", 0), ("02", 1000)):
            found = weigh(stream, shape, address=address, first_is_whole=True)
            got = [each.value_mg // 1000 for each in found if isinstance(each, Indication)]
            assert got == list(range(first, first + 20))
            assert not any(isinstance(each, Torn | ScaleEvent) for each in found)


def test_two_scales_on_one_wire_are_never_mixed_when_no_number_is_set():
    found = weigh(b"".join(two_scales(i, 1000 + i) for i in range(20)), "auto")
    assert {each.address for each in found if isinstance(each, Indication)} == {"02"}  # the first was torn
    assert any(isinstance(each, Torn) and "set address" in each.reason for each in found)


def test_a_scale_whose_neighbour_talks_on_is_silent_all_the_same():
    weigher = Weigher("bench", find_shapes("address_status"), address="01", first_is_whole=True)
    found = weigher.feed(Chunk(0, two_scales(5, 6)))
    for i in range(1, 40):
        found += weigher.feed(Chunk(i * 100_000_000, b"02,ST,GS,+  0.006,kg\r\n"))
    assert [each.kind.value for each in found if isinstance(each, ScaleEvent)] == ["silent"]


# 5 lb 3.2 oz = 83.2 oz = 83.2 * 28.349523125 g = 2358.680324 g (1 oz = 1/16 of 453.59237 g).
def test_pounds_and_ounces_are_exact():
    found = weigh(b"  5 lb  3.2 oz\r\n" * 6, "auto")
    values = {each.value_mg for each in found if isinstance(each, Indication)}
    assert values == {2_358_680}


def test_a_zero_with_a_minus_may_mean_below_zero(tmp_path: Path):
    path = tmp_path / "own.toml"
    path.write_text(
        "negative_zero = \"underload\"\n[[line]]\npattern = ' *(?P<number>-?[0-9.]+)(?P<unit>kg)'\n"
        '[[example]]\nline = \'1.234kg\'\nnumber = "1.234"\nunit = "kg"\n'
        '[[example]]\nline = \'-00.000kg\'\ncondition = "underload"\nunit = "kg"\n'
    )
    assert read_shape(path).negative_zero.value == "underload"


def test_all_faults_of_a_framing_are_told(tmp_path: Path):
    path = tmp_path / "own.toml"
    path.write_text(
        '[frame]\nkind = "block"\nstart = \'\\x02\'\nlenght = 3\n[check]\nkind = "crc"\n'
        "[[line]]\npattern = '(?P<number>[0-9.]+)(?P<unit>kg)'\n"
        '[[example]]\nline = \'1kg\'\nnumber = "1"\nunit = "kg"\n'
        "[[wire]]\nbytes = '\\x021kg\\x03'\nlines = ['2kg']\n"
    )
    with pytest.raises(
        ShapeError, match=r"lenght.*a start and an end.*'crc' is none of xor, sum.*is cut into"
    ):
        read_shape(path)
