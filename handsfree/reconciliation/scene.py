"""What hypotheses are made from: one balance, what is known around it, and how well masses fit."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from math import exp, fsum, hypot, log, sqrt

from handsfree.reconciliation.account import Weighing
from handsfree.reconciliation.anatomy import PARTS, Parts
from handsfree.reconciliation.balance import Balance
from handsfree.reconciliation.distributions import rounding
from handsfree.reconciliation.effects import Effect, log_normal_density
from handsfree.reconciliation.hypotheses import (
    ANY_LOG_SD,
    ANY_SHARE,
    PAIR_LOG_SD,
    SAME_CUT_LOG_SD,
    Odds,
)
from handsfree.reconciliation.instruments import ScaleData
from handsfree.reconciliation.plan import Expected, Plan
from handsfree.reconciliation.weighings import scale_data

#: A weighing is held against its name with no less spread than this: cut lines and bullets
#: (common practice, no source).
LEAST_NAME_LOG_SD = 0.2
#: The same against its other side.
LEAST_PAIR_LOG_SD = 0.1
#: The usual spread of left against right counts like so many pairs seen (our own choice).
PAIRS_OF_PRIOR = 4
#: ... and one pair, as with a neighbour left on one side, tells no more than this (logarithm).
MOST_PAIR_LOG = 0.2
#: How well the size of a carcass shows in the shares of its pieces at best, and from how many cuts.
SIZE_LOG_SD, SIZE_FROM_CUTS = 0.08, 5
#: The size that shares show speaks for another dressed weight at most so strongly, and against it less
#: so (logarithms): a plan whose shares are all wrong is commoner than a false dressed weight.
MOST_LOG_SIZE, LEAST_LOG_SIZE = 20.0, 7.0
#: One piece in so many is cut quite otherwise than usual, or keeps a neighbour on it; its mass is then
#: spread like this (common practice, no source). So an odd weight alone is no proof of anything.
ODD_RATE, ODD_LOG_SD = 0.03, 0.6
#: No evidence from masses alone counts for more or less than this.
MOST_EVIDENCE = 1e6


@dataclass(frozen=True)
class Scene:
    """One balance and what is known around it."""

    balance: Balance
    scales: Mapping[str, ScaleData]
    plan: Plan | None = None
    odds: Odds = field(default_factory=Odds)
    _usual: dict[tuple[int, bool], Effect | None] = field(default_factory=dict, repr=False, compare=False)

    @cached_property
    def pieces(self) -> list[Weighing]:
        """The weighings that count."""
        return self.balance.account.standing()

    @property
    def parts(self) -> Parts:
        """Which cuts are parts of which."""
        return self.plan.parts if self.plan is not None else PARTS

    @property
    def whole_mg(self) -> float:
        """What shares are taken of: the dressed weight, or the sum of the pieces without one."""
        return float(self.balance.dressed_mg or self.balance.pieces_mg or 1)

    def any_effect(self) -> Effect:
        """The mass of a piece of which nothing is known."""
        return Effect(ANY_SHARE * self.whole_mg, ANY_LOG_SD)

    def effect_of(self, item: Expected) -> Effect:
        """The mass of an absent item: from its other side, its own kind, its share, or any cut's."""
        same = [piece for piece in self.pieces if piece.cut == item.cut]
        other = [p for p in same if item.side and p.side and p.side != item.side]
        # Tubs of trim are filled as it comes; chops and the like are cut to one size.
        same_log_sd = SAME_CUT_LOG_SD if item.side or item.count > 1 else max(SAME_CUT_LOG_SD, item.spread)
        for siblings, log_sd in ((other, self.pair_log_sd), (same, same_log_sd)):
            count, mass_mg = sum(p.count for p in siblings), sum(p.mass_mg for p in siblings)
            if count > 0 and mass_mg > 0:
                return Effect(mass_mg / count * item.count, log_sd)
        if item.share:
            return Effect(item.share * item.count * self.whole_mg, item.spread)
        return self.any_effect()

    @cached_property
    def pair_log_sd(self) -> float:
        """How unevenly left and right of one cut come out, judged by this carcass's own pairs.

        The usual spread is worth `PAIRS_OF_PRIOR` pairs: scale of the scaled inverse chi-square
        posterior of a variance with known mean 0 (Gelman et al., Bayesian Data Analysis, 3rd edition, 2.6).
        """
        sides: dict[str, dict[str, list[Weighing]]] = {}
        for piece in self.pieces:
            if piece.cut and piece.side and piece.mass_mg > 0:
                sides.setdefault(piece.cut, {}).setdefault(piece.side, []).append(piece)
        pairs = [(*two["left"], *two["right"]) for two in sides.values() if {"left", "right"} <= set(two)]
        squares = [
            min(MOST_PAIR_LOG, abs(log(one.mass_mg * two.count / (two.mass_mg * one.count)))) ** 2
            for one, two in (pair for pair in pairs if len(pair) == 2)
        ]
        return sqrt((PAIRS_OF_PRIOR * PAIR_LOG_SD**2 + fsum(squares)) / (PAIRS_OF_PRIOR + len(squares)))

    def usual(self, piece: Weighing, *, alone: bool = True) -> Effect | None:
        """The mass this weighing would have by its name, None when nothing tells.

        Its other side tells best, then the share that the plan has for it.

        Args:
            piece: The weighing.
            alone: Only this weighing is in doubt: its other side is a witness.
        """
        key = (id(piece), alone)  # the pieces live as long as the balance that is looked at
        if key not in self._usual:
            self._usual[key] = self._usual_of(piece, alone=alone) if piece.cut else None
        return self._usual[key]

    def _usual_of(self, piece: Weighing, *, alone: bool) -> Effect | None:
        sides = {"left", "right"} if alone else set()
        other = [p for p in self.pieces if p.cut == piece.cut and {p.side, piece.side} == sides]
        count, mass_mg = sum(p.count for p in other), sum(p.mass_mg for p in other)
        if len(other) == 1 and mass_mg > 0:
            return Effect(mass_mg / count * piece.count, max(PAIR_LOG_SD, LEAST_PAIR_LOG_SD))
        tubs = sum((p.cut, p.side) == (piece.cut, piece.side) for p in self.pieces)
        for item in self.plan.expected if self.plan is not None else ():
            if tubs > item.count == 1:  # dice in three tubs: each is a part of the share only
                continue
            if item.cut == piece.cut and item.share and piece.side in ("", item.side):
                mass = item.share * piece.count * self.whole_mg
                return Effect(mass, max(item.spread, LEAST_NAME_LOG_SD))
        return None

    def fit(self, piece: Weighing, effect: Effect, *, mass_mg: float | None = None) -> float:
        """How much better a weighing fits this effect's mass than any cut's at all.

        Args:
            piece: The weighing.
            effect: What it is held against.
            mass_mg: Its mass if it is not as recorded.
        """
        mass = piece.mass_mg if mass_mg is None else mass_mg
        if mass <= 0 or effect.median_mg <= 0 or effect.log_sd <= 0:
            return 0.0
        any_density = log_normal_density(mass, ANY_SHARE * self.whole_mg, ANY_LOG_SD)
        density = log_normal_density(mass, effect.median_mg, effect.log_sd)
        return min(density / any_density, MOST_EVIDENCE) if any_density else MOST_EVIDENCE

    def log_evidence(
        self, piece: Weighing, true_mg: float, stretch: float = 1.0, *, alone: bool = True
    ) -> float:
        """Ln of how much better this true mass fits the name than the recorded mass does; 0 if untold.

        Args:
            piece: The weighing as recorded.
            true_mg: What it would really have weighed.
            stretch: Derivative of the true mass by the recorded one: a density is compared.
            alone: Only this weighing is in doubt.
        """
        usual = self.usual(piece, alone=alone)
        if true_mg <= 0:
            return -log(MOST_EVIDENCE)
        if usual is None or piece.mass_mg <= 0:
            return 0.0
        found = log(stretch * _by_name(true_mg, usual) / _by_name(piece.mass_mg, usual))
        return max(-log(MOST_EVIDENCE), min(log(MOST_EVIDENCE), found))

    def fit_to_name(self, piece: Weighing) -> float:
        """How much better a weighing fits its own name than any cut's; 1 when nothing tells."""
        usual = self.usual(piece)
        if usual is None or piece.mass_mg <= 0:
            return 1.0
        any_density = log_normal_density(piece.mass_mg, ANY_SHARE * self.whole_mg, ANY_LOG_SD)
        any_density = max(any_density, 1e-300)
        return max(1 / MOST_EVIDENCE, min(MOST_EVIDENCE, _by_name(piece.mass_mg, usual) / any_density))

    def room(self, piece: Weighing) -> int | None:
        """How many more of this name are recorded than the plan has; None where it has none of it."""
        if self.plan is None:
            return None
        expected = [item for item in self.plan.expected if item.cut == piece.cut]
        have = sum(p.count for p in self.pieces if (p.cut, p.side) == (piece.cut, piece.side))
        there = sum(item.count for item in expected if not item.side or item.side == piece.side)
        return have - there if expected else None

    def room_factor(self, piece: Weighing) -> float:
        """How much likelier no piece of its own: more if the plan has less of this name.

        Less if it has just so many: then the piece that was truly of this name would be absent too.
        """
        over = self.room(piece)
        if over is None:
            return 1.0
        return self.odds.over_plan if over > 0 else self.odds.needed if piece.side else 1.0

    def agreement(self, off_mg: float, piece: Weighing, readings: float, by_chance_mg: float) -> float:
        """How much better two masses agree than chance would have it.

        Args:
            off_mg: What they differ by.
            piece: One of the two weighings.
            readings: √ of the number of weighings in the difference.
            by_chance_mg: Standard deviation of the difference of two unrelated masses.
        """
        scale = scale_data(piece, self.scales)
        digits_mg = sqrt(2) * rounding(piece.d_mg or scale.d_mg)
        u_mg = readings * max(piece.u_mg, hypot(digits_mg, scale.s_mg), 1.0)
        chance_mg = max(by_chance_mg, u_mg)
        # The ratio of two normal densities, as one exponential: far out both would be 0 to a float.
        return chance_mg / u_mg * exp(-0.5 * ((off_mg / u_mg) ** 2 - (off_mg / chance_mg) ** 2))

    def size_evidence(self, true_dressed_mg: float) -> float:
        """How much better the shares of the pieces fit this dressed weight than the recorded one."""
        shown = self._shown_size
        dressed_mg = self.balance.dressed_mg
        if true_dressed_mg <= 0:
            return 0.0
        if shown is None or not dressed_mg:
            return 1.0
        log_size, sd = shown
        off, now = (log(size) - log_size for size in (true_dressed_mg, dressed_mg))
        return exp(max(-LEAST_LOG_SIZE, min(MOST_LOG_SIZE, (now**2 - off**2) / (2 * sd**2))))

    @cached_property
    def _shown_size(self) -> tuple[float, float] | None:
        """Ln of the dressed weight that the shares of the pieces show, and its standard deviation."""
        if self.plan is None:
            return None
        cuts: dict[str, list[tuple[float, float]]] = {}
        for item in self.plan.expected:
            mine = [p for p in self.pieces if p.cut == item.cut and p.side == item.side and p.mass_mg > 0]
            count, mass_mg = sum(p.count for p in mine), sum(p.mass_mg for p in mine)
            if item.share and count:
                shown = log(mass_mg / (item.share * count))
                cuts.setdefault(item.cut, []).append((shown, max(item.spread, LEAST_NAME_LOG_SD)))
        if len(cuts) < SIZE_FROM_CUTS:
            return None
        # Left and right of one cut tell one thing: a cut counts once.
        told = [(fsum(size for size, _ in row) / len(row), row[0][1] ** -2) for row in cuts.values()]
        weight = fsum(w for _, w in told)
        return fsum(size * w for size, w in told) / weight, hypot(1 / sqrt(weight), SIZE_LOG_SD)


def _by_name(mass_mg: float, usual: Effect) -> float:
    """Density of a piece's mass by its name: usual for the most part, odd for the rest."""
    plain = log_normal_density(mass_mg, usual.median_mg, usual.log_sd)
    odd = log_normal_density(mass_mg, usual.median_mg, max(ODD_LOG_SD, usual.log_sd))
    return max((1 - ODD_RATE) * plain + ODD_RATE * odd, 1e-300)
