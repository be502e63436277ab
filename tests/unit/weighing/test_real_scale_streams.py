"""Raw byte streams of real instruments; not part of the project, skipped where they are not at hand."""

from __future__ import annotations

import os
import re
from collections import Counter
from pathlib import Path
from typing import Any

import pytest

from handsfree.weighing.account import weigh_all
from handsfree.weighing.capture import open_capture
from handsfree.weighing.shapes import find_shapes
from handsfree.weighing.weigher import Weigher

REAL = Path(os.environ.get("HANDSFREE_REAL_DATA", Path(__file__).parents[3] / "../shared/real")) / "scale"


def weighed(name: str, shape: str = "auto", unit: str = "") -> tuple[bytes, dict[str, Any]]:
    path = REAL / name
    if not path.exists():
        pytest.skip(f"no real stream {path}")
    (transport,) = open_capture(path)
    return path.read_bytes(), weigh_all(transport, Weigher("bench", find_shapes(shape), unit=unit))


@pytest.mark.parametrize(
    ("name", "shape", "pattern"),
    [
        ("lines_st_us_gs.bin", "status_space", rb"(ST|US),GS *([0-9.]+)(g) *\r\n"),
        (
            "lines_question_mark_when_moving.bin",
            "question_mark_legend",
            rb"(?:^|(?<=\n))(.) *([0-9.]+) (kg)   [ ?][GN]\n",
        ),
    ],
)
def test_every_whole_line_of_a_real_stream_is_read_and_nothing_else(name: str, shape: str, pattern: bytes):
    data, account = weighed(name)
    assert account["shape"] == shape
    lines = [
        f"{'-' if sign == b'-' else ''}{number.decode()} {unit.decode()}"
        for sign, number, unit in re.findall(pattern, data)
    ]
    if not data.startswith(b" N"):
        lines = lines[1:]  # whether the first line has its head cannot be known
    assert [each["text"] for each in account["indications"]] == lines
    # The first line, and where the recording stops in mid-line its last.
    assert account["torn"] <= 2


def test_the_stable_flags_are_those_sent():
    data, account = weighed("lines_st_us_gs.bin")
    sent = Counter(re.findall(rb"(?<=\n)(ST|US),", data))
    seen = Counter(each["stable"] for each in account["indications"])
    assert (seen[True], seen[False]) == (sent[b"ST"], sent[b"US"])
    data, account = weighed("lines_question_mark_when_moving.bin")
    assert sum(each["stable"] is False for each in account["indications"]) == data.count(b"?")


@pytest.mark.parametrize("name", ["lines_st_us_gs.bin", "lines_question_mark_when_moving.bin"])
def test_load_changes_lead_from_the_first_stable_value_to_the_last(name: str):
    """The instruments' own flags are the judge; the tare key between two bases is no change."""
    _, account = weighed(name)
    for basis in {each["basis"] for each in account["indications"]}:
        stable = [each for each in account["indications"] if each["stable"] and each["basis"] == basis]
        first, last = stable[0], stable[-1]
        changes = [
            each["delta_g"] for each in account["load_changes"] if first["t_s"] <= each["t_s"] <= last["t_s"]
        ]
        # Sums of changes carry one d of drift at most for each of them.
        digit = 0.1 if name == "lines_st_us_gs.bin" else 5.0
        assert sum(changes) == pytest.approx(last["g"] - first["g"], abs=(len(changes) + 0.01) * digit)
    assert account["load_changes"][-1]["after"] == account["indications"][-1]["text"]


def test_a_ticket_gives_its_gross_weight_once_and_only_with_a_unit():
    data, account = weighed("ticket_blocks.bin", unit="kg")
    assert account["shape"] == "ticket_gross"
    whole = len(re.findall(rb"(?<=\n)GROSS WEIGHT +[0-9.]+\n", data))
    assert len(account["indications"]) == whole
    assert {each["unit"] for each in account["indications"]} == {"kg"}
    _, account = weighed("ticket_blocks.bin", "ticket_gross")
    assert account["indications"] == []
    assert account["torn"] >= whole


@pytest.mark.parametrize(
    "name", ["lines_st_us_gs.bin", "lines_question_mark_when_moving.bin", "ticket_blocks.bin"]
)
def test_a_real_stream_cut_at_any_byte_gives_no_weight_that_the_whole_one_has_not(name: str, tmp_path: Path):
    data, account = weighed(name, unit="kg")
    known = {each["text"] for each in account["indications"]}
    for start in range(0, 400, 7):
        part = tmp_path / "part.bin"
        part.write_bytes(data[start : start + 1200])
        (transport,) = open_capture(part)
        cut = weigh_all(transport, Weigher("bench", find_shapes(account["shape"]), unit="kg"))
        assert {each["text"] for each in cut["indications"]} <= known
