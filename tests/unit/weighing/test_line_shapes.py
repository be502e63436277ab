"""Line shapes: packaged files, their twins, and the faults of a user's own file."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

import handsfree.weighing
from handsfree.errors import ShapeError
from handsfree.testing.scale_text import SHAPES
from handsfree.weighing.escapes import unescape
from handsfree.weighing.lines import Aside, read_line
from handsfree.weighing.messages import Basis, Condition, Frame, Indication, Torn
from handsfree.weighing.shapes import find_shapes, packaged_shapes, read_shape

FOLDER = Path(handsfree.weighing.__file__).parent / "shapes"
PACKAGED = packaged_shapes()
#: Shapes of free width: only framing guards them against a cut line.
FREE = {"number_unit", "number_comma_unit", "ticket_gross", "status_space"}
FREE |= {"number_only", "pounds_ounces", "legend_number_unit"}
FILES = sorted(FOLDER.glob("*.toml"))


def twins(kind: str) -> list[tuple[str, dict[str, object]]]:
    found = []
    for path in FILES:
        data = tomllib.loads(path.read_text())
        if kind == "example":
            found += [(path.stem, entry) for entry in data["example"]]
        else:
            found += [(path.stem, {"line": line}) for line in data.get("refuse", {}).get("lines", [])]
    return found


def read(shape: str, line: str, unit: str = "") -> Indication | Aside | Torn:
    return read_line(Frame(7, "bench", unescape(line)), PACKAGED[shape], unit)


@pytest.mark.parametrize(("shape", "twin"), twins("example"))
def test_every_example_reads_as_its_twin_says(shape: str, twin: dict[str, object]):
    found = read(shape, str(twin["line"]), str(twin.get("unit_set", "")))
    assert isinstance(found, Indication), found
    condition = Condition(str(twin.get("condition", "normal")))
    assert (found.condition, found.stable) == (condition, twin.get("stable"))
    assert found.basis is Basis(str(twin.get("basis", "gross")))
    if condition is Condition.NORMAL:
        assert found.text == f"{twin['number']} {twin['unit']}"


@pytest.mark.parametrize(("shape", "twin"), twins("refuse"))
def test_every_line_to_be_refused_is_torn(shape: str, twin: dict[str, object]):
    assert isinstance(read(shape, str(twin["line"])), Torn)


@pytest.mark.parametrize(("shape", "twin"), [twin for twin in twins("example") if twin[0] not in FREE])
def test_no_line_of_fixed_columns_gives_another_number_when_it_is_cut(shape: str, twin: dict[str, object]):
    """A cut line is torn by framing; here a shape of fixed columns refuses it a second time."""
    line = str(twin["line"])
    unit = str(twin.get("unit_set", ""))
    complete = read(shape, line, unit)
    for cut in range(1, len(line)):
        for part in (line[cut:], line[:cut]):
            found = read(shape, part, unit)
            if isinstance(found, Indication):
                assert isinstance(complete, Indication)
                assert found.value_mg == complete.value_mg


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_every_shape_file_has_examples_and_lines_to_refuse(path: Path):
    data = tomllib.loads(path.read_text())
    assert len(data["example"]) >= 2
    assert len(data["refuse"]["lines"]) >= 2


def test_every_shape_the_generated_scale_speaks_is_packaged():
    assert SHAPES.keys() <= PACKAGED.keys()


# Milligrams by hand: 1 lb = 453.592 37 g exactly, 1 oz = 1/16 lb (Weights and Measures Act 1985 s. 1).
@pytest.mark.parametrize(
    ("line", "value_mg", "interval_mg"),
    [
        ("1.235 kg", 1_235_000, 1_000),
        ("-0.5 g", -500, 100),
        ("12 g", 12_000, 1_000),
        ("2.00 lb", 907_185, 4_536),
        ("16.0 oz", 453_592, 2_835),
        ("-0.000 kg", 0, 1_000),
        ("007.50 kg", 7_500_000, 10_000),
    ],
)
def test_a_number_is_exact_milligrams_and_carries_its_last_digit(line: str, value_mg: int, interval_mg: int):
    found = read("number_unit", line)
    assert isinstance(found, Indication)
    assert (found.value_mg, found.interval_mg) == (value_mg, interval_mg)
    assert (found.t_ns, found.scale) == (7, "bench")


def test_a_line_without_a_unit_needs_one_to_be_set():
    assert isinstance(read("block_letters", "   1.234GSI ", "kg"), Indication)
    refused = read("block_letters", "   1.234GSI ")
    assert isinstance(refused, Torn)
    assert "unit" in refused.reason


def test_the_other_lines_of_a_ticket_are_neither_weights_nor_torn():
    for line in (
        "NET WEIGHT        21.5",
        "TARE      1116.5",
        "SET P1(W)       0.0",
        r"STATUS \x83*",
        "SCALE NO 1",
    ):
        assert isinstance(read("ticket_gross", line, "g"), Aside)


def test_high_bits_hint_at_the_port_settings():
    found = read("number_unit", r"\xb1.234 kg")
    assert isinstance(found, Torn)
    assert "parity" in found.reason


def test_auto_gives_every_packaged_shape_and_a_name_gives_one():
    assert len(find_shapes("auto")) == len(FILES)
    assert [shape.name for shape in find_shapes("status_comma")] == ["status_comma"]


def test_an_unknown_shape_lists_the_known_ones():
    with pytest.raises(ShapeError, match=r"no line shape 'nonesuch'.*status_comma"):
        find_shapes("nonesuch")


GOOD = """\
about = "W 1.234 kg"
request = 'P\\r\\n'
[[line]]
pattern = 'W *(?P<number>[0-9.]+) (?P<unit>kg|g)'
[[example]]
line = 'W 1.234 kg'
number = "1.234"
unit = "kg"
"""


def test_a_users_own_shape_is_a_file(tmp_path: Path):
    path = tmp_path / "rail.toml"
    path.write_text(GOOD)
    (shape,) = find_shapes(str(path))
    assert (shape.name, shape.request) == ("rail", b"P\r\n")


def test_all_faults_of_a_shape_file_are_told_with_their_lines(tmp_path: Path):
    path = tmp_path / "rail.toml"
    path.write_text(
        'abuot = "x"\ndecimal = ";"\n'
        "[[line]]\npattern = '(?P<numbr>[0-9]+'\n"
        '[condition]\nX = "gone"\n'
        '[[example]]\nline = \'W 1\'\nnumber = "1"\nunit = "kg"\n'
    )
    with pytest.raises(ShapeError) as caught:
        read_shape(path)
    said = str(caught.value)
    for line, what in ((1, "abuot"), (2, "decimal"), (4, "regular expression"), (6, "gone"), (8, "W 1")):
        assert f"{path}:{line}: " in said
        assert what in said


def test_a_shape_whose_example_reads_otherwise_is_refused(tmp_path: Path):
    path = tmp_path / "rail.toml"
    path.write_text(GOOD.replace('number = "1.234"', 'number = "1.235"'))
    with pytest.raises(ShapeError, match=r"rail\.toml:6: the example 'W 1\.234 kg' reads as"):
        read_shape(path)


@pytest.mark.parametrize("text", ["about = ", "\xff", "line = 3", "[line]\nx = 1"])
def test_a_file_that_is_no_shape_is_a_shape_error(tmp_path: Path, text: str):
    path = tmp_path / "rail.toml"
    path.write_bytes(text.encode("latin-1"))
    with pytest.raises(ShapeError, match=r"rail\.toml"):
        read_shape(path)


def test_a_missing_shape_file_is_a_shape_error(tmp_path: Path):
    with pytest.raises(ShapeError, match="No such file"):
        find_shapes(str(tmp_path / "none.toml"))
