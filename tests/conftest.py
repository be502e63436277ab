"""Fixtures for all tests, and how the tests are shared out to workers (`make test` runs two)."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

ROOT = Path(__file__).resolve().parents[1]

# One thread for one sum, here and in every process started from here: the workers share the cores
# already. Read by the libraries when they are loaded, so it stands before any of them.
for _library in ("OMP", "OPENBLAS", "MKL"):
    os.environ.setdefault(f"{_library}_NUM_THREADS", "1")

# A busy machine is no fault: examples are judged by what they show, not by how long they took.
settings.register_profile("untimed", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("untimed")


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """What shares the run of the demo goes to one worker, so that there is one run of it."""
    for item in items:
        if "demo_run" in getattr(item, "fixturenames", ()):
            item.add_marker(pytest.mark.xdist_group("demo"))


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
