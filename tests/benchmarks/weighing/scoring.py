"""Truth of a session, and what a method made of it.

Truth: a stay is a stretch between two load changes in which the display, had nothing else happened (no
hand, no shaking, no noise), stays within half a d of its end (drip and drift: of its own trend) for
`stand_s` or more. A change is the step from one stay to the next; pieces that did not settle apart are
one change, and a method may also report them apart: then their sum counts, within 1 d for each.
Right is within 1 d of the difference a display at rest would show, with twice its hysteresis (at most
0.4 d) allowed against the value before rounding. Each further report is invented, also a pair of
pieces taken as one; except while a hand lay on the pan (and in the filter) for half a second or more:
a hand that lies still is a load, and those are counted by themselves, not as invented.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
from sessions import CELL_HZ, Session, stand_s


@dataclass(frozen=True, slots=True)
class Report:
    """A load change as a method gave it."""

    t_s: float
    """When it was given."""
    before_s: float
    """Last time of the value before."""
    after_s: float
    """Last time of the value after."""
    delta_g: float


@dataclass(frozen=True, slots=True)
class Stay:
    """A settled stretch: from when the pan began to move to it until the next load change."""

    moved_s: float
    settled_s: float
    end_s: float


@dataclass(slots=True)
class Score:
    """Counts over sessions."""

    true: int = 0
    found: int = 0
    right: int = 0
    right_mass: int = 0
    invented: int = 0
    hands: int = 0
    delays_s: list[float] = field(default_factory=list)
    faults: list[str] = field(default_factory=list)


def stays(session: Session) -> list[Stay]:
    """The stays of a session, in order; the first is the empty pan."""
    work, peace = session.work, session.run.peace_d
    moves = sorted(t for t, _, _, _ in work.loads)
    found: list[Stay] = []
    moved_s = 0.0
    for end_s in [*moves, work.duration_s]:
        first, last = int(moved_s * CELL_HZ), min(int(end_s * CELL_HZ), len(peace) - 1)
        part = peace[first:last]
        if len(part) < 2:
            continue
        trend = _trend(session, first, last)
        off = np.abs((part - part[-1]) - (trend - trend[-1])) > 0.5
        settled = first + (int(np.flatnonzero(off)[-1]) + 1 if off.any() else 0)
        settled_s = settled / CELL_HZ
        if end_s - settled_s >= stand_s(session.scale):
            found.append(Stay(moved_s, settled_s, end_s))
            moved_s = end_s
        # Otherwise it goes into the next one: the change still began when the pan first moved.
    return found


def _trend(session: Session, first: int, last: int) -> np.ndarray:
    """What drip takes away, in d; a load that loses juice is settled all the same."""
    times = session.run.times_s[first:last]
    lost = np.zeros(len(times))
    for t_s, long_s, rate in session.work.drips:
        lost -= rate * np.clip(times - t_s, 0.0, long_s) / session.scale.d_g
    return lost + session.scale.drift_d_per_min / 60 * times


def score(session: Session, reports: list[Report], into: Score) -> None:
    """Hold the reports of one method against the truth."""
    scale, truth = session.scale, stays(session)
    d_g, open_reports = session.scale.d_g, list(reports)
    hands = [(t, t + long_s) for t, long_s, _, _ in session.work.hands if long_s + scale.filter_s >= 0.5]
    grace_s = 0.15 + 1.0 / scale.rate_hz
    for before, after in pairwise(truth):
        into.true += 1
        mine = [r for r in open_reports if before.end_s < r.t_s <= after.end_s + grace_s]
        merged = _quick(session, before, after)
        best = _best(session, mine, before, after, merged=merged)
        if not best:
            expected = _expected_d(session, before, after.end_s)
            near = [r for r in mine if abs(r.delta_g / d_g - expected) < 0.3 * abs(expected) + 2]
            into.found += bool(near)
            into.faults.append(
                f"seed {session.seed} at {before.end_s:.2f} s: {expected * d_g:+.0f} g, d {d_g:.0f}, "
                f"given {[(round(r.t_s, 2), round(r.delta_g)) for r in mine]}"
            )
            if near:
                open_reports.remove(near[0])
            continue
        into.found += 1
        into.right += 1
        true = _expected_d(session, before, best[-1].after_s)
        into.right_mass += abs(sum(r.delta_g for r in best) / d_g - true) <= 1.0
        for report in best:
            open_reports.remove(report)
        if _undisturbed(session, before, after):
            into.delays_s.append(best[-1].t_s - after.settled_s)
    for extra in open_reports:
        if any(a - 0.2 <= extra.t_s <= b + 3.0 + 3 / scale.rate_hz for a, b in hands):
            into.hands += 1
        else:
            into.invented += 1
            into.faults.append(
                f"seed {session.seed} at {extra.t_s:.2f} s: invented {extra.delta_g:+.0f} g, d {d_g:.0f}"
            )


def _expected_d(session: Session, before: Stay, at_s: float) -> float:
    peace = session.run.peace_d
    return float(peace[min(_at(at_s), len(peace) - 1)] - peace[_at(before.end_s)])


def _at(t_s: float) -> int:
    """The last sample that is over by then."""
    return max(0, int(t_s * CELL_HZ) - 1)


def _quick(session: Session, before: Stay, after: Stay) -> bool:
    return sum(before.end_s <= t < after.end_s for t, _, _, _ in session.work.loads) > 1


def _best(session: Session, mine: list[Report], before: Stay, after: Stay, *, merged: bool) -> list[Report]:
    """The report, or the run of reports where pieces came close together, that comes to what is expected."""
    runs = [[r] for r in mine]
    if merged:
        runs += [mine[a:b] for a in range(len(mine)) for b in range(a + 2, len(mine) + 1)]
    for part in runs:
        end_s = max(after.settled_s, min(part[-1].after_s, after.end_s))
        expected = _expected_d(session, before, end_s)
        given = sum(r.delta_g for r in part) / session.scale.d_g
        was = session.run.peace_d[_at(before.end_s)]
        rounded = float(np.rint(was + expected) - np.rint(was))
        sticky = 1.0 + 2 * session.scale.hysteresis_d
        if min(abs(given - rounded) - 0.01, abs(given - expected) - sticky + 1.0) <= len(part):
            return part
    return []


def _undisturbed(session: Session, before: Stay, after: Stay) -> bool:
    work = session.work
    times = [t for t, *_ in work.hands] + [t for t, *_ in work.drips] + [a for a, _ in work.silences]
    times += [a for a, _ in work.garbled] + work.tares_s
    return not any(before.end_s - 6 < t < after.settled_s + 2.5 for t in times)
