"""The guided check of a scale: what to put on next, and what was. Pure; hands-free: the pan is the button.

Each step is a mass put on and taken off. A load that is not the mass asked for (by more than a
fifth) is told and asked for again; nothing is taken for granted.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from handsfree.mass import format_g, format_kg
from handsfree.weighing.checking_limits import KnownMass
from handsfree.weighing.checking_result import CheckResult, Weighed, evaluate
from handsfree.weighing.messages import LoadChange

LOADINGS = 10
"""Loadings of one mass for the repeatability (R 76-1:2006 A.4.10 wants as many of class III, from memory)."""
_NEAR = 0.2
_CORNERS = ("in the middle", "near left", "far left", "far right", "near right")


@dataclass(frozen=True, slots=True)
class Step:
    """One loading that is wanted."""

    part: str
    """ "span", "repeat" or "corner"."""
    mass: KnownMass
    where: str = ""


def plan(masses: Sequence[KnownMass], *, corners: bool = False, loadings: int = LOADINGS) -> list[Step]:
    """The steps of a check: every mass once, one of them ten times, then its corners.

    The heaviest single one is repeated.
    """
    rising = sorted(masses, key=lambda each: each.mass_mg)
    steps = [Step("span", each) for each in rising]
    repeated = rising[-1]
    steps += [Step("repeat", repeated) for _ in range(loadings)]
    if corners:
        steps += [Step("corner", repeated, where) for where in _CORNERS]
    return steps


class Check:
    """Leads through a check.

    Args:
        steps: What is wanted, in order.

    Feed it the load changes of one scale; it gives sentences to say. `result` is there at the end.
    """

    def __init__(self, steps: Sequence[Step]) -> None:
        self._steps = list(steps)
        self._done: list[Weighed] = []
        self._on: LoadChange | None = None
        self._wrong_mg = 0
        self._d_mg = 0

    @property
    def done(self) -> bool:
        """Whether every loading was made."""
        return len(self._done) == len(self._steps)

    @property
    def loadings(self) -> int:
        """Loadings made so far."""
        return len(self._done)

    def opening(self) -> str:
        """The first sentence."""
        return f"Leave the pan empty for a moment. Then {self._wanted().lower()}"

    def feed(self, change: LoadChange) -> list[str]:
        """What to say after a load change."""
        if self.done:
            return []
        step, self._d_mg = self._steps[len(self._done)], max(self._d_mg, change.after.d_mg)
        mass_mg = step.mass.mass_mg
        if self._on is None and not self._wrong_mg:
            if abs(change.delta_mg - mass_mg) <= _NEAR * mass_mg:
                self._on = change
                return [f"{format_g(change.delta_mg)} grams. Take it off."]
            self._wrong_mg = change.delta_mg
            return [
                f"That is {format_kg(change.delta_mg)} kilograms, not {format_kg(mass_mg)}. Empty the pan."
            ]
        on_mg = self._on.delta_mg if self._on is not None else self._wrong_mg
        left_mg = on_mg + change.delta_mg
        if abs(left_mg) > max(5 * self._d_mg, _NEAR * _NEAR * abs(on_mg)):
            self._on, self._wrong_mg = None, left_mg
            return [f"There are still {format_g(left_mg)} grams on the pan. Empty the pan."]
        if self._on is not None:
            self._done.append(Weighed(step.mass, self._on.delta_mg))
        self._on, self._wrong_mg = None, 0
        return ["That is all. Thank you."] if self.done else [self._wanted()]

    def result(self) -> CheckResult | None:
        """The figures, as soon as there is one load and two loadings of one mass; None before."""
        made = {
            part: [w for s, w in zip(self._steps, self._done, strict=False) if s.part == part]
            for part in ("span", "repeat", "corner")
        }
        if not made["span"] or len(made["repeat"]) < 2:
            return None
        return evaluate(self._d_mg, made["span"], made["repeat"], made["corner"])

    def _wanted(self) -> str:
        step = self._steps[len(self._done)]
        same = [i for i, each in enumerate(self._steps) if each.part == step.part]
        number = f", {same.index(len(self._done)) + 1} of {len(same)}" if step.part == "repeat" else ""
        where = f" {step.where}" if step.where else ""
        return f"Put on {format_kg(step.mass.mass_mg)} kilograms{where}{number}."
