"""What may have happened to a carcass whose balance is looked at: hypotheses with prior odds.

Odds are against "nothing is wrong" (odds 1) and include how well the weighings themselves fit the
hypothesis; how well the unaccounted mass fits is left to the ranking. The figures in `Odds` are
common practice, no source; a larder's own history is to sharpen them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from handsfree.reconciliation.account import Weighing
from handsfree.reconciliation.balance import Balance
from handsfree.reconciliation.effects import Effect, log_normal_density
from handsfree.reconciliation.instruments import ScaleData
from handsfree.reconciliation.plan import Expected, Plan


class SuspectKind(StrEnum):
    """What may have happened."""

    NOTHING = "nothing wrong"
    """What is left is scale and process noise."""
    NOT_LOGGED = "not logged"
    """A planned piece was cut and never recorded."""
    CALLED_NOT_WEIGHED = "called, not weighed"
    """A piece was called and no weight came."""
    UNPLANNED_NOT_LOGGED = "unplanned piece not logged"
    """A piece of which nothing is known was never recorded."""
    NOT_FINISHED = "not finished"
    """All that the plan still expects is not cut or not weighed yet."""
    UNNAMED = "unnamed weighing"
    """An unnamed weighing is a planned piece; no mass is missing."""
    NAMED_WRONG = "named wrong"
    """A piece was recorded under the other side's name; no mass is missing."""
    UNNAMED_NOT_MEAT = "unnamed weighing is no piece"
    """An unnamed weighing was a hand, a knife or a tray."""
    LOGGED_TWICE = "logged twice"
    CONTAINER = "container counted as meat"
    CONTAINER_INCLUDED = "container weighed with a piece"
    IN_SKIN = "dressed weight in skin"
    NONE_OF_THESE = "none of these"


@dataclass(frozen=True, slots=True)
class Odds:
    """Prior odds against "nothing is wrong" on one carcass (common practice, no source)."""

    forgotten: float = 0.02
    """Rate at which one planned piece goes unrecorded."""
    other_half_of_pair: float = 0.3
    """One side is recorded and the other not, with no plan to say it is due."""
    called: float = 20.0
    """How much likelier forgotten a piece is that was called."""
    called_unplanned: float = 0.5
    called_and_recorded: float = 0.02
    unplanned: float = 0.01
    not_finished: float = 0.02
    unnamed_is_planned: float = 3.0
    unnamed_not_meat: float = 0.05
    named_wrong: float = 3.0
    twice: float = 0.003
    over_plan: float = 10.0
    """How much likelier to be no piece of its own a weighing is that the plan has no room for."""
    container: float = 0.003
    in_skin_on: float = 3.0
    """The dressed weight is known to have been taken in skin, and no skin is among the pieces."""
    in_skin_off: float = 0.002
    in_skin_unknown: float = 0.02
    none_of_these: float = 0.01


#: The unaccounted mass is not moved.
NO_EFFECT = Effect()

#: Skin of a dressed deer in skin: median and log spread of its share (from memory, wide; head and
#: hide together were 15 to 16 % of field-dressed mule deer, University of Wyoming 2003).
SKIN_SHARE, SKIN_LOG_SD = 0.075, 0.3
#: A cut of which nothing is known: share of the dressed weight, wide.
ANY_SHARE, ANY_LOG_SD = 0.03, 1.0
#: Left against right of one cut. No true asymmetry beyond experimental error was found in pork sides
#: and little in beef; 8 % is taken as the edge of ordinary cut lines (two standard deviations would
#: be 0.04; a little is added for butchers).
PAIR_LOG_SD = 0.05
#: Pieces of one cut against their mean (common practice, no source).
SAME_CUT_LOG_SD = 0.15
#: Two weighings of different pieces of one cut and name differ like this, relatively.
DIFFERENT_PIECES_LOG_SD = 0.2


@dataclass(frozen=True, slots=True)
class Hypothesis:
    """One thing that may have happened."""

    kind: SuspectKind
    odds: float
    effect: Effect = NO_EFFECT
    missing: tuple[Expected, ...] = ()
    entries: tuple[int, ...] = ()
    """Entries to look at, the one to put right last."""


@dataclass(frozen=True, slots=True)
class Scene:
    """What hypotheses are made from: one balance and what is known around it."""

    balance: Balance
    scales: Mapping[str, ScaleData]
    plan: Plan | None = None
    odds: Odds = field(default_factory=Odds)

    @property
    def pieces(self) -> list[Weighing]:
        """The weighings that count."""
        return self.balance.account.standing()

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
        for siblings, log_sd in ((other, PAIR_LOG_SD), (same, SAME_CUT_LOG_SD)):
            count, mass_mg = sum(p.count for p in siblings), sum(p.mass_mg for p in siblings)
            if count > 0 and mass_mg > 0:
                return Effect(mass_mg / count * item.count, log_sd)
        if item.share:
            return Effect(item.share * item.count * self.whole_mg, item.spread)
        return self.any_effect()

    def fit(self, piece: Weighing, effect: Effect) -> float:
        """How much better a weighing fits this effect's mass than any cut's at all."""
        if piece.mass_mg <= 0 or effect.median_mg <= 0 or effect.log_sd <= 0:
            return 0.0
        any_density = log_normal_density(piece.mass_mg, ANY_SHARE * self.whole_mg, ANY_LOG_SD)
        return log_normal_density(piece.mass_mg, effect.median_mg, effect.log_sd) / any_density
