"""The boards as their users start them: `handsfree board`, and `handsfree record --board`."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from urllib.request import urlopen

from handsfree.ledger.sqlite_store import open_ledger
from handsfree.testing.ledger_entries import ONE_OF_EACH, POSTED_AT

ROOT = Path(__file__).parents[2]


@contextmanager
def running(folder: Path, *arguments: str) -> Iterator[str]:
    """A verb in a process of its own; the address of its board. It must end in order when asked to."""
    command = [sys.executable, "-u", "-m", "handsfree", *arguments]
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "HOME": str(folder)}
    with subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, env=environment
    ) as process:
        assert process.stdout is not None
        said = ""
        while (found := re.search(r"http://127\.0\.0\.1:\d+/", said)) is None:
            line = process.stdout.readline()
            assert line, said
            said += line
        yield found[0]
        process.terminate()
        rest, _ = process.communicate(timeout=30)
        assert process.returncode == 0, said + rest
        assert "Traceback" not in rest


def first_event(address: str) -> dict[str, object]:
    """What a screen that joins is sent first."""
    with urlopen(f"{address}events", timeout=10) as stream:  # noqa: S310  (our own server)
        line = next(line for line in stream if line.startswith(b"data: "))
    return dict(json.loads(line.removeprefix(b"data: ")))


def test_the_ledgers_board_shows_the_carcass_in_hand_and_that_nobody_records(tmp_path: Path) -> None:
    ledger = tmp_path / "larder.ledger"
    store = open_ledger(ledger)
    store.append(ONE_OF_EACH[:9], session="s", t_ns=0, posted_at=POSTED_AT)
    store.close()
    with running(tmp_path, "board", "--ledger", str(ledger), "--port", "0") as address:
        with urlopen(address, timeout=10) as page:  # noqa: S310
            assert b"EventSource" in page.read()
        shown = first_event(address)
    assert shown["title"] == "417 fallow deer doe"
    assert shown["recorder"] != "running"
    assert [piece["name"] for piece in shown["pieces"]] == ["right shank", "left haunch"]  # type: ignore[attr-defined]


def test_the_sessions_board_says_that_the_recorder_runs(tmp_path: Path) -> None:
    settings = tmp_path / "handsfree.toml"
    settings.write_text('[scale.bench]\nport = "loop://"\nd_g = 5\n', encoding="utf-8")
    options = ("--no-sound", "--quiet", "--board", "0", "--config", str(settings))
    with running(tmp_path, "record", "--ledger", str(tmp_path / "live.ledger"), *options) as address:
        shown = first_event(address)
    assert shown["recorder"] == "running"
    assert shown["title"] == ""
