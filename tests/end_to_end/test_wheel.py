"""The wheel, installed in an empty environment and run from outside the checkout."""

from __future__ import annotations

import os
import subprocess
import sys
import tomllib
import venv
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("wheel")
    command = [sys.executable, "-m", "build", "--wheel", "--outdir", str(out), str(ROOT)]
    done = subprocess.run(command, capture_output=True, text=True, timeout=280, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    return next(out.glob("*.whl"))


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


@pytest.mark.slow
@pytest.mark.timeout(600)
def test_the_demo_runs_from_the_wheel_without_portaudio(wheel: Path, tmp_path: Path) -> None:
    place = tmp_path / "empty"
    venv.create(place, with_pip=True)
    python = place / "bin" / "python"
    install = [str(python), "-m", "pip", "install", "--quiet", "--disable-pip-version-check", str(wheel)]
    done = subprocess.run(install, capture_output=True, text=True, timeout=400, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    # The import of sounddevice fails exactly so where libportaudio2 is not installed.
    stub = tmp_path / "stub"
    stub.mkdir()
    (stub / "sounddevice.py").write_text('raise OSError("PortAudio library not found")\n', encoding="utf-8")
    clean = {name: value for name, value in os.environ.items() if not name.startswith(("PYTHON", "COV"))}
    done = subprocess.run(
        [str(place / "bin" / "handsfree"), "demo", "--out", "out"],
        cwd=tmp_path,
        env={**clean, "PYTHONPATH": str(stub), "HOME": str(tmp_path)},
        capture_output=True,
        text=True,
        timeout=280,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    assert (tmp_path / "out" / "demo.ledger").exists()
    assert (tmp_path / "out" / "demo_sheet.html").exists()
    assert "417" in done.stdout
