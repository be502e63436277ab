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
    SuspectKind.UNNAMED_NOT_MEAT: "the unnamed weighing, {entries}, is no piece of this carcass{about}",
    SuspectKind.LOGGED_TWICE: "{entries} are one piece logged twice{about}",
    SuspectKind.CONTAINER: "{entries} is a container counted as meat{about}",
    SuspectKind.CONTAINER_INCLUDED: "a container was weighed with a piece{about}",
    SuspectKind.IN_SKIN: "the dressed weight was taken in skin{about}",
    SuspectKind.NONE_OF_THESE: "something else happened",
}

_LOOK_FOR_IT = "Look for {it} on the block; {again}weigh {it} and call {calls}."
_NAME_IT = 'Look at {last}: say "ledger that was {name}" if it is the last piece, or amend the entry.'
_STRIKE_IT = 'Look at {last}: say "ledger strike that" if it is the last piece, or strike the entry.'

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
    SuspectKind.UNNAMED_NOT_MEAT: _STRIKE_IT,
    SuspectKind.LOGGED_TWICE: _STRIKE_IT,
    SuspectKind.CONTAINER: _STRIKE_IT,
    SuspectKind.CONTAINER_INCLUDED: (
        'Put the empty container on, say "ledger tray", and weigh again the piece that was in it.'
    ),
    SuspectKind.IN_SKIN: 'Weigh the skin; {again}call "skin".',
    SuspectKind.NONE_OF_THESE: "Go through the sheet piece by piece.",
}


def words_for_suspect(one: Hypothesis, mass_mg: int) -> str:
    """What happened, as a clause that can follow "probably" or "perhaps".

    Args:
        one: The hypothesis.
        mass_mg: Best estimate of the mass that is missing or too much, 0 when none is.
    """
    return _CLAUSES[one.kind].format(
        about=f" (about {format_kg(mass_mg, 2)} kg)" if mass_mg else "",
        pieces=_and([f"the {item.words()}" for item in one.missing]),
        was="were" if _several(one) else "was",
        entries=_entries(one.entries),
    )


def remedy_for(one: Hypothesis, tag: str) -> str:
    """Where to look and what to say; empty when there is nothing to do.

    Args:
        one: The hypothesis.
        tag: Tag of the carcass, for taking it up again after it was closed.
    """
    return _REMEDIES[one.kind].format(
        it="them" if _several(one) else "it",
        again=f'say "ledger resume {" ".join(tag)}" if the carcass is closed, ' if tag else "",
        calls=_and([f'"{item.words()}"' for item in one.missing]),
        last=f"entry {one.entries[-1]}" if one.entries else "the entry",
        name=one.missing[0].words() if one.missing else "its name",
    )


def _several(one: Hypothesis) -> bool:
    return sum(item.count for item in one.missing) > 1


def _entries(numbers: tuple[int, ...]) -> str:
    return ("entry " if len(numbers) == 1 else "entries ") + _and([str(number) for number in numbers])


def _and(parts: list[str]) -> str:
    return " and ".join(part for part in (", ".join(parts[:-1]), *parts[-1:]) if part)
