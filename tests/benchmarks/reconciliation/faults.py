"""What goes wrong with a record: faults of every kind done to a simulated carcass, and the truth kept."""

from __future__ import annotations

from collections import Counter
from copy import copy
from dataclasses import dataclass, field, replace

from carcasses import CONTAINERS_G, HIND, Carcass, Indicated, Part, Rng, shown

POUND_KG = 0.45359237
#: Cuts that sound or look alike: a piece of the one is called by the other name.
TAKEN_FOR = {
    "shank": "flank", "flank": "shank", "loin": "rump", "topside": "silverside", "fillet": "flank",
    "thick flank": "flank", "shoulder": "shank", "breast": "fore shank",
}  # fmt: skip


@dataclass
class Case:
    """One carcass with its fault, and how it can be told."""

    carcass: Carcass
    fault: str
    kinds: tuple[str, ...] = ()
    """Kinds of suspect (as the recorder words them) that tell it rightly."""
    names: tuple[tuple[str, str], ...] = ()
    """Cut and side of the absent pieces it is about."""
    culprits: tuple[Indicated, ...] = ()
    """The weighings to put right: one of them must be pointed at where the kind points at any."""
    moved_g: float = 0.0
    """By how much the unaccounted mass is moved."""
    unnamed: list[Indicated] = field(default_factory=list)
    called: list[tuple[str, str]] = field(default_factory=list)
    dressed_factor: float = 1.0
    dressed_more_g: float = 0.0


#: Tubs that the shipped plan has; where there are more, a lost one is no planned piece.
PLANNED_TUBS = {"dice": 2, "mince": 2, "bone": 3}


class NotPossibleError(Exception):
    """This carcass has no piece to which the fault can be done."""


def none(_rng: Rng, carcass: Carcass) -> Case:
    """Nothing is wrong."""
    return Case(carcass, "complete", ("nothing wrong",))


def _pick(rng: Rng, carcass: Carcass, least: float, most: float = 1.0) -> Indicated:
    """A planned piece of this share of the dressed weight."""
    tubs = Counter(one.part.cut for one in carcass.weighings if not one.part.side)
    fit = [
        one
        for one in carcass.weighings
        if tubs[one.part.cut] <= PLANNED_TUBS.get(one.part.cut, 9)
        and least <= one.part.grams / carcass.dressed_true_g <= most
        and one.part.cut not in ("bloodshot", "haunch")
    ]
    if not fit:
        raise NotPossibleError
    return fit[int(rng.integers(len(fit)))]


def _without(carcass: Carcass, gone: Indicated) -> Carcass:
    """The record without this weighing, which never was: what follows in a tray is unchanged."""
    return replace_weighings(carcass, [one for one in carcass.weighings if one is not gone])


def replace_weighings(carcass: Carcass, weighings: list[Indicated]) -> Carcass:
    """The same carcass with another record."""
    changed = copy(carcass)
    changed.weighings = weighings
    return changed


def missing(rng: Rng, carcass: Carcass, least: float = 0.015, most: float = 1.0) -> Case:
    """A planned piece was never weighed."""
    gone = _pick(rng, carcass, least, most)
    part = gone.part
    if gone.way != "cleared pan" or any(one.way != "cleared pan" for one in carcass.weighings):
        # Readings of a run hang together: the piece is taken out by weighing the rest apart.
        _as_single_weighings(rng, carcass)
        gone = next(one for one in carcass.weighings if one.part is part)
    kinds = ("not logged", "called, not weighed")
    return Case(_without(carcass, gone), "missing", kinds, ((part.cut, part.side),), moved_g=part.grams)


def _as_single_weighings(rng: Rng, carcass: Carcass) -> None:
    carcass.weighings = [
        one
        if one.way == "cleared pan"
        else Indicated(
            one.part, net := shown(rng, one.part.grams * carcass.span, 5.0), 0.0, net, "cleared pan"
        )
        for one in carcass.weighings
    ]


def small_missing(rng: Rng, carcass: Carcass) -> Case:
    """A planned piece of 1.5 to 2 % of the dressed weight was never weighed."""
    return replace(missing(rng, carcass, 0.015, 0.02), fault="missing, 1.5 to 2 %")


def called(rng: Rng, carcass: Carcass) -> Case:
    """A piece was called and never weighed; an idle call of a piece that was weighed, now and then."""
    case = replace(missing(rng, carcass), fault="called, not weighed")
    case.called = list(case.names)
    return case


def idle_call(rng: Rng, carcass: Carcass) -> Case:
    """Nothing is wrong, but a piece that was weighed was called once more."""
    part = _pick(rng, carcass, 0.0).part
    return replace(none(rng, carcass), fault="complete, an idle call", called=[(part.cut, part.side)])


def whole_haunches(rng: Rng, carcass: Carcass) -> Case:
    """Nothing is wrong, but both haunches were kept whole, against the plan."""
    _as_single_weighings(rng, carcass)
    weighings = [one for one in carcass.weighings if one.part.cut not in (*HIND, "haunch")]
    for side in ("left", "right"):
        hind = [one for one in carcass.weighings if one.part.side == side and one not in weighings]
        whole = Part("haunch", side, 1, sum(one.part.grams for one in hind))
        net = shown(rng, whole.grams * carcass.span, 5.0)
        weighings.append(Indicated(whole, net, 0.0, net, "cleared pan"))
    return Case(replace_weighings(carcass, weighings), "complete, haunches kept whole", ("nothing wrong",))


def never_named(rng: Rng, carcass: Carcass) -> Case:
    """A piece was weighed and never named."""
    one = _pick(rng, carcass, 0.006)
    # Where the plan lacks nothing without it, that it has no name is all there is to say.
    kinds = ("unnamed weighing", "nothing wrong")
    names = ((one.part.cut, one.part.side),)
    return Case(carcass, "weighed, never named", kinds, names, (one,), unnamed=[one])


def twice(rng: Rng, carcass: Carcass, *, named: bool = True) -> Case:
    """A piece was put on the pan again and logged again, one time in three after another piece."""
    one = _pick(rng, carcass, 0.006)
    net = shown(rng, one.part.grams * carcass.span + rng.normal(0, 2), 5.0)
    again = Indicated(replace(one.part), net, 0.0, net, "cleared pan")
    place = carcass.weighings.index(one) + 1 + int(rng.random() < 1 / 3)
    weighings = [*carcass.weighings[:place], again, *carcass.weighings[place:]]
    case = Case(
        replace_weighings(carcass, weighings), "logged twice", ("logged twice",), (), (one, again), -net
    )
    return case if named else replace(
        case, fault="weighed again, unnamed", kinds=("logged twice", "unnamed weighing is no piece"),
        unnamed=[again], culprits=(again,),
    )  # fmt: skip


def twice_unnamed(rng: Rng, carcass: Carcass) -> Case:
    """A piece was put on the pan again; nobody named it."""
    return twice(rng, carcass, named=False)


def container(rng: Rng, carcass: Carcass) -> Case:
    """An empty tray was weighed and called dice or mince."""
    net = shown(rng, float(rng.choice(CONTAINERS_G)), 5.0)
    part = Part(str(rng.choice(["dice", "mince"])), "", 1, net)
    tray = Indicated(part, net, 0.0, net, "cleared pan")
    place = int(rng.integers(len(carcass.weighings)))
    weighings = [*carcass.weighings[:place], tray, *carcass.weighings[place:]]
    kinds = ("container counted as meat",)
    return Case(replace_weighings(carcass, weighings), "container as meat", kinds, (), (tray,), -net)


def _heavier(carcass: Carcass, start: int, length: int, more_g: float) -> list[Indicated]:
    return [
        replace(one, net_g=one.net_g + more_g, after_g=one.after_g + more_g)
        if start <= n < start + length
        else one
        for n, one in enumerate(carcass.weighings)
    ]


def with_container(rng: Rng, carcass: Carcass) -> Case:
    """A tray was weighed with a piece."""
    _as_single_weighings(rng, carcass)
    tray = round(float(rng.choice(CONTAINERS_G)) / 5) * 5.0
    start = int(rng.integers(len(carcass.weighings)))
    weighings = _heavier(carcass, start, 1, tray)
    kinds = ("container weighed with a piece", "tray left on the scale")
    changed = replace_weighings(carcass, weighings)
    return Case(changed, "container with a piece", kinds, moved_g=-tray)


def tray_left(rng: Rng, carcass: Carcass) -> Case:
    """A tray stayed on the scale and is in three to seven weighings."""
    _as_single_weighings(rng, carcass)
    tray = round(float(rng.choice(CONTAINERS_G)) / 5) * 5.0
    length = int(rng.integers(3, 8))
    start = int(rng.integers(len(carcass.weighings) - length))
    changed = replace_weighings(carcass, _heavier(carcass, start, length, tray))
    return Case(changed, "tray left on the scale", ("tray left on the scale",), moved_g=-tray * length)


def _in_pounds(one: Indicated) -> Indicated:
    pounds_as_kg = round(one.net_g / POUND_KG / 5) * 5.0
    return replace(one, net_g=pounds_as_kg, before_g=0.0, after_g=pounds_as_kg)


def unit_of_piece(rng: Rng, carcass: Carcass) -> Case:
    """One piece was read in pounds and taken for kilograms."""
    _as_single_weighings(rng, carcass)
    one = _pick(rng, carcass, 0.01)
    wrong = _in_pounds(one)
    weighings = [wrong if each is one else each for each in carcass.weighings]
    moved = one.net_g - wrong.net_g
    return Case(
        replace_weighings(carcass, weighings), "wrong unit, one piece", ("wrong unit",), (), (wrong,), moved
    )


def unit_from(rng: Rng, carcass: Carcass) -> Case:
    """From some moment on the scale showed pounds."""
    _as_single_weighings(rng, carcass)
    start = int(rng.integers(2, len(carcass.weighings) - 4))
    wrong = [_in_pounds(one) for one in carcass.weighings[start:]]
    moved = sum(one.net_g for one in carcass.weighings[start:]) - sum(one.net_g for one in wrong)
    changed = replace_weighings(carcass, [*carcass.weighings[:start], *wrong])
    return Case(changed, "wrong unit, from some moment", ("wrong unit",), (), tuple(wrong), moved)


def miscalled(rng: Rng, carcass: Carcass) -> Case:
    """A piece was called by a name like its own."""
    fit = [one for one in carcass.weighings if one.part.cut in TAKEN_FOR]
    one = fit[int(rng.integers(len(fit)))]
    wrong = replace(one, part=replace(one.part, cut=TAKEN_FOR[one.part.cut]))
    weighings = [wrong if each is one else each for each in carcass.weighings]
    kinds = ("called by another name",)
    names = ((one.part.cut, one.part.side),)
    return Case(replace_weighings(carcass, weighings), "mis-called", kinds, names, (wrong,))
