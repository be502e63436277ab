"""From the commands' documents to the model, with every fault noted at its line. Pure."""

from __future__ import annotations

import re

from handsfree.speech.commands import SLOTS_OF_VERB, CommandSet, Phrasing
from handsfree.speech.meaning import Answer, Verb
from handsfree.speech.sheets import Sheets

_SLOT = re.compile(r"<(\w+)>")


def read_commands(sheets: Sheets) -> CommandSet:
    """The command set; what cannot be read is left out and noted as a fault."""
    attention = sheets.phrase(sheets.text("attention", default="ledger"), "attention")
    sheets.only({verb.value for verb in Verb}, "command")
    phrasings = {verb: _phrasings(sheets, verb) for verb in Verb}
    _no_phrasing_twice(sheets, phrasings)
    sheets.only({answer.value for answer in Answer}, "answer")
    answers = {answer: tuple(sheets.texts("answer", answer.value)) for answer in Answer}
    for answer, texts in answers.items():
        if not texts:
            sheets.fault(f"there is no way to answer {answer.value!r}", "answer")
    sheets.only({"same_again", "left", "right", "to_destination"}, "words")
    notes = {
        sheets.phrase(note, "note", note): (sheets.phrase(note, "note", note), *sheets.texts("note", note))
        for note in sheets.names("note")
    }
    return CommandSet(
        attention,
        phrasings,
        answers,
        same_again=_needed(sheets, "same_again"),
        left=_needed(sheets, "left"),
        right=_needed(sheets, "right"),
        to_destination=_needed(sheets, "to_destination"),
        notes=notes,
    )


def _needed(sheets: Sheets, name: str) -> tuple[str, ...]:
    texts = tuple(sheets.texts("words", name))
    if not texts:
        sheets.fault(f"there are no words for {name!r}", "words", name)
    return texts


def _phrasings(sheets: Sheets, verb: Verb) -> tuple[Phrasing, ...]:
    texts = sheets.texts("command", verb.value)
    found = tuple(_phrasing(sheets, verb, text) for text in texts)
    allowed = SLOTS_OF_VERB.get(verb, ((),))
    for phrasing, text in zip(found, texts, strict=True):
        if phrasing.slots not in allowed:
            wanted = " or ".join(" ".join(f"<{slot}>" for slot in slots) or "no slot" for slots in allowed)
            sheets.fault(f"{verb.value!r} said {text!r} should end in {wanted}", "command", verb.value)
    if not found:
        sheets.fault(f"the command {verb.value!r} has no phrasing", "command", verb.value)
    return tuple(phrasing for phrasing in found if phrasing.slots in allowed)


def _phrasing(sheets: Sheets, verb: Verb, text: str) -> Phrasing:
    head, mark, _ = text.partition("<")
    tail = text[len(head) :]
    if mark and _SLOT.sub("", tail).strip():
        sheets.fault(f"{text!r}: words may not follow a slot", "command", verb.value)
    return Phrasing(head.strip(), tuple(_SLOT.findall(tail)))


def _no_phrasing_twice(sheets: Sheets, phrasings: dict[Verb, tuple[Phrasing, ...]]) -> None:
    owner: dict[Phrasing, Verb] = {}
    for verb, found in phrasings.items():
        for phrasing in found:
            first = owner.setdefault(phrasing, verb)
            if first is not verb:
                sheets.fault(
                    f"{phrasing.words!r} is said for {verb.value!r} and also for {first.value!r}",
                    "command",
                    verb.value,
                )
