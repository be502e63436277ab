"""A shape nobody has seen, learned from lines. Each packaged shape is hidden once and is then the judge."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest

from handsfree.testing.bench_scale import BenchScale, Put, Take
from handsfree.testing.scale_text import SHAPES
from handsfree.weighing import shapes as shapes_module
from handsfree.weighing.escapes import unescape
from handsfree.weighing.learning import Heard, LearnedShape, learn_shape
from handsfree.weighing.lines import Shape, read_line
from handsfree.weighing.messages import Frame, Indication
from handsfree.weighing.shapes import packaged_shapes, read_shape

KG = 1_000_000
FOLDER = Path(shapes_module.__file__).parent / "shapes"


def learned(lines: list[Heard], tmp_path: Path) -> tuple[LearnedShape, Shape]:
    found = learn_shape(lines, 2 * KG)
    assert isinstance(found, LearnedShape), found
    file = tmp_path / "learned.toml"
    file.write_text(found.toml, "utf-8")
    return found, read_shape(file)


def both_read(
    lines: list[Heard], packaged: Shape, own: Shape, unit: str
) -> list[tuple[Indication, Indication]]:
    pairs = []
    for each in lines:
        frame = Frame(each.t_ns, "", each.text.encode("latin-1"))
        a, b = read_line(frame, packaged, unit), read_line(frame, own, unit)
        assert isinstance(a, Indication), (each, a)
        assert isinstance(b, Indication), (each, b)
        pairs.append((a, b))
    return pairs


@pytest.mark.parametrize("name", sorted(SHAPES))
def test_a_generated_stream_reads_as_its_hidden_shape_reads_it(name: str, tmp_path: Path):
    scale = BenchScale("bench", 1, 6, 10, name, 3)
    sent = scale.run([Put(3, 2000), Take(7, 2000)], 11)
    lines = [Heard(round(t * 1e9), line.strip("\r\n\x02\x03")) for t, line in sent]
    found, own = learned(lines, tmp_path)
    assert (found.unit, found.decimals, found.lines, found.of) == ("kg", 3, len(lines), len(lines))
    for a, b in both_read(lines, packaged_shapes()[name], own, "kg"):
        assert (a.value_mg, a.unit, a.stable) == (b.value_mg, b.unit, b.stable)


#: Not learned from lines: two numbers together (pounds and ounces), hexadecimal reports, frames without line
#: ends or with a check character. Those are packaged.
NOT_FROM_LINES = {"pounds_ounces", "hid_report", "fixed_equals", "block_check"}


@pytest.mark.parametrize(
    "path", sorted(p for p in FOLDER.glob("*.toml") if p.stem not in NOT_FROM_LINES), ids=lambda p: p.stem
)
def test_a_hidden_shapes_own_example_with_other_weights_is_read_the_same(path: Path, tmp_path: Path):
    shape = packaged_shapes()[path.stem]
    data = tomllib.loads(path.read_text("utf-8"))
    example = next(
        e for e in data["example"] if e.get("condition", "normal") == "normal" and "-" not in e["number"]
    )
    text = unescape(example["line"]).decode("latin-1")
    unit = example["unit"]
    match = next(m for p in shape.patterns if (m := p.fullmatch(text)))
    values = [0.0] * 20 + [0.2, 1.1, 1.7] + [2.0] * 20 + [1.4, 0.3] + [0.0] * 20
    lines = []
    for i, kilograms in enumerate(values):
        # The mass in the example's own unit: kg or a thousand of it.
        shown = kilograms * (1000 if unit == "g" else 1)
        number = f"{shown:.{len(example['number'].partition('.')[2])}f}".replace(".", shape.decimal)
        width = match.end("number") - match.start("number")
        edits = [(match.span("number"), number.rjust(width))]
        tokens = {still: word for word, still in reversed(shape.stable.items())}
        if "status" in match.groupdict() and len(tokens) == 2:
            still = i < 20 or 26 <= i < 43 or i >= 49
            edits.append((match.span("status"), tokens[still]))
        line = text
        for (start, end), new in sorted(edits, reverse=True):
            line = line[:start] + new + line[end:]
        lines.append(Heard(i * 100_000_000, line))
    lines = [
        each
        for each in lines
        if isinstance(read_line(Frame(0, "", each.text.encode("latin-1")), shape, unit), Indication)
    ]
    mass_mg = 2 * KG if unit in {"g", "kg"} else round(2 * 453592.37)
    found = learn_shape(lines, mass_mg)
    assert isinstance(found, LearnedShape), found
    file = tmp_path / "learned.toml"
    file.write_text(found.toml, "utf-8")
    for a, b in both_read(lines, shape, read_shape(file), unit):
        assert (a.value_mg, a.unit, a.stable) == (b.value_mg, b.unit, b.stable)


def test_lines_without_the_mass_in_them_teach_nothing():
    lines = [Heard(i, f"{i} kg") for i in range(40)]
    assert isinstance(learn_shape(lines, 2 * KG), str)
    assert "too few" in str(learn_shape(lines[:3], 2 * KG))


def test_dates_and_other_lines_between_are_left_out_and_counted(tmp_path: Path):
    lines = []
    for i in range(60):
        grams = 2000 if 20 <= i < 40 else 0
        lines += [Heard(i * 10**8, "DATE 25/11/26"), Heard(i * 10**8, f"WEIGHT {grams:6d} g")]
    found, own = learned(lines, tmp_path)
    assert (found.lines, found.of, found.unit) == (60, 120, "g")
    assert isinstance(read_line(Frame(0, "", b"WEIGHT   1500 g"), own), Indication)
    assert not isinstance(read_line(Frame(0, "", b"DATE 25/11/26"), own), Indication)
    assert any("nothing in the lines goes with motion" in each for each in found.could_not_tell)
    assert re.search("overload was not seen", " ".join(found.could_not_tell))
