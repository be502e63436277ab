"""What may have happened to a carcass whose balance is looked at: kinds, prior odds, hypotheses.

Odds are against "nothing is wrong" (odds 1) and include how well the weighings themselves fit the
hypothesis; how well the unaccounted mass fits is left to the ranking. The figures in `Odds` are
common practice, no source; a larder's own history is to sharpen them.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from handsfree.reconciliation.effects import Effect
from handsfree.reconciliation.plan import Expected


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
    MISCALLED = "called by another name"
    """A piece's weight is far off for its name; no mass is missing."""
    UNNAMED_NOT_MEAT = "unnamed weighing is no piece"
    """An unnamed weighing was a hand, a knife or a tray."""
    LOGGED_TWICE = "logged twice"
    WHOLE_AND_PARTS = "whole and its parts"
    """A joint was weighed whole and again in its parts."""
    CONTAINER = "container counted as meat"
    CONTAINER_INCLUDED = "container weighed with a piece"
    TRAY_LEFT_ON = "tray left on the scale"
    """A container was in several weighings one after the other."""
    WRONG_UNIT = "wrong unit"
    """Pounds were taken for kilograms, or kilograms for pounds."""
    IN_SKIN = "dressed weight in skin"
    DRESSED_WITH_CONTAINER = "dressed weight with its hook"
    """A hook or a tray was in the dressed weight."""
    OTHER_CARCASS = "dressed weight of another carcass"
    SCALE_DRIFT = "scale off"
    """A scale's span is off by more than is known of it."""
    PROCESS_LOSS_OFF = "process loss taken wrongly"
    """Saw, knife and drip took more or less than they usually do."""
    TWO_AT_ONCE = "two things at once"
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
    other_tubs: float = 0.1
    """How much less an absent tub means where other tubs of the same are there: tubs vary."""
    needed: float = 0.05
    """How much less a weighing may be no piece of its own if the plan then lacks its name."""
    not_finished: float = 0.02
    unnamed_is_planned: float = 3.0
    unnamed_not_meat: float = 0.05
    named_wrong: float = 3.0
    miscalled_over_plan: float = 1.0
    """A name is recorded more often than the plan has it, and another planned piece is absent."""
    miscalled_unplanned: float = 0.003
    """A name that the plan does not have, and a planned piece is absent."""
    miscalled_planned: float = 0.0003
    """Both names are planned: then the piece whose name was used is absent itself."""
    weight_far_off: float = 0.0001
    """A weighing that fits no mass of its name, and no absent piece either."""
    twice: float = 0.003
    twice_apart: float = 0.001
    """The same piece weighed again after another one."""
    twice_other_name: float = 0.00002
    """The same piece weighed again under another name."""
    twice_unnamed: float = 0.03
    """An unnamed weighing is a piece put on the pan a second time."""
    whole_and_parts: float = 0.05
    over_plan: float = 10.0
    """How much likelier to be no piece of its own a weighing is that the plan has no room for."""
    container: float = 0.003
    container_included: float = 0.003
    tray_left_on: float = 0.002
    wrong_unit_piece: float = 0.00005
    """For one given piece."""
    wrong_unit_from: float = 0.001
    """For all pieces of one scale from some moment on."""
    wrong_unit_dressed: float = 0.001
    in_skin_on: float = 3.0
    """The dressed weight is known to have been taken in skin, and no skin is among the pieces."""
    in_skin_off: float = 0.002
    in_skin_unknown: float = 0.02
    dressed_with_container: float = 0.003
    other_carcass: float = 0.003
    scale_drift: float = 0.004
    zero_wandered: float = 5.0
    """How much likelier a scale is off whose empty pan did not come back to zero."""
    process_off: float = 0.01
    none_of_these: float = 0.005


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


#: The unaccounted mass is not moved.
NO_EFFECT = Effect()


@dataclass(frozen=True, slots=True)
class Hypothesis:
    """One thing that may have happened."""

    kind: SuspectKind
    odds: float
    effect: Effect = NO_EFFECT
    missing: tuple[Expected, ...] = ()
    entries: tuple[int, ...] = ()
    """Entries to look at, the one to put right last."""
    detail: str = ""
    """What the words need beside pieces and entries: a scale's name, a unit."""
    parts: tuple[Hypothesis, ...] = ()
    """The two things of which this one is made, when it is two at once."""
    combines: bool = True
    """Whether it may have happened together with another thing."""
