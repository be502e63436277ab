"""`handsfree scale learn` on recorded and generated streams: settings written, doubts said."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from click.testing import CliRunner

from handsfree.cli.group import group
from handsfree.config import Config, load_config
from handsfree.testing.bench_scale import BenchScale, Put, Take
from handsfree.weighing.capture import open_capture
from handsfree.weighing.messages import Indication
from handsfree.weighing.shapes import find_shapes
from handsfree.weighing.weigher import Weigher
from handsfree.wiring import scale_learning

REAL = Path(os.environ.get("HANDSFREE_REAL_DATA", Path(__file__).parents[3] / "../shared/real")) / "scale"


def capture(tmp_path: Path, shape: str, edit: tuple[str, str] = ("", "")) -> Path:
    scale = BenchScale("bench", 5, 15, 10, shape, 3)
    file = tmp_path / "learn.csv"
    lines = scale.run([Put(4, 2000), Take(9, 2000)], 14)
    rows = [f'{t},bench,"{line.replace(*edit).encode("unicode_escape").decode()}"' for t, line in lines]
    file.write_text("\n".join(["seconds,scale,line", *rows]) + "\n", "utf-8")
    return file


def run(tmp_path: Path, file: Path) -> tuple[str, Path]:
    settings = tmp_path / "handsfree.toml"
    settings.write_text("# mine\n", "utf-8")
    arguments = [
        "scale",
        "learn",
        "bench",
        "--mass",
        "2.000kg",
        "--from",
        str(file),
        "--config",
        str(settings),
    ]
    done = CliRunner().invoke(group, arguments)
    assert done.exit_code == 0, done.output
    return done.output, settings


def test_a_packaged_shape_is_found_with_its_unit_interval_and_flag(tmp_path: Path):
    said, settings = run(tmp_path, capture(tmp_path, "status_comma"))
    scale = load_config(settings).scales["bench"]
    assert (scale.shape, scale.d_g) == ("status_comma", 5)
    assert "# mine" in settings.read_text("utf-8")
    assert "goes with motion" in said
    assert "Could not tell: no net weight was seen" in said


def test_a_shape_nobody_has_seen_is_learned_written_and_used(tmp_path: Path):
    # The same lines with words and marks that no packaged shape has.
    file = capture(tmp_path, "status_comma", (",", ";"))
    said, settings = run(tmp_path, file)
    assert "No packaged shape fits" in said
    scale = load_config(settings).scales["bench"]
    assert Path(scale.shape).is_file()
    (transport,) = open_capture(file)
    weigher = Weigher("bench", find_shapes(scale.shape), 5_000)
    values = set()
    while (received := transport.receive(0.1)).__class__.__name__ != "Ended":
        values |= {m.value_mg for m in weigher.feed(received) if isinstance(m, Indication)}
    assert {0, 2_000_000} <= values
    assert weigher.torn <= 1  # the first line, whose head may be missing


def test_without_the_mass_nothing_is_written(tmp_path: Path):
    settings = tmp_path / "handsfree.toml"
    settings.write_text("", "utf-8")
    file = capture(tmp_path, "status_comma")
    arguments = ["scale", "learn", "bench", "--mass", "5kg", "--from", str(file), "--config", str(settings)]
    done = CliRunner().invoke(group, arguments)
    assert done.exit_code == 1
    assert "were not understood" in str(done.exception)
    assert settings.read_text("utf-8") == ""


@pytest.mark.parametrize("hidden", [False, True], ids=["packaged", "hidden"])
@pytest.mark.parametrize("name", ["lines_st_us_gs.bin", "lines_question_mark_when_moving.bin"])
def test_real_streams_teach_what_their_own_lines_say(name: str, hidden: bool, tmp_path: Path):
    path = REAL / name
    if not path.exists():
        pytest.skip(f"no real stream {path}")
    (transport,) = open_capture(path)
    weigher = Weigher("bench", find_shapes("auto"))
    read: list[Indication] = []
    plateaus: dict[int, int] = {}
    while (received := transport.receive(0.1)).__class__.__name__ != "Ended":
        read += [m for m in weigher.feed(received) if isinstance(m, Indication)]
        if weigher.standing is not None:
            plateaus[weigher.standing.value_mg] = plateaus.get(weigher.standing.value_mg, 0) + 1
    first = next(iter(plateaus))
    others = {abs(value - first): count for value, count in plateaus.items() if abs(value - first) > 5_000}
    if not others:
        pytest.skip(f"nothing is put on in {name}")
    mass_mg = max(others, key=others.__getitem__)
    known = [] if hidden else None
    found = scale_learning.learn(
        "bench", mass_mg, Config(), print, capture=path, scratch=tmp_path, known=known
    )
    assert found.values["unit"] is None
    assert bool(found.shape_file) is hidden
