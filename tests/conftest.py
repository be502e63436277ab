"""Fixtures for all tests, and how the tests are shared out to workers (`make test` runs two)."""

from __future__ import annotations

import os
import subprocess
import sys
import venv
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

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


#: What goes to one worker, by the beginning of its name, in the order in which the groups are begun: what
#: takes two processes by itself and what runs in real time first, or it would hold up the end. What
#: runs in real time is one group, so that no two of it overlap; the others share a costly fixture.
GROUPS = {
    "demo": (
        "tests/end_to_end/test_demo.py",
        "tests/end_to_end/test_wheel.py",
        "tests/test_docs.py::test_the_documents_commands_on_the_demo_run",
    ),
    "rehearsal": tuple(
        f"tests/test_docs.py::test_the_documents_commands_run[handsfree {verb} rehearsal"
        for verb in ("rehearse", "replay", "score")
    ),
    "real time": (
        "tests/end_to_end/test_live_session.py",
        "tests/end_to_end/test_virtual_microphone.py",
        "tests/end_to_end/test_every_transport.py",
        "tests/contract/test_answering_ends.py",
    ),
    **{
        module: (f"tests/{module}.py",)
        for module in (
            "end_to_end/test_played_rehearsal",
            "contract/test_recogniser",
            "unit/speech/test_engines",
            "unit/speech/test_whisper_ear",
            "unit/reporting/test_season_words",
            "end_to_end/test_season_verb",
            "unit/ledger/test_tampering",
        )
    },
}


def group_of(name: str) -> str:
    """The group of the test of this node id; a test of no group is one by itself."""
    return next((group for group, beginnings in GROUPS.items() if name.startswith(beginnings)), name)


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> Any:
    """Groups by the table above, in its order.

    Its own mode `loadgroup` is not used: it writes the group into a private field of the test, which
    not every version of pytest reads, and says nothing where it does not work.
    """
    from xdist.scheduler import LoadScopeScheduling

    class ByGroup(LoadScopeScheduling):
        def _split_scope(self, nodeid: str) -> str:
            return group_of(nodeid)

    config.option.loadscopereorder = False
    return ByGroup(config, log)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Groups first, then the long ones; room for the demo's run on a busy machine."""
    order = list(GROUPS)

    def turn(item: pytest.Item) -> int:
        group = group_of(item.nodeid)
        if group in order:
            return order.index(group)
        return len(order) + (0 if item.get_closest_marker("slow") else 1)

    items.sort(key=turn)
    for item in items:
        if "demo_run" in getattr(item, "fixturenames", ()):
            item.add_marker(pytest.mark.timeout(1200))


@pytest.fixture(autouse=True)
def _ahead_of_others(request: pytest.FixtureRequest) -> Iterator[None]:
    """What runs in real time, and every process it starts, goes before the rest, where that is allowed.

    A live session that is not given its time loses sound, as it would beside any other busy program.
    """
    before = os.getpriority(os.PRIO_PROCESS, 0)
    if group_of(request.node.nodeid) == "real time":
        with suppress(PermissionError):
            os.setpriority(os.PRIO_PROCESS, 0, before - 10)
    yield
    with suppress(PermissionError):
        os.setpriority(os.PRIO_PROCESS, 0, before)


@pytest.fixture(scope="session")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel, built from this checkout."""
    out = tmp_path_factory.mktemp("wheel")
    command = [sys.executable, "-m", "build", "--wheel", "--outdir", str(out), str(ROOT)]
    done = subprocess.run(command, capture_output=True, text=True, timeout=280, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    return next(out.glob("*.whl"))


@dataclass(frozen=True)
class Installed:
    """The wheel in an empty environment."""

    place: Path
    fault: str
    """What the installer said, "" when all is well."""


@pytest.fixture(scope="session")
def installed(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Installed:
    """The wheel, installed with what it needs and nothing else."""
    place = tmp_path_factory.mktemp("installed") / "empty"
    venv.create(place, with_pip=True)
    install = ["-m", "pip", "install", "--quiet", "--disable-pip-version-check", str(wheel)]
    done = subprocess.run(
        [str(place / "bin" / "python"), *install], capture_output=True, text=True, timeout=400, check=False
    )
    return Installed(place, done.stdout + done.stderr if done.returncode else "")


@pytest.fixture(scope="session")
def demo_run(installed: Installed, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The output folder of `handsfree demo`, run once: the actual sound through the embedded engine.

    It is the wheel's, run from outside the checkout and where PortAudio is missing: the same modules,
    words and sound as the checkout's, which test_wheel holds byte for byte. Where the wheel cannot be
    installed (its test tells) the checkout's is run.
    """
    out = tmp_path_factory.mktemp("demo")
    # The import of sounddevice fails exactly so where libportaudio2 is not installed.
    stub = out / "stub"
    stub.mkdir()
    (stub / "sounddevice.py").write_text('raise OSError("PortAudio library not found")\n', encoding="utf-8")
    clean = {name: value for name, value in os.environ.items() if not name.startswith(("PYTHON", "COV"))}
    program, path = [str(installed.place / "bin" / "handsfree")], str(stub)
    if installed.fault:
        program, path = [sys.executable, "-m", "handsfree"], f"{stub}{os.pathsep}{ROOT}"
    done = subprocess.run(
        [*program, "demo", "--out", "demo_output"],
        cwd=out,
        env={**clean, "PYTHONPATH": path, "HOME": str(out)},
        capture_output=True,
        text=True,
        timeout=800,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    (out / "demo_output" / "screen.txt").write_text(done.stdout, encoding="utf-8")
    return out / "demo_output"


@pytest.fixture(scope="session")
def real_recordings() -> Path:
    """The folder of real recordings; skips with the reason where it is absent."""
    place = Path(os.environ.get("HANDSFREE_REAL_DATA", ROOT.parent / "shared" / "real"))
    if not place.is_dir():
        pytest.skip(f"no real recordings at {place} (set HANDSFREE_REAL_DATA)")
    return place
