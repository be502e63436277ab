"""How well faults of simulated carcasses are found: printed tables, no timed assertion.

Data: carcasses drawn by `carcasses.py` from the parameters printed above the table, faults done to
them by `faults.py` and `circumstances.py`, as often as `population.py` says. Prior odds and words were
set while looking at the development seed only; the table is made with the test seed.

    python tests/benchmarks/reconciliation/test_reconciliation_detection.py [carcasses] [seed]
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field, replace
from time import thread_time

import numpy as np
from bound import FALSE_ALARM_RATE, Bound
from calibration import brier_score, expected_calibration_error, reliability
from carcasses import PARAMETERS, Carcass, Rng, carcass
from faults import Case
from population import FAULTS, case_of
from records import SCALES, Knowledge, account_of, block_plan, tells

from handsfree.reconciliation.instruments import (
    PROCESS_BANDSAW,
    PROCESS_BY_HAND,
    PROCESS_UNKNOWN,
    ProcessLoss,
)
from handsfree.reconciliation.plan import Plan
from handsfree.reconciliation.reconcile import Reconciliation, reconcile_account

DEVELOPMENT_SEED = 1
TEST_SEED = 20261125
FULL = 22_000

#: Share of all simulated carcasses that a row gets; the others share what is left.
SHARES = {"complete": 0.20, "missing": 0.10, "missing, 1.5 to 2 %": 0.10, "called, not weighed": 0.06}
MISMATCH_SHARE = 0.16
COMPLETE = ("complete", "complete, an idle call", "complete, haunches kept whole")
#: Kinds of fault that a test of the unaccounted mass can be held against the bound for.
BOUNDED = (
    "missing", "missing, 1.5 to 2 %", "called, not weighed", "logged twice", "weighed again, unnamed",
    "container as meat", "container with a piece", "tray left on the scale", "wrong unit, one piece",
    "wrong unit, from some moment", "wrong unit, dressed", "dressed in skin", "dressed with its hook",
)  # fmt: skip


@dataclass
class Row:
    """What came of the carcasses of one row."""

    name: str
    cases: list[Case] = field(default_factory=list)
    outcomes: list[Reconciliation] = field(default_factory=list)
    times_ms: list[float] = field(default_factory=list)

    def judge(self, case: Case, knowledge: Knowledge, plan: Plan | None) -> None:
        """Reconcile one carcass and keep what came of it."""
        account = account_of(case)
        start = thread_time()
        outcome = reconcile_account(account, SCALES, knowledge.process_for(case), plan)
        self.times_ms.append(1000 * (thread_time() - start))
        self.cases.append(case)
        self.outcomes.append(outcome)

    def share(self, test: Callable[[Case, Reconciliation], bool]) -> float:
        """The share of the carcasses of which this is true."""
        return float(np.mean([test(c, o) for c, o in zip(self.cases, self.outcomes, strict=True)]))

    @property
    def verdict(self) -> float:
        """Share whose balance does not come out."""
        return self.share(lambda _, outcome: outcome.verdict.questioned)

    @property
    def alarm(self) -> float:
        """Share in which something is told to be looked at, by the balance or by the record."""
        return self.share(lambda _, outcome: outcome.questioned)

    def named(self, among: int) -> float:
        """Share in which the truth is among the first suspects."""
        return self.share(lambda case, outcome: any(tells(case, s) for s in outcome.suspects[:among]))


def mismatches() -> Iterator[tuple[str, str, Callable[[Case], Knowledge]]]:
    """What is known is less or wrong: name, fault, what is told for a case."""
    right = Knowledge()
    for fault in ("complete", "missing"):
        yield f"{fault}; no plan", fault, lambda _: replace(right, plan=False)
        yield f"{fault}; way of cutting unknown", fault, lambda _: Knowledge(PROCESS_UNKNOWN)
        yield f"{fault}; unknown, mean 0.3 % too low", fault, lambda _: Knowledge(_lower(PROCESS_UNKNOWN))
        yield (
            f"{fault}; right preset, mean 0.3 % too low",
            fault,
            lambda case: Knowledge(_lower(_preset(case))),
        )
        yield (
            f"{fault}; learned, mean 0.1 % too low",
            fault,
            lambda case: Knowledge(_lower(_preset(case), 0.001)),
        )
        yield f"{fault}; all shares 20 % too high", fault, lambda _: replace(right, shares=1.2)


def _preset(case: Case) -> ProcessLoss:
    return PROCESS_BY_HAND if case.carcass.way_of_cutting == "by hand" else PROCESS_BANDSAW


def _lower(process: ProcessLoss, by: float = 0.003) -> ProcessLoss:
    return replace(process, cutting=process.cutting - by)


def with_shares(plan: Plan, factor: float) -> Plan:
    """The plan with all shares multiplied."""
    expected = tuple(replace(i, share=i.share and min(1.0, i.share * factor)) for i in plan.expected)
    return replace(plan, expected=expected)


def run(carcasses: int, seed: int) -> dict[str, Row]:
    """Simulate, reconcile, and print the tables; returns the rows by name."""
    rng = np.random.default_rng(seed)
    plan = block_plan()
    print(f"{PARAMETERS}\nplan: the shipped block plan with the shipped shares; losses: the shipped presets")
    print(f"{carcasses} carcasses, seed {seed}\n")
    bound = Bound(np.random.default_rng(seed + 1), max(600, carcasses // 2))
    rows = {name: _row(name, carcasses, rng, plan) for name in FAULTS}
    _print_rows(rows.values(), bound)
    print("\nwhat is known is less or wrong:")
    others = {}
    each = max(6, round(carcasses * MISMATCH_SHARE / 12))
    for name, fault, knowledge_of in mismatches():
        others[name] = row = Row(name)
        for _ in range(each):
            case = case_of(fault, rng, carcass)
            known = knowledge_of(case)
            row.judge(case, known, with_shares(plan, known.shares) if known.plan else None)
    _print_rows(others.values(), bound)
    _print_targets(rows, bound)
    _print_calibration(rows)
    return rows | others


def _row(name: str, carcasses: int, rng: Rng, plan: Plan) -> Row:
    rest = (1 - MISMATCH_SHARE - sum(SHARES.values())) / (len(FAULTS) - len(SHARES))
    row = Row(name)
    for _ in range(max(10, round(carcasses * SHARES.get(name, rest)))):
        row.judge(case_of(name, rng, carcass), Knowledge(), plan)
    return row


def _print_rows(rows: Iterable[Row], bound: Bound) -> None:
    print(f"{'':40} carcasses  verdict    alarm  first  first two  LR bound  processor ms (median, p95)")
    for row in rows:
        fault = row.cases[0].fault
        shown = f"{_power(bound, row):.2%}" if fault in BOUNDED else ""
        p50, p95 = np.percentile(row.times_ms, [50, 95])
        print(
            f"{row.name:40} {len(row.cases):9}  {row.verdict:7.2%}  {row.alarm:7.2%}  {row.named(1):6.1%}"
            f"  {row.named(2):8.1%}  {shown:>8}  {p50:.1f}, {p95:.1f}"
        )


def _power(bound: Bound, row: Row) -> float:
    pairs: list[tuple[Carcass, float]] = [(case.carcass, case.moved_g) for case in row.cases]
    return bound.mean_power(pairs)


def _print_targets(rows: dict[str, Row], bound: Bound) -> None:
    null = [1 - _nothing(o) for name in COMPLETE for o in rows[name].outcomes]
    threshold = float(np.quantile(null, 1 - FALSE_ALARM_RATE))
    print(f"\nheld against the likelihood-ratio bound at {FALSE_ALARM_RATE:.0%} false alarms:")
    print(f"{'':32} found  found at the same rate of false alarms  bound  ratio")
    for name in BOUNDED[:3]:
        row = rows[name]
        at_rate = row.share(lambda _, outcome: 1 - _nothing(outcome) > threshold)
        best = _power(bound, row)
        print(f"{name:32} {row.alarm:6.2%}  {at_rate:37.2%}  {best:6.2%}  {at_rate / best:.3f}")
    faultless = [o.questioned for name in COMPLETE for o in rows[name].outcomes]
    rate = float(np.mean(faultless))
    margin = 1.96 * (rate * (1 - rate) / len(faultless)) ** 0.5
    print(f"false alarms, complete carcasses: {rate:.2%} ± {margin:.2%} of {len(faultless)}")
    times = [ms for row in rows.values() for ms in row.times_ms]
    print(
        f"processor time a carcass: median {np.median(times):.1f} ms, p99 {np.percentile(times, 99):.1f} ms"
    )


def _nothing(outcome: Reconciliation) -> float:
    return next(s.posterior for s in outcome.suspects if str(s.kind) == "nothing wrong")


def _print_calibration(rows: dict[str, Row]) -> None:
    """Two reliability tables over a population with the stated rates of faults."""
    said: list[float] = []
    right: list[bool] = []
    fault_said: list[float] = []
    fault: list[bool] = []
    weights: list[float] = []
    for name, row in rows.items():
        for case, outcome in zip(row.cases, row.outcomes, strict=True):
            weights.append(FAULTS[name][1] / len(row.cases))
            said.append(outcome.suspects[0].posterior)
            right.append(tells(case, outcome.suspects[0]))
            fault_said.append(1 - _nothing(outcome))
            fault.append(not name.startswith("complete"))
    rates = ", ".join(f"{name} {rate}" for name, (_, rate) in FAULTS.items())
    print(f"\npopulation, of a thousand carcasses: {rates}")
    for title, p, t in (
        ("the first suspect is the truth", said, right),
        ("something is wrong", fault_said, fault),
    ):
        table = reliability(p, t, weights)
        print(f"\n{title}: posterior   carcasses  of the population  mean said  true")
        for row in table:
            print(
                f"{row.low:31.3f} to {row.high:.3f} {row.count:7}  {row.weight:17.2%}"
                f"  {row.said:9.3f}  {row.true:.3f}"
            )
        error, score = expected_calibration_error(table), brier_score(p, t, weights)
        print(f"expected calibration error {error:.4f}, Brier score {score:.4f}")


def test_faults_of_simulated_carcasses_are_found() -> None:
    rows = run(450, TEST_SEED)
    # Floors well below the figures of the full run, so that only a broken stage fails here.
    assert rows["missing"].alarm >= 0.95
    assert rows["missing"].named(1) >= 0.80
    assert rows["complete"].alarm <= 0.04
    assert rows["wrong unit, dressed"].named(2) >= 0.7
    assert rows["called, not weighed"].named(1) >= rows["missing"].named(1) - 0.1


if __name__ == "__main__":
    numbers = [int(argument) for argument in sys.argv[1:]]
    run(*(numbers + [FULL, TEST_SEED][len(numbers) :]))
