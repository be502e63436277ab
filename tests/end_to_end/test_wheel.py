"""The wheel, installed in an empty environment and run from outside the checkout."""

from __future__ import annotations

import tomllib
import zipfile
from pathlib import Path

ROOT = Path(__file__).parents[2]


def test_grammar_shapes_and_demo_travel_in_the_wheel(wheel: Path) -> None:
    with zipfile.ZipFile(wheel) as bundle:
        names = set(bundle.namelist())
    assert {
        "handsfree/data/grammar/venison.toml",
        "handsfree/data/grammar/lamb.toml",
        "handsfree/data/grammar/pronunciations.dict",
        "handsfree/data/demo/session.toml",
        "handsfree/data/demo/audio.flac",
        "handsfree/data/demo/scale.csv",
        "handsfree/weighing/shapes/status_comma.toml",
        "handsfree/speech/gate.toml",
        "handsfree/speech/models.toml",
        "handsfree/py.typed",
    } <= names
    assert not any(name.startswith("tests/") for name in names)


def test_the_metadata_names_the_pythons_it_is_for() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    assert project["requires-python"] == ">=3.11"
    for version in ("3.11", "3.12", "3.13"):
        assert f"Programming Language :: Python :: {version}" in project["classifiers"]


def test_the_wheel_holds_the_checkouts_modules_words_and_sound_byte_for_byte(wheel: Path) -> None:
    # What is shown of the wheel's demo is then shown of the checkout's.
    places = {
        "handsfree/data/grammar/": ROOT / "grammar",
        "handsfree/data/demo/": ROOT / "demo_audio/session",
    }
    with zipfile.ZipFile(wheel) as bundle:
        held = {name: bundle.read(name) for name in bundle.namelist() if name.startswith("handsfree/")}
    for name, content in held.items():
        prefix = next((each for each in places if name.startswith(each)), None)
        source = places[prefix] / name.removeprefix(prefix) if prefix else ROOT / name
        assert source.read_bytes() == content, name
    modules = {str(file.relative_to(ROOT)) for file in (ROOT / "handsfree").rglob("*.py")}
    assert modules <= set(held)


def test_the_demo_runs_from_the_wheel_without_portaudio(installed, demo_run: Path) -> None:
    assert installed.fault == ""
    # The engine's libraries and the demo's sound come from the environment, not from the checkout.
    assert str(installed.place) in (demo_run / "screen.txt").read_text(encoding="utf-8").replace("\n", "")
    assert (demo_run / "demo.ledger").exists()
    assert (demo_run / "demo_sheet.html").exists()
    assert "417" in (demo_run / "screen.txt").read_text(encoding="utf-8")
