"""How a suspect is told, and the words to say to put it right."""

from __future__ import annotations

from handsfree.mass import format_kg
from handsfree.reconciliation.hypotheses import Hypothesis, SuspectKind

#: What happened, as a clause that can follow "probably" or "perhaps".
_CLAUSES = {
    SuspectKind.NOTHING: "nothing is wrong: scales and cutting explain what is left",
    SuspectKind.NOT_LOGGED: "{pieces} {was} not logged{about}",
    SuspectKind.CALLED_NOT_WEIGHED: "{pieces} {was} called but not weighed{about}",
    SuspectKind.UNPLANNED_NOT_LOGGED: "a piece was not logged{about}, and nothing tells which",
    SuspectKind.NOT_FINISHED: "the carcass is not finished: {pieces} {was} not logged{about}",
    SuspectKind.UNNAMED: "the unnamed weighing, {entries}, is {pieces}",
    SuspectKind.NAMED_WRONG: "one of {entries} is {pieces}",
    SuspectKind.MISCALLED: "{entries} is {pieces}, called by another name",
    SuspectKind.UNNAMED_NOT_MEAT: "the unnamed weighing, {entries}, is no piece of this carcass{about}",
    SuspectKind.LOGGED_TWICE: "{entries} are one piece logged twice{about}",
    SuspectKind.WHOLE_AND_PARTS: "{last} was weighed whole and again in its parts{about}",
    SuspectKind.CONTAINER: "{entries} is a container counted as meat{about}",
    SuspectKind.CONTAINER_INCLUDED: "a container was weighed with {one_piece}{about}",
    SuspectKind.TRAY_LEFT_ON: "a tray was left on the scale and counted in {run}{about}",
    SuspectKind.WRONG_UNIT: "{run} {was} weighed in the wrong unit, {detail}{about}",
    SuspectKind.IN_SKIN: "the dressed weight was taken in skin{about}",
    SuspectKind.DRESSED_WITH_CONTAINER: "the dressed weight was taken with a hook or tray on{about}",
    SuspectKind.OTHER_CARCASS: "the dressed weight is another carcass's",
    SuspectKind.SCALE_DRIFT: "the {detail} scale weighs wrongly{about}",
    SuspectKind.PROCESS_LOSS_OFF: "saw, knife and drip took another share than they usually do{about}",
    SuspectKind.NONE_OF_THESE: "something else happened",
}

_LOOK_FOR_IT = "Look for {it} on the block; {again}weigh {it} and call {calls}."
_NAME_IT = 'Look at {last}: say "ledger that was {name}" if it is the last piece, or amend the entry.'
_STRIKE_IT = 'Look at {last}: say "ledger strike that" if it is the last piece, or strike the entry.'
_DRESSED_AGAIN = '{again}say "ledger dressed weight" and the right weight.'

#: Where to look and what to say.
_REMEDIES = {
    SuspectKind.NOTHING: "",
    SuspectKind.NOT_LOGGED: _LOOK_FOR_IT,
    SuspectKind.CALLED_NOT_WEIGHED: _LOOK_FOR_IT,
    SuspectKind.UNPLANNED_NOT_LOGGED: (
        "Look on the block, in the tubs and in the bin; {again}weigh it and call its name."
    ),
    SuspectKind.NOT_FINISHED: _LOOK_FOR_IT,
    SuspectKind.UNNAMED: _NAME_IT,
    SuspectKind.NAMED_WRONG: _NAME_IT,
    SuspectKind.MISCALLED: _NAME_IT,
    SuspectKind.UNNAMED_NOT_MEAT: _STRIKE_IT,
    SuspectKind.LOGGED_TWICE: _STRIKE_IT,
    SuspectKind.WHOLE_AND_PARTS: _STRIKE_IT,
    SuspectKind.CONTAINER: _STRIKE_IT,
    SuspectKind.CONTAINER_INCLUDED: (
        'Look at {first}: put the empty container on, say "ledger tray", weigh the piece again and strike '
        "the old entry."
    ),
    SuspectKind.TRAY_LEFT_ON: (
        'Look at {first}: put the empty tray on, say "ledger tray", weigh these pieces again and strike '
        "the old entries."
    ),
    SuspectKind.WRONG_UNIT: "Look at {first} and at the unit shown; weigh again and strike the old.",
    SuspectKind.IN_SKIN: 'Weigh the skin; {again}call "skin".',
    SuspectKind.DRESSED_WITH_CONTAINER: (
        "Weigh what hung or stood on the scale with the carcass and take it off; " + _DRESSED_AGAIN
    ),
    SuspectKind.OTHER_CARCASS: "Compare the tag with the note of its weight; " + _DRESSED_AGAIN,
    SuspectKind.SCALE_DRIFT: "Put a known weight on the {detail} scale before the next carcass.",
    SuspectKind.PROCESS_LOSS_OFF: (
        'Compare with how it was cut; the settings say how the larder cuts (larder.process: "by hand", '
        '"bandsaw").'
    ),
    SuspectKind.NONE_OF_THESE: "Go through the sheet piece by piece.",
}

#: The words to say, one phrase each.
_SAY = {
    SuspectKind.UNNAMED: ("ledger that was {name}",),
    SuspectKind.NAMED_WRONG: ("ledger that was {name}",),
    SuspectKind.MISCALLED: ("ledger that was {name}",),
    SuspectKind.UNNAMED_NOT_MEAT: ("ledger strike that",),
    SuspectKind.LOGGED_TWICE: ("ledger strike that",),
    SuspectKind.WHOLE_AND_PARTS: ("ledger strike that",),
    SuspectKind.CONTAINER: ("ledger strike that",),
    SuspectKind.CONTAINER_INCLUDED: ("ledger tray",),
    SuspectKind.TRAY_LEFT_ON: ("ledger tray",),
    SuspectKind.IN_SKIN: ("skin",),
    SuspectKind.DRESSED_WITH_CONTAINER: ("ledger dressed weight",),
    SuspectKind.OTHER_CARCASS: ("ledger dressed weight",),
}
#: Entries beyond this many in a row are told as "entries 5 to 9".
_ROW = 3


def words_for_suspect(one: Hypothesis, mass_mg: int, part_masses_mg: tuple[int, ...] = ()) -> str:
    """What happened, as a clause that can follow "probably" or "perhaps".

    Args:
        one: The hypothesis.
        mass_mg: Best estimate of the mass that is missing or too much, 0 when none is.
        part_masses_mg: The same for each of two things at once.
    """
    if one.parts:
        told = zip(one.parts, part_masses_mg or (0,) * len(one.parts), strict=True)
        return ", and ".join(words_for_suspect(part, part_mg) for part, part_mg in told)
    clause = _CLAUSES[one.kind]
    if one.kind is SuspectKind.MISCALLED and not one.missing:
        clause = "{entries}, {detail}, weighs far off for its name"
    elif one.kind is SuspectKind.MISCALLED and len(one.entries) > 1:
        clause = f"one of {clause}"
    return clause.format(
        about=f" (about {format_kg(mass_mg, 2)} kg)" if mass_mg else "",
        pieces=_and([f"the {item.words()}" for item in one.missing]),
        was="were" if _several(one) or len(one.entries) > 1 else "was",
        entries=_entries(one.entries),
        one_piece=_entries(one.entries) if one.entries else "a piece",
        run=_run(one),
        last=f"entry {one.entries[-1]}" if one.entries else "a joint",
        detail=one.detail,
    )


def remedy_for(one: Hypothesis, tag: str) -> str:
    """Where to look and what to say; empty when there is nothing to do.

    Args:
        one: The hypothesis.
        tag: Tag of the carcass, for taking it up again after it was closed.
    """
    if one.parts:
        return " ".join(remedy_for(part, tag) for part in one.parts)
    remedy = _REMEDIES[one.kind]
    if one.kind is SuspectKind.MISCALLED and not one.missing:
        remedy = 'Look at {last}: say "ledger that was" and its name, or weigh it again.'
    if one.kind is SuspectKind.WRONG_UNIT and not one.entries:
        remedy = "Look at the unit of the dressed weight; " + _DRESSED_AGAIN
    return remedy.format(
        it="them" if _several(one) else "it",
        again=f'say "ledger resume {" ".join(tag)}" if the carcass is closed, ' if tag else "",
        calls=_and([f'"{item.words()}"' for item in one.missing]),
        last=f"entry {one.entries[-1]}" if one.entries else "the entry",
        first=f"entry {one.entries[0]}" if one.entries else "the entries",
        name=one.missing[0].words() if one.missing else "its name",
        detail=one.detail,
    )


def phrases_for(one: Hypothesis) -> tuple[str, ...]:
    """The words to say to put it right, each phrase by itself; empty when there are none."""
    if one.parts:
        return tuple(phrase for part in one.parts for phrase in phrases_for(part))
    if one.kind in (SuspectKind.NOT_LOGGED, SuspectKind.CALLED_NOT_WEIGHED, SuspectKind.NOT_FINISHED):
        return tuple(item.words() for item in one.missing)
    if one.kind is SuspectKind.WRONG_UNIT and not one.entries:
        return ("ledger dressed weight",)
    if one.kind is SuspectKind.MISCALLED and not one.missing:
        return ()
    name = one.missing[0].words() if one.missing else ""
    return tuple(phrase.format(name=name) for phrase in _SAY.get(one.kind, ()))


def _several(one: Hypothesis) -> bool:
    return sum(item.count for item in one.missing) > 1


def _run(one: Hypothesis) -> str:
    if one.entries:
        return _entries(one.entries)
    return "the dressed weight" if one.kind is SuspectKind.WRONG_UNIT else one.detail


def _entries(numbers: tuple[int, ...]) -> str:
    if len(numbers) > _ROW and list(numbers) == sorted(numbers):
        return f"entries {numbers[0]} to {numbers[-1]}"
    return ("entry " if len(numbers) == 1 else "entries ") + _and([str(number) for number in numbers])


def _and(parts: list[str]) -> str:
    return " and ".join(part for part in (", ".join(parts[:-1]), *parts[-1:]) if part)
