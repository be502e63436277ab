"""A recorder that is killed without warning, again and again, while it appends to a ledger.

`KilledRecorder` runs this module as its own process. For each life that process forks a child, which
opens the ledger and appends batches of notes as fast as it can, telling each batch only after
`append` has returned, until the child is killed with SIGKILL.
"""

from __future__ import annotations

import os
import select
import signal
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path
from random import Random
from time import monotonic
from typing import Self

from handsfree.ledger.entries import NoteMade
from handsfree.ledger.sqlite_store import open_ledger

#: Told after a life. Not a word of letters a to f: a digest may end in one.
_DEATH = b"over\n"
_POSTED_AT = "2026-01-31T07:05:09.000000Z"


@dataclass(frozen=True, slots=True)
class Answered:
    """A batch that the recorder had told to be on disk before it died."""

    first: int
    """Sequence number of its first entry."""
    count: int
    digest: str
    """Digest of its last entry."""


class KilledRecorder:
    """Starts and kills recorders on one ledger.

    Args:
        ledger: Its path; made by the first life.
        seed: For the instants of death.
    """

    def __init__(self, ledger: Path, seed: int) -> None:
        self._random = Random(seed)  # noqa: S311 (instants, not secrets)
        self._mother = subprocess.Popen(
            [sys.executable, "-m", __name__, str(ledger)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            bufsize=0,
        )
        self._alive: int | None = None

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        if self._alive is not None:  # a life that was left in the middle would keep its mother waiting
            os.kill(self._alive, signal.SIGKILL)
        self._mother.communicate()

    def live_and_die(self, longest_s: float) -> list[Answered]:
        """One life, ended at a random instant of at most `longest_s`; what was answered in it."""
        stdin, stdout = self._mother.stdin, self._mother.stdout
        assert stdin is not None
        assert stdout is not None
        stdin.write(b"live\n")
        self._alive = pid = int(stdout.readline())
        end = monotonic() + self._random.uniform(0, longest_s)
        heard = b""
        while (left := end - monotonic()) > 0:
            if select.select([stdout], [], [], left)[0]:
                heard += os.read(stdout.fileno(), 65536)
                if b"failed" in heard:
                    break
        os.kill(pid, signal.SIGKILL)
        self._alive = None
        while not heard.endswith(_DEATH):
            heard += os.read(stdout.fileno(), 65536)
        lines = [line.split() for line in heard.decode().splitlines()[:-1]]
        if any(line[0] == "failed" for line in lines):
            raise AssertionError(heard.decode())
        return [Answered(int(first), int(count), digest) for first, count, digest in lines]


def _mother(path: Path) -> None:
    for life, _ in enumerate(sys.stdin):
        child = os.fork()
        if child == 0:
            try:
                _append_for_ever(path, life)
            except BaseException as error:  # noqa: BLE001 (told to the test, which fails on it)
                os.write(1, f"failed {error}\n".encode())
            os._exit(1)
        os.waitpid(child, 0)
        os.write(1, _DEATH)


def _append_for_ever(path: Path, life: int) -> None:
    os.write(1, f"{os.getpid()}\n".encode())
    store = open_ledger(path)
    batch = 0
    while True:
        count = batch % 3 + 1
        bodies = [NoteMade(None, f"{life}/{batch}/{index + 1} of {count}") for index in range(count)]
        made = store.append(bodies, session=str(life), t_ns=batch, posted_at=_POSTED_AT)
        os.write(1, f"{made[0].seq} {count} {made[-1].digest}\n".encode())
        batch += 1


if __name__ == "__main__":
    _mother(Path(sys.argv[1]))
