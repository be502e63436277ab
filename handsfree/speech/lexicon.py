"""How words are said: pronunciations in layers, the user's over ours over the engine's. Pure.

A dictionary line is in CMUdict form, `word PH PH` or `word(2) PH PH` for another way to say it, or
`word = sounds like these` with words that are known (and phones in capitals where no word fits).
`#` and `;;;` begin comments. A word in a higher layer replaces all its forms in the lower ones.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import islice, product

from handsfree.errors import UnknownWordError
from handsfree.speech.expressions import normalise
from handsfree.speech.phones import PHONES, Pronunciation
from handsfree.speech.sheets import Faults

_LINE = re.compile(r"(?P<word>[^\s(=]+)(?:\(\d+\))?(?:\s*(?P<equals>=)\s*|\s+)(?P<rest>\S.*)")
_MOST_VARIANTS = 6
"""Sounding like several words with several forms each would multiply without end."""


@dataclass(frozen=True, slots=True)
class WrittenForm:
    """One line of a dictionary: phones, or words it sounds like."""

    parts: tuple[str, ...]
    sounds_like: bool
    where: str
    """Its place, as file:line."""


@dataclass(frozen=True, slots=True)
class Layer:
    """One dictionary: for each word its forms, as written."""

    name: str
    forms: Mapping[str, tuple[WrittenForm, ...]]


@dataclass(frozen=True)
class Lexicon:
    """Looks words up in its layers, the first layer first."""

    layers: Sequence[Layer]
    base: Mapping[str, Sequence[Pronunciation]] = field(repr=False)
    """The engine's own dictionary, looked in last."""

    def pronunciations(self, word: str) -> tuple[Pronunciation, ...]:
        """Every way to say the word, the usual one first; () when it is not known."""
        return self._resolve(" ".join(normalise(word)), frozenset())

    def missing(self, words: Iterable[str]) -> list[str]:
        """Those of the words that nothing is known about, distinct, in the order given."""
        return [word for word in dict.fromkeys(words) if not self.pronunciations(word)]

    def require(self, words: Iterable[str], *, needed_by: str = "") -> None:
        """Make sure all the words can be said.

        Raises:
            UnknownWordError: Some cannot; names all of them and how to teach them.
        """
        missing = self.missing(words)
        if missing:
            raise unknown_words(missing, needed_by=needed_by)

    def dictionary_text(self, words: Iterable[str]) -> str:
        """The dictionary of these words in CMUdict form, for an engine.

        Raises:
            UnknownWordError: A word cannot be pronounced; names all of them.
        """
        wanted = list(dict.fromkeys(words))
        self.require(wanted)
        lines: list[str] = []
        for word in wanted:
            for number, phones in enumerate(self.pronunciations(word), 1):
                head = word if number == 1 else f"{word}({number})"
                lines.append(f"{head} {' '.join(phones)}")
        return "\n".join(lines) + "\n"

    def _resolve(self, word: str, asked: frozenset[tuple[str, str]]) -> tuple[Pronunciation, ...]:
        for layer in self.layers:
            forms = layer.forms.get(word)
            # "fillet = fillet" in an upper layer means the lower one: never ask in a circle.
            if forms and (word, layer.name) not in asked:
                inner = asked | {(word, layer.name)}
                ways = (way for form in forms for way in self._ways(form, inner))
                return tuple(dict.fromkeys(ways))
        return tuple(dict.fromkeys(tuple(phones) for phones in self.base.get(word, ())))

    def _ways(self, form: WrittenForm, asked: frozenset[tuple[str, str]]) -> Iterable[Pronunciation]:
        if not form.sounds_like:
            return [form.parts]
        spoken = [((part,),) if part in PHONES else self._resolve(part, asked) for part in form.parts]
        joined = (tuple(phone for piece in pieces for phone in piece) for pieces in product(*spoken))
        return islice(joined, _MOST_VARIANTS)

    def check(self) -> Faults:
        """Faults of the layers: words that sound like words which are not known themselves."""
        faults = Faults()
        for layer in self.layers:
            for word, forms in layer.forms.items():
                for form in forms:
                    if form.sounds_like and not list(self._ways(form, frozenset({(word, layer.name)}))):
                        unknown = [
                            p for p in form.parts if p not in PHONES and not self._resolve(p, frozenset())
                        ]
                        said = ", ".join(repr(part) for part in unknown) or repr(word)
                        faults.add(form.where, f"{word!r} sounds like {said}, which is not known either")
        return faults


def unknown_words(missing: Sequence[str], *, needed_by: str = "") -> UnknownWordError:
    """The error for words without a pronunciation, with what to do about each."""
    shown = ", ".join(repr(word) for word in missing)
    whose = f" (needed by {needed_by})" if needed_by else ""
    first = missing[0]
    return UnknownWordError(
        f"no pronunciation is known for {shown}{whose}; such a phrase could never be heard",
        next_step=(
            f'in your own grammar file, under [sounds_like], write {first} = "known words it sounds like", '
            f'or under [pronunciation] {first} = "PHONES IN ARPABET", for each of them'
        ),
    )


def read_layer(text: str, file: str) -> Layer:
    """A dictionary text as a layer.

    Raises:
        GrammarError: Lines cannot be read or use unknown phones; all are named with file and line.
    """
    faults = Faults()
    forms: dict[str, tuple[WrittenForm, ...]] = {}
    for number, line in enumerate(text.splitlines(), 1):
        bare = line.split("#", 1)[0].split(";;;", 1)[0].strip()
        if not bare:
            continue
        where = f"{file}:{number}"
        found = _LINE.fullmatch(bare)
        if found is None:
            faults.add(where, f"{bare!r} is no dictionary line: write a word, then its phones")
            continue
        add_form(forms, found["word"], found["rest"], where, faults, sounds_like=bool(found["equals"]))
    faults.raise_if_any()
    return Layer(file, forms)


def add_form(
    forms: dict[str, tuple[WrittenForm, ...]],
    word: str,
    rest: str,
    where: str,
    faults: Faults,
    *,
    sounds_like: bool,
) -> None:
    """Add one way to say a word to a layer being read, or note what is wrong with it."""
    spoken = " ".join(normalise(word))
    parts = tuple(part if part in PHONES else part.lower() for part in rest.split())
    if not sounds_like:
        parts = tuple(part.upper() for part in parts)
        unknown = [part for part in parts if part not in PHONES]
        if unknown:
            faults.add(where, f"{word!r} uses {', '.join(unknown)}, not a phone; known: {_ALL_PHONES}")
            return
    if not spoken or not parts:
        faults.add(where, f"{word!r} has no pronunciation on this line")
        return
    form = WrittenForm(parts, sounds_like, where)
    if any(form.parts == other.parts for other in forms.get(spoken, ())):
        faults.add(where, f"{word!r} is given the same pronunciation twice")
        return
    forms[spoken] = (*forms.get(spoken, ()), form)


_ALL_PHONES = " ".join(sorted(PHONES))
