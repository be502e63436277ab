"""Makes the bodies to be entered from what pairing decided and from the books as they stand.

Pure: nothing is written here. A refusal is an `EntryError` whose `what` is fit to be said aloud.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from functools import singledispatch

from handsfree.errors import EntryError
from handsfree.ledger import entries as e
from handsfree.ledger.books import Books, Carcass
from handsfree.ledger.instructions import carry_out, change_of_butcher
from handsfree.ledger.naming import in_hand, resolve
from handsfree.pairing.fusion import Reading
from handsfree.pairing.messages import (
    CallUnweighed,
    Decision,
    Instruction,
    Method,
    PieceWeighed,
    TrayWithdrawn,
)
from handsfree.speech.meaning import Call, Verb

SPOKEN = "spoken"
"""Scale name of a weight that was said."""


@dataclass(frozen=True, slots=True)
class Rules:
    """What posting has to ask of other parts of the recorder."""

    destination_of: Callable[[Call], str]
    """Where a called piece goes: as said, or by its cut's entry in the cut list."""
    closing_of: Callable[[Carcass], e.CarcassClosed]
    """The balance of a carcass that is being closed."""
    butchers: Mapping[int, str] = field(default_factory=dict)
    """Names of the larder's butchers by number."""


def post(decision: Decision, books: Books, rules: Rules) -> list[e.Body]:
    """The bodies to enter for one decision; none for what leaves no mark in the ledger.

    Questions, refused speech and loads passed over leave none: they are counted by the recorder.

    Raises:
        EntryError: It makes no sense as things stand: "no carcass is open".
    """
    return _post(decision, books, rules)


@singledispatch
def _post(_decision: object, _books: Books, _rules: Rules) -> list[e.Body]:
    return []


@_post.register
def _(decision: PieceWeighed, books: Books, rules: Rules) -> list[e.Body]:
    carcass = in_hand(books)
    if decision.net_mg <= 0:
        raise EntryError("a piece must weigh more than nothing")
    call = decision.call
    if call is not None and call.same_again:
        try:
            call = resolve(call, carcass)
        except EntryError:
            call = None  # the weight is worth more than its name: it is entered unnamed
    change = decision.change
    spoken = decision.method is Method.SPOKEN or change is None
    return [
        e.PieceEntered(
            carcass=carcass.number,
            cut=call.cut if call else "",
            side=call.side.value if call and call.side else "",
            count=call.count if call else 1,
            destination=rules.destination_of(call) if call else "",
            mass_mg=decision.net_mg,
            u_mg=decision.u_mg,
            d_mg=0 if spoken or change is None else change.after.d_mg,
            scale=SPOKEN if spoken or change is None else change.scale,
            method=decision.method.value,
            indication=decision.heard if spoken or change is None else change.after.text,
            indication_before="" if spoken or change is None else change.before.text,
            heard=decision.heard,
            confidence=decision.confidence,
            alternatives=decision.alternatives,
            readings=tuple(_record(reading) for reading in decision.readings),
            asked=decision.asked.value if decision.asked else "",
            lag_ms=None if decision.lag_s is None else round(decision.lag_s * 1000),
        )
    ]


def _record(reading: Reading) -> dict[str, str | float]:
    """One reading as it is kept; four places are more than any of the figures is good for."""
    kept: dict[str, str | float] = {
        "name": reading.call.words(),
        "heard": reading.text,
        "sound": round(reading.sound, 4),
        "plan": round(reading.plan, 4),
        "weight": round(reading.weight, 4),
        "probability": round(reading.probability, 4),
    }
    if reading.against:
        kept["against"] = reading.against
    return kept


@_post.register
def _(decision: CallUnweighed, books: Books, _rules: Rules) -> list[e.Body]:
    carcass = in_hand(books)
    call = decision.call
    if call.same_again:
        try:
            call = resolve(call, carcass)
        except EntryError:
            call = replace(call, cut="", same_again=False)
    side = call.side.value if call.side else ""
    return [e.CallLeftUnweighed(carcass.number, call.cut, side, call.count, decision.heard)]


@_post.register
def _(decision: Instruction, books: Books, rules: Rules) -> list[e.Body]:
    if decision.command.verb is Verb.CLOSE_CARCASS:
        return [rules.closing_of(in_hand(books))]
    if decision.command.verb is Verb.BUTCHER:
        return [change_of_butcher(decision, books, rules.butchers)]
    return carry_out(decision, books, rules.destination_of)


@_post.register
def _(decision: TrayWithdrawn, books: Books, _rules: Rules) -> list[e.Body]:
    wrong = books.containers.get(decision.scale)
    before = [each for each in books.trays if each.scale == decision.scale and each != wrong]
    return [before[-1] if before else e.ContainerSet(decision.scale, 0, "no container")]
