"""Commands and answers as expressions, commands always after the attention word."""

from __future__ import annotations

from collections.abc import Collection
from decimal import Decimal

from handsfree.speech.call_expressions import call
from handsfree.speech.commands import TEMPERATURES, CommandSet
from handsfree.speech.cutlist import CutList
from handsfree.speech.expressions import (
    Alternatives,
    Expression,
    Keyed,
    Optional,
    Rule,
    Sequence,
    Tagged,
    Words,
    any_of,
    words,
)
from handsfree.speech.meaning import Answer, Verb
from handsfree.speech.numbers import degrees, digits, kilograms, words_for

_SINGLE_FIGURES = range(1, 10)


def commands(cutlist: CutList, said: CommandSet) -> Expression:
    """Every command as the branch "command", each verb a branch of its own below it."""
    options: list[Expression] = []
    for verb, phrasings in said.phrasings.items():
        plain = tuple(words(phrasing.words) for phrasing in phrasings if not phrasing.slots)
        if plain:
            options.append(_verb(verb, Alternatives(plain)))
    # Verbs that end in the same kind of number share one copy of it: the compiled graph stays small.
    for slot, number, verbs in (
        ("digits", digits(), set(Verb)),
        ("number", kilograms(), set(Verb) - TEMPERATURES),
        ("number", degrees(), TEMPERATURES),
    ):
        numbered = tuple(
            _verb(verb, any_of(*texts))
            for verb, phrasings in said.phrasings.items()
            if verb in verbs and (texts := [p.words for p in phrasings if p.slots == (slot,)])
        )
        if numbered:
            options.append(Sequence((Alternatives(numbered), number)))
    for verb, phrasings in said.phrasings.items():
        for slots in dict.fromkeys(p.slots for p in phrasings if p.slots):
            tail = _tail(slots, cutlist, said)
            if tail is not None:
                heads = [p.words for p in phrasings if p.slots == slots]
                options.append(_verb(verb, Sequence((_head(heads), tail))))
    return Keyed(Sequence((words(said.attention), Alternatives(tuple(options)))), "command")


def wake(said: CommandSet) -> Expression:
    """Only what wakes a resting recorder, as the branch "command"."""
    texts = [phrasing.words for phrasing in said.phrasings[Verb.WAKE]]
    return Keyed(Sequence((words(said.attention), _verb(Verb.WAKE, any_of(*texts)))), "command")


def answers(said: CommandSet, which: Collection[Answer] = tuple(Answer)) -> Expression:
    """These answers as the branch "answer"."""
    options = tuple(
        Keyed(Tagged(any_of(*said.answers[answer]), "answer", answer), answer.value)
        for answer in Answer
        if answer in which
    )
    return Keyed(Alternatives(options), "answer")


def _verb(verb: Verb, part: Expression) -> Expression:
    return Keyed(Tagged(part, "verb", verb), verb.value)


def _head(texts: list[str]) -> Expression:
    spoken = tuple(text for text in texts if text)
    if len(spoken) == len(texts):
        return any_of(*spoken)
    return Optional(any_of(*spoken)) if spoken else Words(())


def _tail(slots: tuple[str, ...], cutlist: CutList, said: CommandSet) -> Expression | None:
    """What a command ends in, with branches of its own.

    None for the numbers, which are shared, and for plans and butchers where there are none.
    """
    match slots:
        case ("call",):
            return call(cutlist, said)
        case ("note",):
            return _notes(said)
        case ("species", *sex):
            return _species_and_sex(cutlist) if sex else _species(cutlist)
        case ("plan",) if cutlist.plans:
            return _plans(cutlist)
        case ("butcher",) if said.butchers:
            return _butchers(said.butchers)
        case _:
            return None


def _notes(said: CommandSet) -> Expression:
    options = tuple(Keyed(Tagged(any_of(*texts), "note", note), note) for note, texts in said.notes.items())
    return Rule("note", Alternatives(options))


def _species(cutlist: CutList) -> Expression:
    options = tuple(
        Keyed(Tagged(any_of(*kind.spoken_names()), "species", kind.name), kind.name)
        for kind in cutlist.species
    )
    return Rule("species", Alternatives(options))


def _plans(cutlist: CutList) -> Expression:
    options = tuple(
        Keyed(Tagged(any_of(*plan.spoken_names()), "plan", plan.name), plan.name) for plan in cutlist.plans
    )
    return Rule("plan", Alternatives(options))


def _butchers(numbers: tuple[int, ...]) -> Expression:
    """The numbers there are, and the single figures: a butcher nobody knows is heard, and told so."""
    options = tuple(
        Keyed(Tagged(words(words_for(Decimal(number))), "butcher", number), str(number))
        for number in sorted({*numbers, *_SINGLE_FIGURES})
    )
    return Rule("butcher", Alternatives(options))


def _species_and_sex(cutlist: CutList) -> Expression:
    options: list[Expression] = []
    for kind in cutlist.species:
        sexes = tuple(Keyed(Tagged(words(sex), "sex", sex), f"{kind.name} {sex}") for sex in kind.sexes)
        if sexes:
            named = Tagged(any_of(*kind.spoken_names()), "species", kind.name)
            options.append(Sequence((named, Alternatives(sexes))))
    return Rule("species_and_sex", Alternatives(tuple(options)))
