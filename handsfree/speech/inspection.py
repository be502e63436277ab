"""What `handsfree grammar list`, `check` and `try` show, as plain data. Pure."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from handsfree.speech.confusable import AlikePair, Spoken, alike_pairs, clearer_name
from handsfree.speech.lexicon import Lexicon, unknown_words
from handsfree.speech.meaning import Meaning
from handsfree.speech.parser import as_spoken, suggestions
from handsfree.speech.vocabulary import Vocabulary


@dataclass(frozen=True, slots=True)
class ListedPhrase:
    """One thing that may be said."""

    kind: str
    """"call", "destination", "command", "answer" or "note"."""
    phrase: str
    """As said; slots in angle brackets."""
    means: str
    """Canonical name, verb or answer."""
    detail: str = ""


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing `check` found."""

    severity: str
    """"error" or "warning"."""
    what: str
    suggestion: str
    phrases: tuple[str, ...] = ()
    distance: float | None = None
    """Phones apart, for phrases that sound alike."""


@dataclass(frozen=True, slots=True)
class Trial:
    """What a typed text would do."""

    text: str
    """As said: figures written out."""
    accepted: bool
    meanings: tuple[Meaning, ...]
    key: str | None
    suggestions: tuple[str, ...] = ()
    """For a text that is no phrase: what it may have meant."""


def list_phrases(vocabulary: Vocabulary) -> list[ListedPhrase]:
    """Everything that may be said, one line for each name and phrasing."""
    said, cutlist = vocabulary.commands, vocabulary.cutlist
    listed = [
        ListedPhrase("call", name, cut.name, f"{'left or right, ' if cut.sided else ''}to {cut.destination}")
        for cut in cutlist.cuts
        for name in cut.spoken_names()
    ]
    listed += [ListedPhrase("call", text, "same again") for text in said.same_again]
    listed += [
        ListedPhrase("destination", f"{said.to_destination[0]} {name}", place.name)
        for place in cutlist.destinations
        for name in place.spoken_names()
    ]
    for verb, phrasings in said.phrasings.items():
        for phrasing in phrasings:
            slots = " ".join(f"<{slot}>" for slot in phrasing.slots)
            phrase = " ".join(filter(None, (said.attention, phrasing.words, slots)))
            listed.append(ListedPhrase("command", phrase, verb.value))
    listed += [
        ListedPhrase("species", name, kind.name, ", ".join(kind.sexes))
        for kind in cutlist.species
        for name in kind.spoken_names()
    ]
    listed += [ListedPhrase("note", text, note) for note, texts in said.notes.items() for text in texts]
    listed += [
        ListedPhrase("answer", t, answer.value) for answer, texts in said.answers.items() for t in texts
    ]
    return listed


def check(
    vocabulary: Vocabulary,
    lexicon: Lexicon,
    missing_words: Callable[[Sequence[str]], list[str]] | None = None,
) -> list[Finding]:
    """Everything doubtful about a vocabulary that loads: errors first.

    Args:
        vocabulary: The words.
        lexicon: How they are said.
        missing_words: The engine's own answer to which words it lacks (`Recogniser.missing_words`).
    """
    words = vocabulary.everything().words()
    missing = lexicon.missing(words) if missing_words is None else missing_words(words)
    findings = [_unknown(vocabulary, missing)] if missing else []
    for group, spoken in _groups(vocabulary):
        pairs = alike_pairs(lexicon, spoken)
        findings += [_alike(vocabulary, lexicon, group, pair) for pair in _closest(pairs)]
    return sorted(findings, key=lambda finding: finding.severity != "error")


def try_phrase(vocabulary: Vocabulary, text: str) -> Trial:
    """What a typed text would mean while a question is open (the widest state there is)."""
    grammar = vocabulary.everything()
    said = as_spoken(grammar, text)
    meanings = grammar.parse(said)
    help_out = () if meanings else tuple(suggestions(grammar, said))
    return Trial(said, bool(meanings), meanings, grammar.key_of(said), help_out)


def _unknown(vocabulary: Vocabulary, missing: Sequence[str]) -> Finding:
    error = unknown_words(missing, needed_by=f"the {vocabulary.cutlist.name} grammar")
    return Finding("error", error.what, error.next_step, tuple(missing))


def _groups(vocabulary: Vocabulary) -> Iterator[tuple[str, list[Spoken]]]:
    """Phrases that may be said in the same place and are heard against each other."""
    said, cutlist = vocabulary.commands, vocabulary.cutlist
    calls = [Spoken(name, cut.name) for cut in cutlist.cuts for name in cut.spoken_names()]
    calls += [Spoken(text, "same again") for text in said.same_again]
    calls += [Spoken(text, answer.value) for answer, texts in said.answers.items() for text in texts]
    yield "calls", calls
    yield "sides", [Spoken(t, "left") for t in said.left] + [Spoken(t, "right") for t in said.right]
    yield (
        "destinations",
        [Spoken(name, place.name) for place in cutlist.destinations for name in place.spoken_names()],
    )
    # Commands that end differently are told apart by their endings: "wake" and "weight one point two".
    by_ending: dict[tuple[str, ...], list[Spoken]] = {}
    for verb, phrasings in said.phrasings.items():
        for phrasing in phrasings:
            if phrasing.words:
                by_ending.setdefault(phrasing.slots, []).append(Spoken(phrasing.words, verb.value))
    for slots, spoken in by_ending.items():
        yield " ".join(("commands", *(f"<{slot}>" for slot in slots))), spoken
    yield "species", [Spoken(name, kind.name) for kind in cutlist.species for name in kind.spoken_names()]
    for kind in cutlist.species:
        yield f"sexes of {kind.name}", [Spoken(sex, sex) for sex in kind.sexes]
    yield "notes", [Spoken(text, note) for note, texts in said.notes.items() for text in texts]


def _closest(pairs: list[AlikePair]) -> list[AlikePair]:
    """One pair for each two owners: the one that sounds most alike."""
    by_owners: dict[frozenset[str], AlikePair] = {}
    for pair in pairs:
        by_owners.setdefault(frozenset((pair.first.owner, pair.second.owner)), pair)
    return list(by_owners.values())


def _alike(vocabulary: Vocabulary, lexicon: Lexicon, group: str, pair: AlikePair) -> Finding:
    first, second = pair.first.phrase, pair.second.phrase
    words = " and ".join(repr(word) for word in pair.blame if word)
    what = f"among {group}, {first!r} and {second!r} are {pair.distance:g} phones apart: {words} to blame"
    return Finding(
        "error" if pair.too_alike else "warning",
        what,
        _advice(vocabulary, lexicon, pair),
        (first, second),
        pair.distance,
    )


def _advice(vocabulary: Vocabulary, lexicon: Lexicon, pair: AlikePair) -> str:
    for one, other in ((pair.first, pair.second), (pair.second, pair.first)):
        if one.owner in vocabulary.cut_names() and other.owner in vocabulary.cut_names():
            names = vocabulary.cut(one.owner).spoken_names()
            clear = clearer_name(lexicon, names, vocabulary.cut(other.owner).spoken_names())
            if clear is not None:
                return f"say {clear!r} rather than {one.phrase!r}, or give {one.owner!r} an alias of your own"
    return f"give {pair.first.owner!r} or {pair.second.owner!r} another name in your own grammar file"
