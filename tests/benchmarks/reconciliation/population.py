"""All faults, how often each happens, and carcasses with a fault to order."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from carcasses import Carcass, Rng
from circumstances import (
    drift,
    in_skin,
    other_carcass,
    process_off,
    something_else,
    unit_of_dressed,
    with_hook,
)
from faults import (
    Case,
    NotPossibleError,
    called,
    container,
    idle_call,
    miscalled,
    missing,
    never_named,
    none,
    small_missing,
    tray_left,
    twice,
    twice_unnamed,
    unit_from,
    unit_of_piece,
    whole_haunches,
    with_container,
)


def two(rng: Rng, carcass: Carcass) -> Case:
    """Two things: a piece missing, and another missing, a tray called dice, or a piece twice."""
    first = missing(rng, carcass)
    second = (missing, container, twice)[int(rng.integers(3))](rng, first.carcass)
    both = replace(second, fault="two at once", names=first.names + second.names)
    both.kinds = ("not logged", "called, not weighed") if len(both.names) == 2 else ("two things at once",)
    both.moved_g = first.moved_g + second.moved_g
    return both


Fault = Callable[[Rng, Carcass], Case]

#: Every fault, and how often it happens to a thousand carcasses of the population that the posteriors
#: are judged on (invented; not the recorder's prior odds).
FAULTS: dict[str, tuple[Fault, float]] = {
    "complete": (none, 755), "complete, haunches kept whole": (whole_haunches, 15),
    "complete, an idle call": (idle_call, 15), "missing": (missing, 50),
    "missing, 1.5 to 2 %": (small_missing, 15), "called, not weighed": (called, 25),
    "weighed, never named": (never_named, 30), "logged twice": (twice, 12),
    "weighed again, unnamed": (twice_unnamed, 12), "container as meat": (container, 8),
    "container with a piece": (with_container, 8), "tray left on the scale": (tray_left, 3),
    "wrong unit, one piece": (unit_of_piece, 2), "wrong unit, from some moment": (unit_from, 2),
    "wrong unit, dressed": (unit_of_dressed, 2), "mis-called": (miscalled, 15),
    "dressed in skin": (in_skin, 6), "dressed with its hook": (with_hook, 6),
    "dressed of another carcass": (other_carcass, 3), "scale off by 1 to 3 %": (drift, 4),
    "process loss 1 to 2 % more": (process_off, 4), "two at once": (two, 5),
    "something else": (something_else, 3),
}  # fmt: skip


def case_of(fault: str, rng: Rng, make: Callable[[Rng], Carcass]) -> Case:
    """A carcass with this fault; another carcass is taken where the fault cannot be done."""
    while True:
        try:
            return FAULTS[fault][0](rng, make(rng))
        except NotPossibleError:
            continue
