"""Simulated carcasses, cut and weighed: the truth that the benchmark knows and the recorder does not.

Nothing here comes from the reconciling code: carcasses are built from compartments (Dirichlet and
beta splits of primals, allometric bone, gamma losses), not from the log-normal shares of a plan;
weighings are really rounded, on scales with errors of their own. Only the record formats are shared.
Anatomy: primals of fallow bucks (Massey University MAgrSc thesis 1985, hdl 10179/14178: five means
that add to 100.7 %, divided by that here); bone 21.5 to 22.1 % (Stanisz et al. 2015, Ann. Anim. Sci.
15(4):1055), growing with the power 0.62 of the carcass (the thesis). The rest is invented, and said.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta

import numpy as np

Rng = np.random.Generator

SPECIES = {  # dressed kilograms: least, usual, most (triangular); ranges of larder weights, from memory
    "roe deer": (8, 14, 20), "fallow deer": (20, 30, 58), "sika deer": (20, 30, 45), "red deer": (40, 48, 59),
}  # fmt: skip
PRIMALS = {"neck": 12.6, "flank": 15.4, "shoulder": 17.8, "saddle": 15.5, "haunch": 39.4}
#: Meat cuts of each primal as parts of its boned meat, trim last; invented, near the trade's habit.
CUTS = {
    "haunch": {"topside": 21, "silverside": 19.5, "thick flank": 15.5, "rump": 13.5, "shank": 17.5, "": 13},
    "shoulder": {"shoulder": 68, "fore shank": 19, "": 13},
    "saddle": {"loin": 45, "fillet": 10.5, "double chops": 26, "": 18.5},
    "flank": {"flank": 30, "breast": 36, "": 34},
    "neck": {"neck": 58, "": 42},
}
TRIM = {"dice": 31, "mince": 31, "burger trim": 13, "pet trim": 15, "fat": 10}
LOSSES = {  # mean and cv of the loss to saw, knife and drip (gamma: skewed); from memory, no source
    "by hand": (0.0035, 0.34), "bandsaw": (0.0100, 0.33),
}  # fmt: skip
CONTAINERS_G = (640.0, 1150.0)
HOOK_G = 820.0
START = datetime(2026, 11, 25, 8, tzinfo=UTC)
PARAMETERS = """\
species roe, fallow, sika, red deer in equal parts; dressed kg triangular 8-14-20, 20-30-58, 20-30-45,
  40-48-59
primals Dirichlet (concentration 500) about the fallow means / 1.007; bone 21.8 % x (W/30 kg)^-0.38
  x gamma(cv 7 %)
cuts of a primal Dirichlet (concentration 220), left part beta(900, 900), the cut lines of each side
  Dirichlet (concentration 2500)
one carcass in four with bullet damage: 5 to 35 % of one primal's side goes to an unplanned "bloodshot" piece
trim Dirichlet (concentration 25) to dice, mince, burger trim, pet trim, fat; dice, mince, bone in 1 to 3 tubs
loss by cutting gamma: by hand 0.35 % cv 0.34, bandsaw 1.0 % cv 0.33, half of the larders each
one dressed weight in four is hot: loss 1.7 % (beta, sd 0.4 %) x (1 - exp(-t/T)), T 10 to 20 h, t 1 to 40 h
  log-uniform; cold ones hang 0.5 to 30 h log-uniform and dry 0.5 % a day (gamma, cv 0.5)
bench d 5 g, s 2 g, span within 0.05 % (uniform), place on the pan within 0.03 % (uniform), zero wanders
  0.5 g a piece; rail d 20 g, s 10 g, span within 0.08 % (uniform)
every indication really rounded, every zero anywhere in its digit
four ways of weighing: cleared pan, tray building, taking off, tubs on a tare captured once (equal parts)
harmless in every row, faulty or not: a planned piece left on its neighbour (one carcass in ten),
  one haunch kept whole against the plan (one in twenty), chops weighed in one or two lots"""


@dataclass
class Part:
    """One true weighing: grams of one cut, as it lies on the pan."""

    cut: str
    side: str
    count: int
    grams: float
    destination: str = "prime"


@dataclass
class Indicated:
    """One weighing as the scale showed it."""

    part: Part
    net_g: float
    before_g: float
    after_g: float
    way: str
    tare: str = ""


@dataclass
class Carcass:
    """The truth about one carcass, and its weighings."""

    species: str
    dressed_true_g: float
    dressed_g: float
    way_of_cutting: str
    hot: bool
    hours: float
    loss_g: float
    """All that was truly lost between the dressed weight and the pieces."""
    expected_loss_g: float
    """What somebody would expect who knows the way of cutting, the time and all means above."""
    weighings: list[Indicated]
    span: float
    begun: datetime = START
    extra: dict[str, object] = field(default_factory=dict)

    def noise_g(self) -> float:
        """What a faultless record leaves unaccounted, for one who knows all means."""
        weighed = sum(weighing.net_g for weighing in self.weighings)
        return self.dressed_g - weighed - self.expected_loss_g


def carcass(rng: Rng) -> Carcass:
    """A carcass as it is cut and weighed without any fault of the record."""
    species = str(rng.choice(list(SPECIES)))
    whole = 1000 * float(rng.triangular(*SPECIES[species]))
    way = str(rng.choice(list(LOSSES)))
    hot = bool(rng.random() < 0.25)
    hours = float(np.exp(rng.uniform(*np.log((1, 40) if hot else (0.5, 30)))))
    mean, cv = LOSSES[way]
    cutting = rng.gamma(1 / cv**2, mean * cv**2)
    chill, dry, chill_mean = _hanging(rng, hot, hours)
    loss = whole * (cutting + chill + dry)
    days = max(0.0, hours - 24 * hot) / 24
    expected = whole * (mean + chill_mean + 0.005 * days)
    parts = in_order(rng, harmless(rng, cut_up(rng, whole - loss)))
    dressed = shown(rng, whole * (1 + rng.uniform(-0.0008, 0.0008)) + rng.normal(0, 10), 20)
    span = float(1 + rng.uniform(-0.0005, 0.0005))
    weighings = weighed(rng, parts, span)
    return Carcass(species, whole, dressed, way, hot, hours, loss, expected, weighings, span)


def _hanging(rng: Rng, hot: bool, hours: float) -> tuple[float, float, float]:
    """Chilling and drying as fractions, and the mean of the chilling for this time."""
    drying = rng.gamma(4, 0.005 / 4) * max(0.0, hours - 24 * hot) / 24
    if not hot:
        return 0.0, drying, 0.0
    total = 0.05 * rng.beta(12, 23.3)  # mean 1.7 %, sd 0.4 %
    done = (1 - np.exp(-hours / rng.uniform(10, 20))) / (1 - np.exp(-24 / 14.5))
    times = np.linspace(10, 20, 41)
    mean_done = float(np.mean((1 - np.exp(-hours / times)) / (1 - np.exp(-24 / 14.5))))
    return total * done, drying, 0.017 * mean_done


def split(rng: Rng, whole: float, parts: dict[str, float], concentration: float) -> dict[str, float]:
    """A mass split at random about given parts."""
    shares = np.array(list(parts.values()), dtype=float)
    drawn = rng.dirichlet(concentration * shares / shares.sum())
    return {name: whole * share for name, share in zip(parts, drawn, strict=True)}


def cut_up(rng: Rng, grams: float) -> list[Part]:
    """All true parts of a carcass: joints of both sides, trim, bone."""
    bone = grams * 0.218 * (grams / 30_000) ** -0.38 * rng.gamma(200, 1 / 200)
    trim = 0.0
    parts: list[Part] = []
    for primal, mass in split(rng, grams - bone, PRIMALS, 500).items():
        about = split(rng, 1.0, CUTS[primal], 220)
        for side, share in zip(("left", "right"), _halves(rng), strict=True):
            hurt = rng.random() < 0.25 / 10
            damage = mass * share * rng.uniform(0.05, 0.35) * hurt
            if hurt:
                parts.append(Part("bloodshot", "", 1, damage, "condemned"))
            for cut, piece in split(rng, mass * share - damage, about, 2500).items():
                if cut:
                    parts.append(Part(cut, side, 1, piece))
                else:
                    trim += piece
    parts = _unsided(rng, parts)
    for cut, mass in split(rng, trim, TRIM, 25).items():
        where = {"pet trim": "pet", "fat": "waste", "burger trim": "mince"}.get(cut, cut)
        parts += [Part(cut, "", 1, tub, where) for tub in _tubs(rng, mass, cut in ("dice", "mince"))]
    return parts + [Part("bone", "", 1, tub, "stock") for tub in _tubs(rng, bone, several=True)]


def _halves(rng: Rng) -> tuple[float, float]:
    left = float(rng.beta(900, 900))
    return left, 1 - left


def _tubs(rng: Rng, grams: float, several: bool) -> list[float]:
    tubs = int(rng.integers(1, 4)) if several else 1
    return [grams * share for share in rng.dirichlet([12.0] * tubs)]


def _unsided(rng: Rng, parts: list[Part]) -> list[Part]:
    """The neck is one piece; four double chops, two of each side, in one lot or two."""
    neck = sum(part.grams for part in parts if part.cut == "neck")
    chops = sum(part.grams for part in parts if part.cut == "double chops")
    rest = [part for part in parts if part.cut not in ("neck", "double chops")]
    lots = (4,) if rng.random() < 0.5 else (2, 2)
    sizes = [rng.gamma(150 * lot) for lot in lots]
    made = [
        Part("double chops", "", lot, chops * size / sum(sizes))
        for lot, size in zip(lots, sizes, strict=True)
    ]
    return [*rest, *made, Part("neck", "", 1, neck)]


NEIGHBOURS = {
    "fore shank": "shoulder", "fillet": "loin", "shank": "silverside", "rump": "topside", "flank": "breast",
    "thick flank": "topside",
}  # fmt: skip
HIND = ("topside", "silverside", "thick flank", "rump", "shank")


def harmless(rng: Rng, parts: list[Part]) -> list[Part]:
    """Ways of cutting that are no fault: a piece left on its neighbour, a haunch kept whole."""
    if rng.random() < 0.10:
        cut, side = str(rng.choice(list(NEIGHBOURS))), str(rng.choice(["left", "right"]))
        gone = next(part for part in parts if (part.cut, part.side) == (cut, side))
        host = next(part for part in parts if (part.cut, part.side) == (NEIGHBOURS[cut], side))
        host.grams += gone.grams
        parts = [part for part in parts if part is not gone]
    if rng.random() < 0.05:
        side = str(rng.choice(["left", "right"]))
        hind = [part for part in parts if part.side == side and part.cut in HIND]
        bone = max((part for part in parts if part.cut == "bone"), key=lambda part: part.grams)
        kept = bone.grams * 0.4
        bone.grams -= kept
        whole = Part("haunch", side, 1, sum(part.grams for part in hind) + kept)
        parts = [whole, *(part for part in parts if not any(part is one for one in hind))]
    return parts


def in_order(rng: Rng, parts: list[Part]) -> list[Part]:
    """As they come off the block: cut by cut, left and right together, trim and bone last."""
    sided = [part for part in parts if part.side]
    other = [part for part in parts if not part.side]
    cuts = list(dict.fromkeys(part.cut for part in sided))
    rng.shuffle(cuts)
    return sorted(sided, key=lambda part: cuts.index(part.cut)) + other


def shown(rng: Rng, grams: float, d: float) -> float:
    """What a scale shows of a net mass: its zero lies anywhere within the digit."""
    return float(np.round((grams + rng.uniform(-0.5, 0.5) * d) / d) * d)


def weighed(rng: Rng, parts: list[Part], span: float, d: float = 5.0) -> list[Indicated]:
    """The parts on the bench scale, one after the other, in one of four ways."""
    ways = ["cleared pan", "tray building", "taking off", "tubs"]
    way = ways[int(rng.integers(4))]
    tub_true = float(rng.choice(CONTAINERS_G))
    tub_shown = shown(rng, tub_true, d)
    made: list[Indicated] = []
    load, indicated, zero = 0.0, 0.0, 0.0
    for number, part in enumerate(parts):
        zero += rng.normal(0, 0.5)
        pan = span * (1 + rng.uniform(-0.0003, 0.0003))
        if way in ("tray building", "taking off") and part.cut != "bone":
            if number % 6 == 0 or (way == "taking off" and load < part.grams):
                load = 0.0 if way == "tray building" else sum(one.grams for one in parts[number : number + 6])
                indicated = 0.0 if load == 0.0 else round((load * span + zero + rng.normal(0, 2)) / d) * d
                # An empty pan indicates zero; a block is read with its load on.
            sign = 1 if way == "tray building" else -1
            load += sign * part.grams
            start_of_pan = way == "tray building" and indicated == 0.0
            off = rng.uniform(-0.5, 0.5) * d if start_of_pan else 0.0
            after = round((load * pan + zero + off + rng.normal(0, 2)) / d) * d
            name = "cleared pan" if start_of_pan else way
            made.append(Indicated(part, sign * (after - indicated), indicated, after, name))
            indicated = after
            continue
        if way == "tubs" and not part.side:
            after = round((part.grams + tub_true) * pan / d + rng.normal(0, 2) / d) * d
            made.append(Indicated(part, after - tub_shown, 0.0, after, "cleared pan", "tub"))
            continue
        net = shown(rng, part.grams * pan + rng.normal(0, 2), d)
        made.append(Indicated(part, net, 0.0, net, "cleared pan"))
    return made


def posted(start: datetime, hours: float, number: int) -> str:
    """When the weighing of this number was entered."""
    at = start + timedelta(hours=hours, seconds=75 * number)
    return at.isoformat().replace("+00:00", "Z")
