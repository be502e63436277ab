"""Live, for real: a virtual sound card and a pseudo-terminal scale into `handsfree record`.

The recorder runs as its own process. What it kept is replayed, and the two ledgers must be equal
entry for entry, to the nanosecond.
"""

from __future__ import annotations

import csv
import json
import os
import pty
import subprocess
import sys
import threading
import tty
from ast import literal_eval
from dataclasses import dataclass
from pathlib import Path
from time import monotonic

import pytest

from handsfree.ledger.books import Books
from handsfree.ledger.entries import Body, SessionBegan, SessionEnded
from handsfree.ledger.sqlite_store import read_ledger
from handsfree.testing.rehearsal.score import score, truth_from_csv
from handsfree.testing.virtual_sound_card import VirtualSoundCard, why_not

ROOT = Path(__file__).parents[2]
SESSION = ROOT / "fixtures" / "sessions" / "short"

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(bool(why_not()), reason=why_not() or "there is a virtual sound card"),
]


@dataclass
class Scale:
    """A pseudo-terminal that says what the session's scale said, at the same pace."""

    name: str

    def __post_init__(self) -> None:
        self._ours, self._theirs = pty.openpty()
        tty.setraw(self._ours)
        tty.setraw(self._theirs)
        self.port = os.ttyname(self._theirs)
        with (SESSION / "scale.csv").open(encoding="utf-8", newline="") as file:
            self._rows = [
                (float(row["seconds"]), literal_eval(f"b'{row['line']}'"))
                for row in csv.DictReader(file)
                if row["scale"] == self.name
            ]

    def play(self, begun: float, stop: threading.Event) -> None:
        for seconds, line in self._rows:
            if stop.wait(max(0.0, begun + seconds - monotonic())):
                return
            os.write(self._ours, line)

    def close(self) -> None:
        os.close(self._ours)
        os.close(self._theirs)


def bodies(ledger: Path) -> list[tuple[int, Body]]:
    """Everything that was decided, with its time; the session marks aside."""
    store = read_ledger(ledger)
    try:
        return [
            (entry.t_ns, entry.body)
            for entry in store.entries()
            if not isinstance(entry.body, SessionBegan | SessionEnded)
        ]
    finally:
        store.close()


@pytest.mark.timeout(240)
def test_a_live_session_and_its_replay_leave_the_same_ledger(tmp_path: Path) -> None:
    scales = [Scale("bench"), Scale("rail")]
    settings = "".join(
        f'[scale.{s.name}]\nport = "{s.port}"\nd_g = {d}\n' for s, d in zip(scales, (5, 20), strict=True)
    )
    config = tmp_path / "handsfree.toml"
    config.write_text('[answers]\nlength = "tones"\n' + settings, encoding="utf-8")
    kept, ledger = tmp_path / "kept", tmp_path / "live.ledger"
    command = [sys.executable, "-m", "handsfree", "record", "--json", "--quiet"]
    command += ["--config", str(config), "--ledger", str(ledger), "--keep", str(kept)]
    stop = threading.Event()
    with VirtualSoundCard() as card:
        environment = {**card.environment(), "PYTHONPATH": str(ROOT), "HOME": str(tmp_path)}
        with subprocess.Popen(
            command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=environment
        ) as live:
            assert live.stdout is not None
            assert live.stderr is not None
            first = live.stdout.readline()
            assert first, live.stderr.read()
            assert "ready" in json.loads(first)
            begun = monotonic()
            player = card.play(SESSION / "audio.wav")
            feeders = [threading.Thread(target=s.play, args=(begun, stop), daemon=True) for s in scales]
            for feeder in feeders:
                feeder.start()
            player.wait(timeout=120)
            stop.wait(2.0)
            live.terminate()
            out, err = live.communicate(timeout=60)
            stop.set()
            for feeder in feeders:
                feeder.join(timeout=10)
    for s in scales:
        s.close()
    assert live.returncode == 0, err
    assert "Traceback" not in err
    assert any("entries" in json.loads(line) for line in out.splitlines())

    store = read_ledger(ledger)
    books = Books(store.entries())
    store.close()
    truth = truth_from_csv((SESSION / "truth.csv").read_text(encoding="utf-8"))
    found = score(truth, books.carcasses[1].standing(), d_g=5)
    assert found.perfect, "\n".join(found.lines())

    replayed = tmp_path / "replayed.ledger"
    again = [sys.executable, "-m", "handsfree", "replay", str(kept), "--ledger", str(replayed), "--json"]
    done = subprocess.run(
        again,
        env={**os.environ, "PYTHONPATH": str(ROOT), "HOME": str(tmp_path)},
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert bodies(replayed) == bodies(ledger)
