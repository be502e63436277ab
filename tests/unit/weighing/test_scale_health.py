"""Noisy lines, stuck values, values out of range; and no false alarm on any real or generated stream."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from handsfree.testing.bench_scale import BenchEvent, BenchScale, Drip, Put, Take, TareKey, Touch
from handsfree.testing.scripted_scale import chunks_of
from handsfree.weighing.capture import open_capture
from handsfree.weighing.messages import Condition, Indication, LoadChange, ScaleEvent
from handsfree.weighing.messages import ScaleEventKind as Kind
from handsfree.weighing.ports import Chunk, Ended, Nothing
from handsfree.weighing.shapes import find_shapes, read_shape
from handsfree.weighing.weigher import Weighed, Weigher

REAL = Path(os.environ.get("HANDSFREE_REAL_DATA", Path(__file__).parents[3] / "../shared/real")) / "scale"
S = 1_000_000_000
KG = 1_000_000


def weigher(max_kg: int | None = None, d_mg: int = 5_000) -> Weigher:
    max_mg = None if max_kg is None else max_kg * KG
    return Weigher("bench", find_shapes("number_unit"), d_mg, first_is_whole=True, max_mg=max_mg)


def feed(one: Weigher, texts: list[str], start_s: float = 0.0) -> list[Weighed]:
    found: list[Weighed] = []
    for i, text in enumerate(texts, 1):
        found += one.feed(Chunk(round((start_s + i / 10) * S), f"{text}\r\n".encode()))
    return found


def kinds(found: list[Weighed] | list[ScaleEvent]) -> list[Kind]:
    return [each.kind for each in found if isinstance(each, ScaleEvent)]


def changes_g(found: list[Weighed]) -> list[int]:
    return [each.delta_mg // 1000 for each in found if isinstance(each, LoadChange)]


def test_a_line_that_tears_every_third_frame_is_told_once_and_so_is_its_end():
    one = weigher()
    assert kinds(feed(one, ["1.000 kg", "1.000 kg", "1.0#0 kg"] * 40)) == [Kind.NOISY]
    assert kinds(feed(one, ["1.000 kg"] * 200, 12.0)) == [Kind.CLEAN]


def test_a_torn_line_now_and_then_is_no_news():
    assert kinds(feed(weigher(), (["1.000 kg"] * 9 + ["1.0#0 kg"]) * 60)) == []


def test_a_line_that_could_not_be_read_for_a_while_is_not_called_noisy_too():
    found = feed(weigher(), ["1.000 kg"] * 20 + ["what"] * 60 + ["1.000 kg"] * 60)
    assert kinds(found) == [Kind.UNREADABLE, Kind.READABLE]


def test_two_pieces_called_while_no_digit_moved_make_the_value_stuck_until_it_moves():
    one = weigher()
    feed(one, ["1.000 kg"] * 50)
    assert kinds(one.expected(5 * S)) == []
    feed(one, ["1.000 kg"] * 50, 5.0)
    assert kinds(one.expected(10 * S)) == [Kind.STUCK]
    assert kinds(one.expected(11 * S)) == []
    assert kinds(feed(one, ["1.000 kg"] * 5 + ["1.005 kg"] * 5, 11.0)) == [Kind.MOVES]


def test_a_digit_between_two_calls_is_life():
    one = weigher()
    feed(one, ["1.000 kg"] * 50)
    one.expected(5 * S)
    feed(one, ["1.005 kg", "1.000 kg"] * 5, 5.0)
    assert kinds(one.expected(7 * S)) == []


def test_a_silent_scale_is_not_called_stuck_as_well():
    one = weigher()
    feed(one, ["1.000 kg"] * 50)
    assert kinds(one.feed(Nothing(20 * S))) == [Kind.SILENT]
    assert kinds(one.expected(21 * S)) + kinds(one.expected(22 * S)) == []


# Max 30 kg, d 1 g in the digits: OIML R 76-1:2006 4.2.3 allows 30.009 kg and nothing above.
def test_above_max_and_nine_intervals_is_overload_even_when_the_scale_does_not_say_so():
    texts = ["29.000 kg"] * 8 + ["30.009 kg"] * 8 + ["30.010 kg"] * 8 + ["29.000 kg"] * 8
    found = feed(weigher(30, 1_000), texts)
    assert kinds(found) == [Kind.OVERLOAD, Kind.OVERLOAD_OVER]
    assert changes_g(found) == [1009, -1009]


def test_a_value_far_out_of_range_is_implausible_and_nothing_is_weighed_with_it():
    found = feed(weigher(30), ["1.000 kg"] * 8 + ["901.000 kg"] * 20 + ["1.000 kg"] * 8)
    assert kinds(found) == [Kind.IMPLAUSIBLE, Kind.PLAUSIBLE]
    assert changes_g(found) == []
    assert kinds(feed(weigher(30), ["1.000 kg"] * 8 + ["-31.000 kg"] * 3)) == [Kind.IMPLAUSIBLE]


def test_one_wrong_digit_is_passed_over_without_a_word():
    found = feed(weigher(30), (["1.000 kg"] * 8 + ["91.000 kg"]) * 5)
    assert kinds(found) == []
    assert changes_g(found) == []
    assert [each.condition for each in found if isinstance(each, Indication)].count(Condition.BLANK) == 5


def test_without_a_capacity_nothing_is_judged():
    assert kinds(feed(weigher(), ["1.000 kg"] * 8 + ["901.000 kg"] * 8)) == []


def zero_on_overload(folder: Path) -> Weigher:
    path = folder / "own.toml"
    path.write_text(
        "zero_on_overload = true\n[[line]]\npattern = '(?P<number>-?[0-9.]+)(?P<unit>kg)'\n"
        '[[example]]\nline = \'1.234kg\'\nnumber = "1.234"\nunit = "kg"\n'
    )
    return Weigher("bench", (read_shape(path),), 5_000, first_is_whole=True, max_mg=15 * KG)


def test_zero_shown_for_overload_is_no_empty_pan(tmp_path: Path):
    up = ["2.000kg"] * 10 + ["5.100kg", "9.800kg", "14.200kg"] + ["00.000kg"] * 20
    down = ["14.000kg", "6.000kg"] + ["2.000kg"] * 10
    found = feed(zero_on_overload(tmp_path), up + down)
    assert kinds(found) == [Kind.OVERLOAD, Kind.OVERLOAD_OVER]
    assert changes_g(found) == []


def test_a_heavy_load_that_stood_and_is_lifted_off_leaves_an_empty_pan(tmp_path: Path):
    texts = ["0.000kg"] * 10 + ["14.200kg"] * 30 + ["0.000kg"] * 10
    found = feed(zero_on_overload(tmp_path), texts)
    assert kinds(found) == []
    assert changes_g(found) == [14_200, -14_200]


def test_power_save_and_wake_lose_no_load_change():
    one = weigher()
    feed(one, ["1.000 kg"] * 20)
    assert kinds(one.feed(Nothing(60 * S))) == [Kind.SILENT]
    found = feed(one, ["0.000 kg", "0.800 kg"] + ["1.500 kg"] * 10, 60.0)
    assert kinds(found) == [Kind.BACK]
    assert changes_g(found) == [500]


@pytest.mark.parametrize(
    ("name", "wanted"),
    [
        # 106 g of 85.5 g: a tare key and units stay; nothing is wrong with this scale.
        ("lines_st_us_gs.bin", set()),
        ("lines_question_mark_when_moving.bin", set()),
        ("ticket_blocks.bin", set()),
    ],
)
def test_no_real_stream_raises_an_alarm(name: str, wanted: set[Kind]):
    path = REAL / name
    if not path.exists():
        pytest.skip(f"no real stream {path}")
    (transport,) = open_capture(path)
    one, found = Weigher("bench", find_shapes("auto"), unit="kg", max_mg=1500 * KG), []
    while not isinstance(received := transport.receive(0.0), Ended):
        found += one.feed(received)
    assert set(kinds(found)) == wanted


@pytest.mark.parametrize("seed", range(12))
def test_no_normal_session_raises_an_alarm(seed: int):
    shape = ("status_comma", "number_unit", "question_mark", "status_space")[seed % 4]
    flag = ("honest", "stuck stable", "stuck moving")[seed % 3]
    scale = BenchScale("bench", 5, 15, (1, 5, 10, 20)[seed % 4], shape, seed, noise_d=0.3, flag=flag)  # type: ignore[arg-type]
    events: list[BenchEvent] = [TareKey(3.0)]
    for i in range(6):
        events += [Put(5 + 8 * i, 400 + 900 * i), Touch(8 + 8 * i, 0.4, 700), Take(10 + 8 * i, 400 + 900 * i)]
    events += [Put(54, 2000), Drip(56, 10, 1.0)]
    one = Weigher("bench", find_shapes("auto"), max_mg=15 * KG)
    found = [each for chunk in chunks_of(scale.run(events, 70)) for each in one.feed(chunk)]
    assert kinds(found) == []
