"""Load changes found, missed, invented, their error and delay: our method, a baseline, a library.

Run: python tests/benchmarks/weighing/load_changes.py [sessions a kind] [dev|test] [kind]

200 a kind is 1,400 sessions. Development seeds by default; `test` takes the seeds kept for the final table.
Intervals are Clopper-Pearson, 95 %. See pan.py for the instrument, sessions.py for the work, scoring.py
for what counts as true.
"""

from __future__ import annotations

import os
import sys
import time
from itertools import pairwise
from pathlib import Path

import methods
import numpy as np
from scipy.stats import beta
from scoring import Report, Score, score
from sessions import KINDS, TEST_SEEDS_FROM, Kind, session

from handsfree.testing.scripted_scale import chunks_of
from handsfree.weighing.account import weigh_all
from handsfree.weighing.capture import open_capture
from handsfree.weighing.shapes import find_shapes
from handsfree.weighing.weigher import Weigher

METHODS: dict[str, methods.Method] = {
    "ours": methods.ours,
    "flag and dead band": methods.flag_and_dead_band,
    "PELT, offline": methods.pelt,
}
REAL = Path(os.environ.get("HANDSFREE_REAL_DATA", Path(__file__).parents[4] / "shared/real")) / "scale"


def interval(hits: int, of: int) -> str:
    """Clopper-Pearson, 95 %."""
    low = float(beta.ppf(0.025, hits, of - hits + 1)) if hits else 0.0
    high = float(beta.ppf(0.975, hits + 1, of - hits)) if hits < of else 1.0
    return f"[{100 * low:.2f}, {100 * high:.2f}]"


def parameters(kind: Kind, scales: list[object]) -> str:
    """Smallest and greatest of every parameter drawn."""
    parts = []
    for name in ("d_g", "rate_hz", "pan_g", "natural_hz", "damping", "filter_s", "noise_d", "shake_m_s2",
                 "hum_m_s2", "drift_d_per_min", "hysteresis_d", "judged_s", "jitter"):  # fmt: skip
        values = [float(getattr(each, name)) for each in scales]
        parts.append(f"{name} {min(values):.3g} to {max(values):.3g}")
    return f"  {kind.name}: " + ", ".join(parts)


def cpu_share() -> float:
    """Part of one core that a stream of 20 lines a second takes."""
    kind = next(kind for kind in KINDS if kind.name == "5 to 20")
    one = next(s for s in (session(kind, seed) for seed in range(10_000, 10_200)) if s.scale.rate_hz == 20.0)
    weigher, chunks = methods.weigher_of(one), chunks_of(one.lines)
    began = time.process_time()
    for chunk in chunks:
        weigher.feed(chunk)
    return (time.process_time() - began) / (chunks[-1].t_ns / 1e9)


def real_streams() -> None:
    """What the weigher makes of recorded instruments; their own flags are the only judge there is."""
    print("Real streams (no truth beside the instrument's own flag):")
    if not REAL.exists():
        print(f"  none at {REAL}")
        return
    for path in sorted(REAL.glob("*.bin")):
        for transport in open_capture(path):
            account = weigh_all(transport, Weigher("bench", find_shapes("auto"), unit="kg"))
            stable = [each["g"] for each in account["indications"] if each["stable"]]
            plateaus = {each["g"] for each in account["plateaus"]}
            moved = sum(1 for a, b in pairwise(stable) if a != b)
            print(
                f"  {path.name}: shape {account['shape']}, {len(account['indications'])} indications, "
                f"{account['torn']} torn, {len(stable)} flagged stable ({moved} steps between them), "
                f"{len(account['plateaus'])} plateaus "
                f"({sum(p in stable for p in plateaus)} of {len(plateaus)} values "
                f"flagged stable too), {len(account['load_changes'])} load changes"
            )


def main() -> None:
    """Print the tables."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 20
    test = len(sys.argv) > 2 and sys.argv[2] == "test"
    wanted = sys.argv[3] if len(sys.argv) > 3 else ""
    base = TEST_SEEDS_FROM if test else 0
    print(f"{count} generated sessions a kind, {'test' if test else 'development'} seeds")
    print(f"{'':44}{'true':>6} {'found':>8} {'right to 1 d':>13} {'95 %':>16} {'1 d of mass':>12} "
          f"{'missed':>7} {'invented':>9} {'/10,000':>8} {'hands':>6} {'delay p50/p95 s':>16}")  # fmt: skip
    drawn = []
    for number, kind in enumerate(KINDS):
        if wanted and wanted not in kind.name:
            continue
        scores = {name: Score() for name in METHODS}
        scales: list[object] = []
        for seed in range(base + 10_000 * number, base + 10_000 * number + count):
            one = session(kind, seed)
            scales.append(one.scale)
            for name, method in METHODS.items():
                reports: list[Report] = method(one)
                score(one, reports, scores[name])
        drawn.append(parameters(kind, scales))
        for name, each in scores.items():
            delay = np.percentile(each.delays_s or [np.nan], [50, 95])
            said = "      offline" if "offline" in name else f"{delay[0]:.2f}/{delay[1]:.2f}"
            print(
                f"{kind.name:24}{name:20}{each.true:6d} {each.found / each.true:8.2%} "
                f"{each.right / each.true:13.2%} {interval(each.right, each.true):>16} "
                f"{each.right_mass / each.true:12.2%} {each.true - each.found:7d} {each.invented:9d} "
                f"{1e4 * each.invented / each.true:8.1f} {each.hands:6d} {said:>16}"
            )
        for line in scores["ours"].faults[:6]:
            print("      ", line)
    print("Parameters drawn, least and greatest:", *drawn, sep="\n")
    print(f"CPU share of one core at 20 lines a second: {cpu_share():.2%}")
    real_streams()


if __name__ == "__main__":
    main()
