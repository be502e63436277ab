"""What weighing made of a whole stream, as plain data for JSON. Pure but for the transport it is given."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from handsfree.clock import seconds
from handsfree.mass import MG_PER_G
from handsfree.weighing.escapes import escape
from handsfree.weighing.messages import Indication, LoadChange, Plateau, ScaleEvent, Torn
from handsfree.weighing.ports import Ended, Transport
from handsfree.weighing.weigher import Weighed, Weigher


def weigh_all(transport: Transport, weigher: Weigher, *, timeout_s: float = 1.0) -> dict[str, Any]:
    """Weighs until the stream ends, and tells everything that came of it.

    Returns:
        JSON-able: scale, shape, indications, plateaus, load_changes, events, torn_frames, and the
        counts torn and asides. Masses in grams, times in seconds from the session's start.
    """
    found: list[Weighed] = []
    while True:
        received = transport.receive(timeout_s)
        found += weigher.feed(received)
        if isinstance(received, Ended):
            break
    return as_json(weigher, found)


def as_json(weigher: Weigher, found: Sequence[Weighed]) -> dict[str, Any]:
    """The messages of one weigher as plain data; see `weigh_all`."""
    shape = weigher.shape
    return {
        "scale": weigher.scale,
        "shape": shape.name if shape else None,
        "indications": [_indication(each) for each in found if isinstance(each, Indication)],
        "plateaus": [plateau_json(each) for each in found if isinstance(each, Plateau)],
        "load_changes": [load_change_json(each) for each in found if isinstance(each, LoadChange)],
        "events": [
            {"t_s": seconds(each.t_ns), "kind": each.kind.value, "detail": each.detail}
            for each in found
            if isinstance(each, ScaleEvent)
        ],
        "torn_frames": [
            {"t_s": seconds(each.t_ns), "line": escape(each.data), "reason": each.reason}
            for each in found
            if isinstance(each, Torn)
        ],
        "torn": weigher.torn,
        "asides": weigher.asides,
    }


def plateau_json(plateau: Plateau) -> dict[str, Any]:
    """A plateau as plain data."""
    return {
        "start_s": seconds(plateau.start_ns),
        "end_s": seconds(plateau.end_ns),
        "g": plateau.value_mg / MG_PER_G,
        "text": plateau.text,
        "basis": plateau.basis.value,
        "spread_g": plateau.spread_mg / MG_PER_G,
        "u_g": round(plateau.u_mg / MG_PER_G, 6),
        "d_g": plateau.d_mg / MG_PER_G,
    }


def load_change_json(change: LoadChange) -> dict[str, Any]:
    """A load change as plain data."""
    return {
        "onset_s": seconds(change.onset_ns),
        "t_s": seconds(change.t_ns),
        "delta_g": change.delta_mg / MG_PER_G,
        "u_g": round(change.u_mg / MG_PER_G, 6),
        "before": change.before.text,
        "after": change.after.text,
    }


def _indication(each: Indication) -> dict[str, Any]:
    return {
        "t_s": seconds(each.t_ns),
        "g": each.value_mg / MG_PER_G if each.condition.value == "normal" else None,
        "text": each.text,
        "unit": each.unit,
        "stable": each.stable,
        "basis": each.basis.value,
        "condition": each.condition.value,
    }
