"""Runs the benchmarks one after the other: `python -m tests.benchmarks [NAME ...]` (`make bench`)."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

HERE = Path(__file__).parent
#: Those that are run by `make bench`; each is a script of its own with its own options.
SCRIPTS = {
    "weighing": ["weighing/load_changes.py", "200", "test"],
    "reconciliation": ["reconciliation/test_reconciliation_detection.py", "2000"],
    "season": ["reconciliation/season.py", "--carcasses", "3000"],
    "ledger": ["ledger/bench_ledger.py", "--entries", "50000", "--kills", "100"],
    "board": ["board/board_view.py", "--entries", "50000"],
    "front end": ["hearing/front_end.py"],
    "phrases": ["hearing/phrases.py", "--phrases", "3"],
    "people": ["hearing/people.py", "--noises", "pink", "--levels", "10", "--every", "2"],
    "false calls": ["hearing/false_calls.py"],
    "hearing end to end": ["hearing/end_to_end.py", "--phrases", "3", "--noises", "pink"],
    "reading a voice in": ["hearing/enrolment.py", "development", "3"],
    "rehearsed": ["pairing/rehearsed.py", "--carcasses", "5"],
    "played": ["pairing/played.py", "--carcasses", "2"],
    "hearing cost": ["hearing/cost.py"],
}


def main() -> int:
    """Run those named, or all; the exit status counts those that failed."""
    failed = 0
    for name in sys.argv[1:] or SCRIPTS:
        print(f"== {name}", flush=True)
        script, *options = SCRIPTS[name]
        done = subprocess.run(
            [sys.executable, str(HERE / script), *options], cwd=HERE.parents[1], check=False
        )
        failed += done.returncode != 0
    return failed


if __name__ == "__main__":
    sys.exit(main())
