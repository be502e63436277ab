"""Faults of the dressed weight, the scale and the process: no one weighing is to blame."""

from __future__ import annotations

from dataclasses import replace

from carcasses import HOOK_G, Carcass, Rng
from faults import POUND_KG, Case, replace_weighings


def unit_of_dressed(_rng: Rng, carcass: Carcass) -> Case:
    """The dressed weight was read in pounds and taken for kilograms."""
    moved = carcass.dressed_g * (1 / POUND_KG - 1)
    return Case(carcass, "wrong unit, dressed", ("wrong unit",), moved_g=moved, dressed_factor=1 / POUND_KG)


def in_skin(rng: Rng, carcass: Carcass) -> Case:
    """The dressed weight was taken in skin, and nobody said so."""
    skin = carcass.dressed_true_g * float(rng.triangular(0.05, 0.075, 0.11))
    return Case(carcass, "dressed in skin", ("dressed weight in skin",), moved_g=skin, dressed_more_g=skin)


def with_hook(_rng: Rng, carcass: Carcass) -> Case:
    """The dressed weight was taken with the hook."""
    kinds = ("dressed weight with its hook",)
    return Case(carcass, "dressed with its hook", kinds, moved_g=HOOK_G, dressed_more_g=HOOK_G)


def other_carcass(rng: Rng, carcass: Carcass) -> Case:
    """The dressed weight is that of another carcass of the day."""
    factor = float(np_exp_normal(rng, 0.3))
    moved = carcass.dressed_g * (factor - 1)
    kinds = ("dressed weight of another carcass",)
    return Case(carcass, "dressed of another carcass", kinds, moved_g=moved, dressed_factor=factor)


def np_exp_normal(rng: Rng, sd: float) -> float:
    """A log-normal factor."""
    return float(rng.lognormal(0.0, sd))


def drift(rng: Rng, carcass: Carcass) -> Case:
    """The bench scale weighs 1 to 3 % too much or too little."""
    factor = 1 + float(rng.choice([-1, 1]) * rng.uniform(0.01, 0.03))
    weighings = [
        replace(
            one,
            net_g=round(one.net_g * factor / 5) * 5.0,
            after_g=one.before_g + round(one.net_g * factor / 5) * 5.0,
        )
        for one in carcass.weighings
    ]
    moved = -sum(one.net_g for one in carcass.weighings) * (factor - 1)
    return Case(replace_weighings(carcass, weighings), "scale off by 1 to 3 %", ("scale off",), moved_g=moved)


def process_off(rng: Rng, carcass: Carcass) -> Case:
    """Saw and knife took 1 to 2 % more than they do: the pieces are lighter in proportion."""
    more = float(rng.uniform(0.01, 0.02))
    weighings = [
        replace(
            one,
            net_g=round(one.net_g * (1 - more) / 5) * 5.0,
            after_g=one.before_g + round(one.net_g * (1 - more) / 5) * 5.0,
        )
        for one in carcass.weighings
    ]
    kinds = ("process loss taken wrongly", "scale off")
    changed = replace_weighings(carcass, weighings)
    return Case(changed, "process loss 1 to 2 % more", kinds, moved_g=more * carcass.dressed_true_g)


def something_else(rng: Rng, carcass: Carcass) -> Case:
    """Meat went away from every piece of trim (a dog): no weighing is wrong, none is missing."""
    part = float(rng.uniform(0.3, 0.8))
    lost = 0.0
    weighings = []
    for one in carcass.weighings:
        if one.part.cut in ("dice", "mince", "burger trim"):
            less = round(one.net_g * (1 - part) / 5) * 5.0
            lost += one.net_g - less
            weighings.append(replace(one, net_g=less, after_g=one.before_g + less))
        else:
            weighings.append(one)
    kinds = ("none of these", "unplanned piece not logged")
    return Case(replace_weighings(carcass, weighings), "something else", kinds, moved_g=lost)
