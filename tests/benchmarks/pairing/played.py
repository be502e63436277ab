"""Rehearsed carcasses played to the recorder, with a butcher who hears it: `played.py --half development`.

The carcasses are those of `rehearsed.py`, told anew: the butcher waits for the answer, says again what
was not taken (a twelfth slower), answers what is asked, and notices 95 of 100 wrong names read back. So
it shows the ledger as the whole dialogue leaves it, and what the dialogue costs: calls and commands said
again for want of an answer, and questions, each of which is replied to besides. Nothing is kept between
runs but the results (by this state of the code), for sound and answers hang together: about as long as
the session itself on a slow core.

With `--read-in` each butcher has read the phrases of `handsfree voice add` beforehand, in quiet, and works
with the voice's own model. Synthetic voices say a word the same way each time, so that is what a person
would get at best; without it they are no field accuracy either.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import os
import shutil
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict, dataclass
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
sys.path.insert(0, str(Path(__file__).parents[1] / "hearing"))

from halves import HALVES
from reading_in import own_store
from rehearsed import EAR, READ_IN, Case, cases, equipment, interval, settings, store, wish_of

from handsfree.ledger.books import Books
from handsfree.ledger.sqlite_store import read_ledger
from handsfree.pairing.messages import Question
from handsfree.testing.rehearsal.score import Outcome
from handsfree.wiring.rehearsing import play, score_ledger, tag_of
from handsfree.wiring.replaying import Watch

GONE_OVER = "gone over"
"""Questions at the close, of pieces without a name; the others are asked in mid-carcass."""


@dataclass(frozen=True, slots=True)
class Result:
    """What came of one carcass."""

    outcomes: dict[str, int]
    asked: dict[str, int]
    """Questions by kind."""
    said_again: int
    seconds: float
    reasons: list[str]
    tag_right: bool = False
    """Whether the carcass has the tag that was told."""

    @property
    def pieces(self) -> int:
        """True weighings."""
        return sum(count for kind, count in self.outcomes.items() if kind != Outcome.INVENTED)


def state() -> str:
    """Short name of the state of everything that decides: results of another state are not used."""
    root = Path(__file__).parents[3]
    files = sorted([*(root / "handsfree").rglob("*.*"), *(root / "grammar").rglob("*.*")])
    found = hashlib.sha256(b"".join(file.read_bytes() for file in files if "__pycache__" not in file.parts))
    return found.hexdigest()[:10] + equipment()


def kept_file(case: Case, label: str) -> Path:
    """Where the result of a carcass is kept."""
    return store() / "played" / f"{hashlib.sha256(repr(case).encode()).hexdigest()[:16]}-{label}.json"


def played(case: Case, label: str) -> Result:
    """One carcass, played when it was not already."""
    kept = kept_file(case, label)
    if kept.exists():
        return Result(**json.loads(kept.read_text(encoding="utf-8")))
    kept.parent.mkdir(parents=True, exist_ok=True)
    folder = Path(tempfile.mkdtemp(prefix="handsfree-played-"))
    asked: Counter[str] = Counter()

    def watch(outcome: object, _sayings: object) -> None:
        cause = getattr(outcome, "cause", None)
        if isinstance(cause, Question):
            asked[cause.kind.value if cause.piece is None else GONE_OVER] += 1

    try:
        ledger = folder / "played.ledger"
        done = play(
            wish_of(case),
            folder / "session",
            ledger,
            settings(case.voice),
            Watch(outcome=watch),
            sound="flac",
        )
        found = score_ledger(folder / "session", ledger)
        tagged = {each.tag for each in Books(read_ledger(ledger).entries()).carcasses.values()}
    finally:
        shutil.rmtree(folder)
    result = Result(
        {kind.value: found.count(kind) for kind in Outcome},
        dict(asked),
        done.repeated,
        done.scenario.duration_s,
        [f"{each.outcome}: {each.reason}" for each in found.findings if each.outcome is not Outcome.RIGHT],
        tag_of(wish_of(case)) in tagged,
    )
    kept.write_text(json.dumps(asdict(result)), encoding="utf-8")
    return result


def table(title: str, groups: dict[str, list[Result]]) -> None:
    """One line a group."""
    print(f"\n{title}")
    print(
        f"{'':<22}{'pieces':>7} {'right at the end':>26} {'wrong unasked':>24} "
        f"{'asked':>6} {'unnamed':>8} {'lost':>5} {'invented':>9} "
        f"{'said again':>11} {'questions':>10} {'s a piece':>10} {'tags right':>11}"
    )
    for name, results in groups.items():
        count: Counter[str] = Counter()
        for each in results:
            count.update(each.outcomes)
        pieces = sum(each.pieces for each in results)
        again = sum(each.said_again for each in results)
        questions = sum(sum(each.asked.values()) for each in results)
        seconds = sum(each.seconds for each in results)
        print(
            f"{name:<22}{pieces:>7} {interval(count[Outcome.RIGHT], pieces):>26} "
            f"{interval(count[Outcome.WRONG], pieces):>24} {count[Outcome.QUESTIONED]:>6} "
            f"{count[Outcome.UNNAMED]:>8} {count[Outcome.LOST]:>5} {count[Outcome.INVENTED]:>9} "
            f"{again / pieces:>11.2f} {questions / pieces:>10.2f} {seconds / pieces:>10.1f} "
            f"{sum(each.tag_right for each in results):>7}/{len(results)}"
        )


def _options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--half", choices=HALVES, default="development")
    parser.add_argument("--carcasses", type=int, default=40)
    parser.add_argument("--first", type=int, default=0, help="leave out as many")
    parser.add_argument("--processes", type=int, default=1)
    parser.add_argument("--wrong", action="store_true", help="list what was not right")
    parser.add_argument("--second-ear", action="append", default=[], help="a model; twice: a third ear too")
    parser.add_argument("--read-in", action="store_true", help="each butcher's voice was read in")
    parser.add_argument("--label", default="", help="use results kept under this label")
    parser.add_argument("--kept", action="store_true", help="only the carcasses that were played already")
    return parser.parse_args()


def _all(every: list[Case], label: str, processes: int) -> Iterator[tuple[Case, Result]]:
    if processes == 1:
        for case in every:
            yield case, played(case, label)
        return
    with ProcessPoolExecutor(processes) as pool:
        yield from zip(every, pool.map(played, every, [label] * len(every)), strict=True)


def main() -> int:
    """Print the tables."""
    options = _options()
    os.environ[EAR] = os.pathsep.join(options.second_ear)
    os.environ[READ_IN] = "yes" if options.read_in else ""
    own_store()
    label = options.label or state()
    every = cases(options.half, options.carcasses)[options.first :]
    if options.kept:
        every = [case for case in every if kept_file(case, label).exists()]
    results: dict[Case, Result] = {}
    began = time.monotonic()
    for case, result in _all(every, label, options.processes):
        results[case] = result
        print(
            f"{time.monotonic() - began:6.0f} s, carcass {case.number}: {result.outcomes} {result.asked} "
            f"said again {result.said_again}",
            file=sys.stderr,
            flush=True,
        )
    print(f"{len(results)} carcasses played, {options.half} half, state {label}")
    table("In all", {"with the butcher": list(results.values())})
    for name in ("snr_db", "voice", "noise", "rhythm", "plan"):
        groups: dict[str, list[Result]] = {}
        for case, found in results.items():
            groups.setdefault(str(getattr(case, name)), []).append(found)
        table(f"By {name}", groups)
    if options.wrong:
        for case, found in results.items():
            for reason in found.reasons:
                print(f"carcass {case.number} (seed {case.seed}): {reason}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
