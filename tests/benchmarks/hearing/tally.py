"""Counting and printing what was right, wrong and rejected."""

from __future__ import annotations

import argparse
import json
from collections import Counter
from pathlib import Path

from engines import Heard
from intervals import share
from jiwer import wer


class Tally:
    """Outcomes by row and condition.

    Args:
        title: What the table shows.
    """

    def __init__(self, title: str) -> None:
        self._title = title
        self._counts: dict[tuple[str, str], Counter[str]] = {}
        self._words: dict[tuple[str, str], tuple[list[str], list[str]]] = {}

    def add(self, row: str, condition: str, said: str, heard: Heard) -> None:
        """One clip; it counts under its condition and under "all"."""
        right = heard.readings[:1] == (said,)
        outcome = "rejected" if not heard.taken else "right" if right else "wrong"
        for key in ((row, condition), (row, "all")):
            count = self._counts.setdefault(key, Counter())
            count[outcome] += 1
            count["n"] += 1
            count["first"] += right
            count["in 3"] += said in heard.readings
            references, results = self._words.setdefault(key, ([], []))
            references.append(said)
            results.append(heard.readings[0] if heard.readings else "")

    def lines(self) -> list[str]:
        """The table; percent with 95 % Wilson intervals; "first" is the best reading, gate or not."""
        heads = " ".join(f"{name:>15}" for name in ("right", "wrong", "rejected", "first"))
        out = [self._title, f"{'row':20} {'condition':26} {'n':>4} {heads} {'in 3':>6} {'WER':>6}"]
        for (row, condition), count in self._counts.items():
            n = count["n"]
            figures = " ".join(
                f"{share(count[name], n):>15}" for name in ("right", "wrong", "rejected", "first")
            )
            error = wer(*self._words[row, condition])
            out.append(
                f"{row:20} {condition:26} {n:4d} {figures} {100 * count['in 3'] / n:6.1f} {100 * error:6.1f}"
            )
        return out

    def data(self) -> list[dict[str, object]]:
        """The same as plain data."""
        return [
            {"row": row, "condition": condition, **{name.replace(" ", "_"): count[name]
             for name in ("n", "right", "wrong", "rejected", "first", "in 3")}}
            for (row, condition), count in self._counts.items()
        ]  # fmt: skip


def options(description: str | None) -> argparse.ArgumentParser:
    """What every table's script takes."""
    parser = argparse.ArgumentParser(
        description=description, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--half", choices=("development", "test"), default="development")
    parser.add_argument("--json", metavar="FILE", help="write the counts there too")
    parser.add_argument(
        "--second-ear",
        metavar="FOLDER",
        action="append",
        default=[],
        help="its model; given twice, the second is the third ear's",
    )
    return parser


def show(asked: argparse.Namespace, lines: list[str], data: object, notes: list[str]) -> None:
    """Print, and write the data where it was asked for."""
    print(f"half: {asked.half}", *lines, *notes, sep="\n", flush=True)
    if asked.json:
        Path(asked.json).write_text(json.dumps({"half": asked.half, "rows": data, "notes": notes}, indent=1))
