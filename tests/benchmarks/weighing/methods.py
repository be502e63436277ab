"""Three ways to load changes on the same lines: ours, a simple baseline, a general change-point library."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import ruptures
from scoring import Report
from sessions import Session

from handsfree.testing.scripted_scale import chunks_of
from handsfree.weighing.messages import Condition, Indication, LoadChange
from handsfree.weighing.ports import Nothing
from handsfree.weighing.shapes import find_shapes
from handsfree.weighing.weigher import Weigher

SHAPES = find_shapes("auto")
_BY_NAME = {shape.name: shape for shape in SHAPES}

Method = Callable[[Session], list[Report]]


def weigher_of(session: Session, *, d_known: bool = True) -> Weigher:
    """A weigher as the settings of this scale would make it."""
    scale = session.scale
    return Weigher(
        "bench",
        [_BY_NAME[scale.shape]],
        round(scale.d_g * 1000) if d_known else None,
        silence_s=2.0 if scale.sends == "always" else None,
        first_is_whole=scale.sends != "always",
        silent_at_rest=scale.sends in {"once when stable", "on change"},
    )


def received(session: Session) -> list[object]:
    """Chunks, with the ticks of a port that is polled every tenth of a second between them."""
    out: list[object] = []
    now_ns = 0
    for chunk in chunks_of(session.lines):
        while chunk.t_ns - now_ns > 100_000_000:
            now_ns += 100_000_000
            out.append(Nothing(now_ns))
        out.append(chunk)
        now_ns = chunk.t_ns
    out += [Nothing(now_ns + 100_000_000 * i) for i in range(1, 15)]
    return out


def ours(session: Session) -> list[Report]:
    """The weigher of the recorder, live."""
    weigher = weigher_of(session)
    return [
        Report(each.t_ns / 1e9, m.before.end_ns / 1e9, m.after.end_ns / 1e9, m.delta_mg / 1000)
        for each in received(session)
        for m in weigher.feed(each)  # type: ignore[arg-type]
        if isinstance(m, LoadChange)
    ]


def readings(session: Session) -> list[Indication]:
    """The values as read, by the same reader, for the other two."""
    weigher = weigher_of(session)
    return [
        m
        for chunk in chunks_of(session.lines)
        for m in weigher.feed(chunk)
        if isinstance(m, Indication) and m.condition is Condition.NORMAL
    ]


def flag_and_dead_band(session: Session) -> list[Report]:
    """The scale's own flag, or three equal lines where there is none, and a dead band of two d."""
    d_mg, kept, recent, out = session.scale.d_g * 1000, None, [], []
    for each in readings(session):
        recent = [*recent[-2:], each.value_mg]
        still = each.stable if each.stable is not None else len(recent) == 3 and len(set(recent)) == 1
        if kept is not None and each.basis is not kept.basis:
            kept = None
        if not still:
            continue
        if kept is None:
            kept = each
        elif abs(each.value_mg - kept.value_mg) >= 2 * d_mg:
            at = each.t_ns / 1e9
            out.append(Report(at, kept.t_ns / 1e9, at, (each.value_mg - kept.value_mg) / 1000))
            kept = each
        else:
            kept = each  # the dead band follows drift
    return out


PENALTY = 12.0
"""Penalty of a change point over squared d. Set by judgement, not tuned; the figures below neither."""


def pelt(session: Session) -> list[Report]:
    """PELT with squared loss over the whole recording, afterwards; pieces of it that stand are plateaus."""
    values = readings(session)
    out: list[Report] = []
    for basis in dict.fromkeys(each.basis for each in values):
        part = [each for each in values if each.basis is basis]
        if len(part) < 8:
            continue
        d_mg = session.scale.d_g * 1000
        x = np.array([each.value_mg / d_mg for each in part])[:, None]
        ends = ruptures.KernelCPD(kernel="linear", min_size=3).fit(x).predict(pen=PENALTY)
        level: tuple[float, float] | None = None
        for first, last in zip([0, *ends], ends, strict=False):
            long_s = (part[last - 1].t_ns - part[first].t_ns) / 1e9
            values_d = x[first:last, 0]
            if long_s < 0.4 or np.std(values_d) > 1.5:
                continue
            now = float(np.rint(np.median(values_d[len(values_d) // 3 :])))
            end_s = part[last - 1].t_ns / 1e9
            if level is not None and abs(now - level[0]) >= 2:
                at = part[first].t_ns / 1e9
                out.append(Report(at + 0.4, level[1], end_s, (now - level[0]) * session.scale.d_g))
            level = now, end_s
    return sorted(out, key=lambda report: report.t_s)
