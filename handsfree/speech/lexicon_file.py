"""The pronunciation files: the engine's dictionary, ours, and the user's own. An edge module."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import count
from pathlib import Path

from handsfree.errors import GrammarError
from handsfree.speech.grammar_file import read_file
from handsfree.speech.lexicon import Layer, Lexicon, WrittenForm, add_form, read_layer
from handsfree.speech.phones import Pronunciation
from handsfree.speech.sheets import Faults
from handsfree.speech.toml_document import Document

PRONUNCIATIONS_FILE = "pronunciations.dict"


def load_lexicon(
    folder: Path, base_dictionary: Path, own_file: Path | None = None, own_dictionary: Path | None = None
) -> Lexicon:
    """The lexicon: the user's words over ours over the engine's.

    Args:
        folder: Where the grammar files are (`resources.grammar_folder()`).
        base_dictionary: The engine's dictionary in CMUdict form without stress.
        own_file: The user's own grammar file; its `[sounds_like]` and `[pronunciation]` are taken.
        own_dictionary: A dictionary of the user's own in the form of `lexicon`.

    Raises:
        GrammarError: A file is missing or has faults; all are named with file and line.
    """
    layers: list[Layer] = []
    if own_file is not None:
        layers.append(layer_of_document(read_file(own_file)))
    if own_dictionary is not None:
        layers.append(read_layer(_text(own_dictionary), str(own_dictionary)))
    ours = folder / PRONUNCIATIONS_FILE
    layers.append(read_layer(_text(ours), str(ours)))
    lexicon = Lexicon(layers, read_base(base_dictionary))
    lexicon.check().raise_if_any()
    return lexicon


def layer_of_document(document: Document) -> Layer:
    """The user's own pronunciations from `[sounds_like]` and `[pronunciation]` of a grammar file.

    Raises:
        GrammarError: There are faults; all are named with file and line.
    """
    faults = Faults()
    forms: dict[str, tuple[WrittenForm, ...]] = {}
    for table in ("sounds_like", "pronunciation"):
        entries = document.data.get(table, {})
        if not isinstance(entries, dict):
            faults.add(document.where(table), f"{table} should be a table of words")
            continue
        for word, said in entries.items():
            where = document.where(table, word)
            for text in said if isinstance(said, list) else [said]:
                if isinstance(text, str):
                    add_form(forms, word, text, where, faults, sounds_like=table == "sounds_like")
                else:
                    faults.add(where, f"{word!r} should be a text or a list of texts")
    faults.raise_if_any()
    return Layer(document.file, forms)


class BaseDictionary(Mapping[str, Sequence[Pronunciation]]):
    """The engine's dictionary; its lines are only taken apart when a word is asked for."""

    def __init__(self, text: str) -> None:
        self._phones: dict[str, str] = {}
        for line in text.splitlines():
            head, _, phones = line.partition(" ")
            self._phones[head] = phones

    def __getitem__(self, word: str) -> Sequence[Pronunciation]:
        """All forms of the word, in the order of the file."""
        found = [tuple(self._phones[word].split())]
        for number in count(2):
            phones = self._phones.get(f"{word}({number})")
            if phones is None:
                return found
            found.append(tuple(phones.split()))
        raise AssertionError  # count() does not end

    def __iter__(self) -> Iterator[str]:
        """Every word, once."""
        return (head for head in self._phones if not head.endswith(")"))

    def __len__(self) -> int:
        """How many words it has."""
        return sum(1 for _ in self)


def read_base(path: Path) -> BaseDictionary:
    """The engine's dictionary in CMUdict form without stress.

    Raises:
        GrammarError: The file cannot be read.
    """
    return BaseDictionary(_text(path))


def _text(path: Path) -> str:
    try:
        return path.read_text(encoding="utf-8")
    except UnicodeDecodeError as error:
        raise GrammarError(
            f"the file {path} is not text in UTF-8", next_step="save the file as UTF-8"
        ) from error
    except OSError as error:
        raise GrammarError(
            f"the pronunciations {path} cannot be read: {error.strerror}",
            next_step="check the name and the rights of the file, or install the engine again",
        ) from error
