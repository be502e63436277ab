"""From the slots a phrase filled to what it means."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from handsfree.speech.meaning import Answer, Call, Command, Meaning, Verb


def meaning_of_slots(slots: Iterable[tuple[str, object]]) -> Meaning | None:
    """The meaning of a phrase that filled these slots; None when it filled none that mean anything."""
    # Slots are filled by this package's own expressions, so each value has the type its name says.
    said: dict[str, Any] = dict(slots)
    if "verb" in said:
        verb: Verb = said["verb"]
        return Command(
            verb,
            number=said.get("number"),
            digits=said.get("digits", ""),
            call=_call(said),
            species=said.get("species"),
            sex=said.get("sex"),
            note=said.get("note"),
            plan=said.get("plan"),
            butcher=said.get("butcher", 0),
        )
    if "answer" in said:
        answer: Answer = said["answer"]
        return answer
    return _call(said)


def _call(said: dict[str, Any]) -> Call | None:
    if said.get("same_again"):
        return Call("", same_again=True)
    if "cut" not in said:
        return None
    return Call(said["cut"], said.get("side"), said.get("count", 1), said.get("destination"))
