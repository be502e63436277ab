"""The words of the dialogue: attention word, command phrasings, answers, notes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from handsfree.speech.meaning import Answer, Verb

#: What each verb's phrasings must end in; every other verb takes none. A tuple inside means: or.
SLOTS_OF_VERB: Mapping[Verb, tuple[tuple[str, ...], ...]] = {
    Verb.TAG: (("digits",),),
    Verb.RESUME: (("digits",),),
    Verb.DESCRIBE: (("species",), ("species", "sex")),
    Verb.PLAN: (("plan",),),
    Verb.BUTCHER: (("butcher",),),
    Verb.DRESSED_WEIGHT: ((), ("number",)),
    Verb.SPOKEN_WEIGHT: (("number",),),
    Verb.CORE_TEMPERATURE: (("number",),),
    Verb.STERILISER: (("number",),),
    Verb.THAT_WAS: (("call",),),
    Verb.NOTE: (("note",),),
}

#: Verbs whose number is a temperature; all others take kilograms.
TEMPERATURES = frozenset({Verb.CORE_TEMPERATURE, Verb.STERILISER})


@dataclass(frozen=True, slots=True)
class Phrasing:
    """One way to say a command: words, then the slots it ends in."""

    words: str
    slots: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class CommandSet:
    """Everything that is said to the recorder rather than about a piece."""

    attention: str
    """Said before every command."""
    phrasings: Mapping[Verb, tuple[Phrasing, ...]]
    answers: Mapping[Answer, tuple[str, ...]]
    same_again: tuple[str, ...] = ("same again",)
    left: tuple[str, ...] = ("left",)
    right: tuple[str, ...] = ("right",)
    to_destination: tuple[str, ...] = ("for",)
    """The words between a cut and its destination."""
    notes: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    """The closed list of notes: what is written, and how it may be said."""
    butchers: tuple[int, ...] = ()
    """Numbers of the larder's butchers, 1 to 20, in order; with none the command is not listened for."""
