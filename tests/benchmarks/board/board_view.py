"""Measures the board's view over ten years of ledger.

    python tests/benchmarks/board/board_view.py [--entries 500000] [--views 200]

The ledger is that of tests/benchmarks/ledger/bench_ledger.py, invented. Before each view one entry is
added, as a live session does; timed is reading it, folding it and making the view's JSON.
"""

from __future__ import annotations

import argparse
import importlib.util
import json
import tempfile
from pathlib import Path
from statistics import median, quantiles
from time import perf_counter

from handsfree.config import Config
from handsfree.ledger.sqlite_store import open_ledger
from handsfree.testing.ledger_entries import POSTED_AT, piece
from handsfree.wiring.board import LedgerBoard

_SPEC = importlib.util.spec_from_file_location(
    "bench_ledger", Path(__file__).parents[1] / "ledger" / "bench_ledger.py"
)


def main() -> None:
    """Fill a ledger, follow it, print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--entries", type=int, default=500_000)
    parser.add_argument("--views", type=int, default=200)
    options = parser.parse_args()
    assert _SPEC is not None
    assert _SPEC.loader is not None
    ledger = importlib.util.module_from_spec(_SPEC)
    _SPEC.loader.exec_module(ledger)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "ten_years.ledger"
        store = open_ledger(path)
        ledger.fill(store, ledger.ten_years(options.entries))
        start = perf_counter()
        board = LedgerBoard(path, Config())
        board.view()
        print(f"{store.last()[0]} entries; opening and first view {1000 * (perf_counter() - start):.0f} ms")
        number = max(board.view().entry // 45, 1)
        taken = []
        for _ in range(options.views):
            body = piece(number, "neck", 1_980_000)
            store.append([body], session="bench", t_ns=0, posted_at=POSTED_AT)
            start = perf_counter()
            json.dumps(board.view().values())
            taken.append(1000 * (perf_counter() - start))
        p95 = quantiles(taken, n=20)[-1]
        print(f"view after one entry: median {median(taken):.2f} ms, p95 {p95:.2f} ms, {len(taken)} views")
        board.close()
        store.close()


if __name__ == "__main__":
    main()
