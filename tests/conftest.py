"""Fixtures for all tests: the demo run once, the real recordings where they are."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]


@pytest.fixture(scope="session")
def demo_run(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The output folder of `handsfree demo`, run once: the actual sound through the embedded engine."""
    out = tmp_path_factory.mktemp("demo") / "demo_output"
    done = subprocess.run(
        [sys.executable, "-m", "handsfree", "demo", "--out", str(out)],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=280,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    (out / "screen.txt").write_text(done.stdout, encoding="utf-8")
    return out


@pytest.fixture(scope="session")
def real_recordings() -> Path:
    """The folder of real recordings; skips with the reason where it is absent."""
    place = Path(os.environ.get("HANDSFREE_REAL_DATA", ROOT.parent / "shared" / "real"))
    if not place.is_dir():
        pytest.skip(f"no real recordings at {place} (set HANDSFREE_REAL_DATA)")
    return place
