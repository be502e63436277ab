"""Calls as expressions: `[count] [left|right] <cut> [for <destination>]`, the side also after the cut.

A count from two on takes the plural names, everything else the names of one, and paired cuts are
counted to four at most: the fewer phrases there are, the better each is heard.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from collections.abc import Sequence as SequenceOf

from handsfree.speech.commands import CommandSet
from handsfree.speech.cutlist import Cut, CutList
from handsfree.speech.expressions import (
    Alternatives,
    Expression,
    Keyed,
    Optional,
    Rule,
    Sequence,
    Tagged,
    any_of,
    words,
)
from handsfree.speech.meaning import Call, Side
from handsfree.speech.numbers import counts

# How often the optional parts of a call are said: judgement, no source. They keep a breath or a knock
# before or after a name from being heard as "one" or "for waste".
_ONE_CHANCE = 0.01
_DESTINATION_CHANCE = 0.01
#: Of a cut with a left and a right there are two on an animal, four where fore and hind share a name.
_MOST_PAIRED = 4


def calls(cutlist: CutList, commands: CommandSet, only: Collection[str] | None = None) -> Expression:
    """Piece calls and "same again" as the branch "call"."""
    again = Keyed(Tagged(any_of(*commands.same_again), "same_again", value=True), "same again")
    return Keyed(Alternatives((call(cutlist, commands, only), again)), "call")


def call(cutlist: CutList, commands: CommandSet, only: Collection[str] | None = None) -> Expression:
    """A piece named in full, as one shared rule; its cuts are keyed by canonical name.

    Raises:
        ValueError: None of the cuts asked for is on the list.
    """
    cuts = [cut for cut in cutlist.cuts if only is None or cut.name in only]
    if not cuts:
        raise ValueError("a call needs at least one cut of the list")
    one = Optional(Tagged(words("one"), "count", 1), _ONE_CHANCE)
    forms: list[Expression] = []
    single = _sided_or_not("cut", cuts, commands, plural=False)
    if single is not None:
        forms.append(Sequence((one, single)))
    for paired, most in ((True, _MOST_PAIRED), (False, 20)):
        several = _sided_or_not("cuts", [c for c in cuts if c.sided is paired], commands, plural=True)
        if several is not None:
            forms.append(Sequence((counts(lowest=2, highest=most), several)))
    destination = Optional(_destination(cutlist, commands), _DESTINATION_CHANCE)
    return Rule("call", Sequence((Alternatives(tuple(forms)), destination)))


def _sided_or_not(
    rule: str, cuts: SequenceOf[Cut], commands: CommandSet, *, plural: bool
) -> Expression | None:
    """The cuts by their names, with a side before or after those that have one."""
    options: list[Expression] = []
    sided = _names(f"sided_{rule}", (cut for cut in cuts if cut.sided), plural=plural)
    if sided is not None:
        side = _side(commands)
        options += [Sequence((Optional(side), sided)), Sequence((sided, side))]
    unsided = _names(f"single_{rule}", (cut for cut in cuts if not cut.sided), plural=plural)
    if unsided is not None:
        options.append(unsided)
    return Alternatives(tuple(options)) if options else None


def bare_side(options: SequenceOf[Call], commands: CommandSet) -> Expression | None:
    """The words "left" or "right" alone, meaning the option of that side; None unless only sides differ."""
    by_side = {option.side: option for option in options}
    alike = {(option.cut, option.count, option.destination) for option in options}
    if len(options) != len(Side) or set(by_side) != set(Side) or len(alike) != 1:
        return None
    cut, count, destination = alike.pop()
    part: Expression = Tagged(_side(commands), "cut", cut)
    part = Tagged(Tagged(part, "count", count), "destination", destination)
    return Keyed(Keyed(part, "side"), "answer")


def _names(rule: str, cuts: Iterable[Cut], *, plural: bool) -> Expression | None:
    options = tuple(
        Keyed(Tagged(any_of(*names), "cut", cut.name), cut.name)
        for cut in cuts
        if (names := cut.plurals if plural else (cut.name, *cut.aliases))
    )
    return Rule(rule, Alternatives(options)) if options else None


def _side(commands: CommandSet) -> Expression:
    left = Tagged(any_of(*commands.left), "side", Side.LEFT)
    right = Tagged(any_of(*commands.right), "side", Side.RIGHT)
    return Rule("side", Alternatives((left, right)))


def _destination(cutlist: CutList, commands: CommandSet) -> Expression:
    places = tuple(
        Tagged(any_of(*place.spoken_names()), "destination", place.name) for place in cutlist.destinations
    )
    return Rule("destination", Sequence((any_of(*commands.to_destination), Alternatives(places))))
