"""What `handsfree grammar list`, `check` and `try` show, as plain data. Pure."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from handsfree.speech.confusable import ALIKE, AlikePair, Spoken, alike_pairs, clearer_name
from handsfree.speech.heard_apart import Confusion, Playing, confusions, farthest
from handsfree.speech.lexicon import Lexicon, unknown_words
from handsfree.speech.meaning import Meaning
from handsfree.speech.numbers import words_for
from handsfree.speech.parser import as_spoken, suggestions
from handsfree.speech.vocabulary import Vocabulary

Synonyms = Mapping[str, Sequence[str]]

TRADE_SYNONYMS: Synonyms = {
    "haunch": ("hind leg", "back leg"),
    "thick flank": ("knuckle", "top rump"),
    "shank": ("hind shin", "knuckle end"),
    "fore shank": ("front shin", "knuckle end"),
    "loin": ("strip loin", "back strap"),
    "fillet": ("tenderloin", "under fillet"),
    "rack": ("best end", "rib rack"),
    "neck": ("scrag", "collar"),
    "flank": ("skirt", "belly"),
    "breast": ("brisket", "belly"),
    "shoulder": ("blade", "fore quarter"),
    "dice": ("stewing dice", "cubes"),
    "fat": ("suet", "trimmings"),
    "bone": ("stock bone", "bones"),
    "skin": ("hide", "pelt"),
    "leg": ("gigot", "back leg"),
}
"""Other names for cuts in British use, only to choose advice from. Common practice, no source."""


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
    listed += [
        ListedPhrase("plan", name, plan.name, plan.description)
        for plan in cutlist.plans
        for name in plan.spoken_names()
    ]
    listed += [ListedPhrase("butcher", words_for(Decimal(n)), str(n)) for n in said.butchers]
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


def confusion_findings(
    vocabulary: Vocabulary, lexicon: Lexicon, playings: Iterable[Playing], synonyms: Synonyms = TRADE_SYNONYMS
) -> list[Finding]:
    """What the engine took for another thing when the words were played to it.

    A confusion with several voices is an error, with one voice a warning. The advice is the name
    farthest from every other name on the list, from the cut's own aliases and the synonyms.

    Args:
        vocabulary: The words that were played.
        lexicon: How they are said.
        playings: What was heard, as `wiring.listening_check.play` gives it.
        synonyms: Other names the trade has for a cut, to choose advice from.
    """
    return [_confused(vocabulary, lexicon, case, synonyms) for case in confusions(playings)]


def _confused(vocabulary: Vocabulary, lexicon: Lexicon, case: Confusion, synonyms: Synonyms) -> Finding:
    what = (
        f"{case.spoken.phrase!r} was heard as {case.heard!r} {case.times} of {case.played} times"
        f" ({', '.join(case.voices)}), and the other way round {case.back} times"
    )
    advice = (
        f"say {case.spoken.phrase!r} slowly with your own voice, or give it another name in your own file"
    )
    cut = case.spoken.owner.removeprefix("call:")
    if cut in vocabulary.cut_names():
        aliases = [name for name in vocabulary.cut(cut).spoken_names() if name not in case.spoken.phrase]
        rivals = [
            name for other in vocabulary.cutlist.cuts if other.name != cut for name in other.spoken_names()
        ]
        best = farthest(lexicon, [*aliases, *synonyms.get(cut, ())], rivals)
        if best is not None and best[1] > ALIKE:
            advice = f"say {best[0]!r} instead: it is {best[1]:.1f} phones from every other name"
            if best[0] not in aliases:
                advice += f"; give {cut!r} that alias in your own file"
    phrases = (case.spoken.phrase, case.heard)
    return Finding("error" if case.real else "warning", what, advice, phrases)


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
    yield "plans", [Spoken(name, plan.name) for plan in cutlist.plans for name in plan.spoken_names()]
    yield "butchers", [Spoken(words_for(Decimal(n)), str(n)) for n in said.butchers]
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
