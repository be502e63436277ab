"""Measures the ledger: append rate, ten years of entries, and 1,000 deaths without warning.

    python tests/benchmarks/ledger/bench_ledger.py [--entries 500000] [--kills 1000] [--folder DIR]

The ledger is invented: carcasses of 36 pieces with a strike and a renaming each, three left unfinished.
"""

from __future__ import annotations

import argparse
import os
import platform
import resource
import sqlite3
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from itertools import islice
from pathlib import Path
from statistics import median, quantiles
from time import perf_counter, process_time

from handsfree.ledger import entries as e
from handsfree.ledger.books import Books, open_books
from handsfree.ledger.sqlite_store import SqliteStore, open_ledger, read_ledger
from handsfree.testing.killed_recorder import Answered, KilledRecorder
from handsfree.testing.ledger_entries import POSTED_AT, piece

CUTS = ("haunch", "loin", "saddle", "shoulder", "neck", "shank", "flank", "dice", "mince", "bone")
UNFINISHED = 3


def ten_years(count: int) -> Iterator[e.Body]:
    """About `count` bodies in working order."""
    seq = number = 0
    per_carcass = 45
    carcasses = count // per_carcass
    while number < carcasses:
        number += 1
        bodies: list[e.Body] = [
            e.CarcassOpened(number),
            e.CarcassDescribed(number, tag=str(100 + number % 900)),
            e.CarcassDescribed(number, species="fallow deer", sex="doe"),
            e.ContainerSet("bench", 1_250_000, "1.250 kg", 1443.4),
            e.DressedWeightTaken(number, 24_600_000, 1443.4, 5000, "rail", "24.600 kg"),
        ]
        first = seq + len(bodies) + 1
        bodies += [
            piece(
                number,
                CUTS[index % 10],
                300_000 + 5000 * ((number + index) % 200),
                side=("left", "right")[index % 2],
            )
            for index in range(36)
        ]
        bodies += [
            e.EntryReversed(first + 4, "ledger strike that"),
            e.PieceRenamed(first + 5, "breast", "left", 1, "dice", "ledger that was left breast", "that was"),
        ]
        if number <= carcasses - UNFINISHED:
            bodies += [
                e.TemperatureNoted(number, "core", "3.5"),
                e.CarcassClosed(number, "explained", "0.310 kg are not accounted for", 310_000, 400_000),
            ]
        seq += len(bodies)
        yield from bodies


def timed(what: str, work: Callable[[], object], times: int = 1) -> object:
    taken = []
    result: object = None
    cpu = process_time()
    for _ in range(times):
        start = perf_counter()
        result = work()
        taken.append(perf_counter() - start)
    p95 = f", p95 {1000 * quantiles(taken, n=20)[-1]:.2f} ms" if times >= 20 else ""
    cpu_ms = 1000 * (process_time() - cpu) / times
    print(f"{what:<46} median {1000 * median(taken):>9.2f} ms{p95}, processor {cpu_ms:.2f} ms", flush=True)
    return result


def memory_mb() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def appends(store: SqliteStore, bodies: Iterator[e.Body]) -> None:
    def one() -> None:
        store.append([next(bodies)], session="bench", t_ns=0, posted_at=POSTED_AT)

    timed("append one entry, on disk before it returns", one, times=300)


def fill(store: SqliteStore, bodies: Iterator[e.Body]) -> None:
    while some := list(islice(bodies, 5000)):
        store.append(some, session="bench", t_ns=0, posted_at=POSTED_AT)


def opening(path: Path) -> None:
    """In a process of its own, for its memory."""
    start, cpu = perf_counter(), process_time()
    store = open_ledger(path)
    opened = perf_counter()
    books = open_books(store)
    done = perf_counter()
    print(
        f"open to write {opened - start:.2f} s, then working books {done - opened:.2f} s, "
        f"processor {process_time() - cpu:.2f} s "
        f"({len(books.carcasses)} unfinished carcasses of {books.last_number}), memory {memory_mb():.0f} MB"
    )
    store.close()


def everything(path: Path) -> None:
    """In a process of its own, for its memory."""
    with read_ledger(path) as store:
        start, cpu = perf_counter(), process_time()
        books = Books(store.entries())
        print(
            f"all entries into full books {perf_counter() - start:.2f} s, "
            f"processor {process_time() - cpu:.2f} s ({len(books.carcasses)} carcasses), "
            f"memory {memory_mb():.0f} MB"
        )


def looking_up(path: Path) -> None:
    with read_ledger(path) as store:
        books = open_books(store)
        numbers = iter(range(1, books.last_number, max(1, books.last_number // 120)))
        timed(
            "a closed carcass out of the ledger, by number", lambda: books.by_number(next(numbers)), times=100
        )
        tags = iter(range(100, 900))
        timed("carcasses by a tag used every year", lambda: books.by_tag(str(next(tags))), times=50)
        timed(
            "the 200 carcasses closed last, whole",
            lambda: [list(store.entries_of(n)) for n in store.closed(200)],
        )
        timed("verify every entry, file structure too", store.verify)
    with sqlite3.connect(path) as db:
        timed("view: all carcasses", lambda: db.execute("SELECT * FROM carcasses").fetchall())
        timed("view: all pieces", lambda: db.execute("SELECT * FROM pieces").fetchall())
    db.close()


def kills(path: Path, lives: int) -> None:
    answered: list[Answered] = []
    silent = 0
    with KilledRecorder(path, seed=1) as recorder:
        for life in range(lives):
            told = recorder.live_and_die(0.4)
            answered += told
            silent += not told
            if life % 100 == 99:
                print(f"  {life + 1} killed, {len(answered)} batches answered", flush=True)
    with open_ledger(path) as store:
        count = store.verify().count
        digests = [entry.digest for entry in store.entries()]
        texts = {entry.body.text for entry in store.entries() if isinstance(entry.body, e.NoteMade)}
    lost = sum(digests[batch.first + batch.count - 2] != batch.digest for batch in answered)
    print(
        f"{lives} recorders killed with SIGKILL ({silent} before their first answer): "
        f"{len(answered)} batches ({sum(batch.count for batch in answered)} entries) answered, "
        f"{count} entries on disk, {lost} answered lost, {count - len(texts)} doubled, chain verified"
    )


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--entries", type=int, default=500_000)
    parser.add_argument("--kills", type=int, default=1000)
    parser.add_argument("--folder", type=Path)
    parser.add_argument("--part", choices=["opening", "everything"])
    args = parser.parse_args()
    if args.part:
        {"opening": opening, "everything": everything}[args.part](args.folder / "ledger.db")
        return
    print(f"Python {platform.python_version()}, SQLite {sqlite3.sqlite_version}, {os.cpu_count()} cores")
    with tempfile.TemporaryDirectory(dir=args.folder) as folder:
        path = Path(folder) / "ledger.db"
        if args.entries:
            bodies = ten_years(args.entries)
            with open_ledger(path) as store:
                appends(store, bodies)
                start = perf_counter()
                fill(store, bodies)
                print(
                    f"{store.last()[0]} entries filled in, batches of 5,000: {perf_counter() - start:.1f} s"
                )
            print(f"file {path.stat().st_size / 1e6:.0f} MB")
            for part in ("opening", "everything"):
                subprocess.run([sys.executable, __file__, "--part", part, "--folder", folder], check=True)
            looking_up(path)
        if args.kills:
            kills(Path(folder) / "killed.db", args.kills)


if __name__ == "__main__":
    main()
