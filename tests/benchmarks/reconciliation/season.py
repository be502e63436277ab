"""Measures a season over ten years of ledger: looking up, figures, page, pictures.

    python tests/benchmarks/reconciliation/season.py [--carcasses 30000] [--runs 5] [--ledger FILE]

The ledger is invented (`handsfree.testing.invented_season`): 3,000 carcasses a year of three species on two
benches, 29 weighings each, slips and their corrections, one bench that loses more in the last tenth. It is
made anew unless FILE is there already. Each run opens the file again and does everything from there; the file
is in the system's cache after the first. Pictures are drawn once.
"""

from __future__ import annotations

import argparse
import os
import platform
import sqlite3
import tempfile
from collections.abc import Callable
from datetime import UTC, date
from decimal import Decimal
from pathlib import Path
from statistics import median
from time import perf_counter, process_time
from typing import TypeVar

from handsfree.config import Config
from handsfree.ledger.season_record import ClosedSeason
from handsfree.ledger.sqlite_store import read_ledger
from handsfree.reconciliation.price_list import PriceList
from handsfree.reconciliation.season import By, Season, season_of
from handsfree.reconciliation.season_figures import figures_of_season
from handsfree.reporting.season_page import season_html
from handsfree.reporting.season_pictures import draw_season
from handsfree.testing.invented_season import Drift, write_season
from handsfree.wiring.season import season as whole_path

PRICES = PriceList("EUR", {"loin": Decimal("42.5")}, {"prime": Decimal("19.8")}, date(2026, 4, 1))
PORTIONS = frozenset({"double chops", "cutlets", "haunch steaks", "loin steaks"})
_TARGET_S = 2.0

T = TypeVar("T")


class Table:
    """Times of each step, a row a step."""

    def __init__(self, runs: int) -> None:
        self._runs = runs
        print(f"{'step':<52}{'median s':>9}{'best s':>9}{'worst s':>9}{'processor s':>13}")

    def row(self, name: str, work: Callable[[], T], runs: int | None = None) -> T:
        """Do it so many times; the last result."""
        walls, cpus = [], []
        for _ in range(runs or self._runs):
            wall, cpu = perf_counter(), process_time()
            result = work()
            walls.append(perf_counter() - wall)
            cpus.append(process_time() - cpu)
        cells = (median(walls), min(walls), max(walls))
        print(f"{name:<52}{''.join(f'{cell:>9.2f}' for cell in cells)}{median(cpus):>13.2f}", flush=True)
        return result


def measure(ledger: Path, runs: int) -> None:
    """All steps of a season over this ledger."""
    table = Table(runs)

    def look_up() -> ClosedSeason:
        with read_ledger(ledger) as store:
            return store.closed_between("", "")

    def made(closed: ClosedSeason, prices: PriceList | None = None) -> Season:
        return season_of(figures_of_season(closed), By.SPECIES, portion_cuts=PORTIONS, prices=prices)

    def one_month() -> ClosedSeason:
        with read_ledger(ledger) as store:
            return store.closed_between("2025-10-01", "2025-11-01")

    table.row("whole path: open, look up, figures, charts", lambda: whole_path(ledger, Config()))
    closed = table.row("  of it: open and look up", look_up)
    season = table.row("  of it: figures, charts, portions", lambda: made(closed))
    table.row("  the same with a price list", lambda: made(closed, PRICES))
    table.row("whole path of 3,000 carcasses: the last year", lambda: made(last_year(ledger)))
    table.row("look up one month", one_month)
    options = {"larder": "invented", "since": None, "until": None, "zone": UTC}
    html = table.row("page with its charts, apart", lambda: season_html(season, **options))
    with tempfile.TemporaryDirectory() as folder:
        files = table.row("pictures, apart", lambda: draw_season(season, Path(folder), UTC), runs=1)
    weighings = sum(len(each.carcass) for each in closed.weighings)
    print(
        f"{len(closed.carcasses)} carcasses, {weighings} weighings; page {len(html) / 1e6:.2f} MB, "
        f"{len(files)} pictures; target for the whole path {_TARGET_S:.0f} s"
    )


def last_year(ledger: Path) -> ClosedSeason:
    """The carcasses of the last year."""
    with read_ledger(ledger) as store:
        newest = store.closed_between("", "").carcasses[-1].closed_at if not _last else _last[0]
        _last[:] = [newest]
        year = int(newest[:4]) - 1
        return store.closed_between(f"{year}{newest[4:]}", "")


_last: list[str] = []


def main() -> None:
    """Make the ledger, measure, print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--carcasses", type=int, default=30_000)
    parser.add_argument("--runs", type=int, default=5)
    parser.add_argument("--ledger", type=Path)
    options = parser.parse_args()
    print(f"Python {platform.python_version()}, SQLite {sqlite3.sqlite_version}, {os.cpu_count()} cores")
    with tempfile.TemporaryDirectory() as folder:
        ledger = options.ledger or Path(folder) / "season.ledger"
        if not ledger.exists():
            start = perf_counter()
            drift = Drift(options.carcasses * 9 // 10)
            entries = write_season(ledger, options.carcasses, drift=drift)
            print(f"{entries} entries written in {perf_counter() - start:.0f} s")
        print(f"file {ledger.stat().st_size / 1e6:.0f} MB, load {os.getloadavg()[0]:.1f}")
        measure(ledger, options.runs)


if __name__ == "__main__":
    main()
