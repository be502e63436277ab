"""The shipped vocabulary and lexicon for tests, read once."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from handsfree.resources import grammar_folder
from handsfree.speech.grammar_file import load_vocabulary
from handsfree.speech.lexicon import Lexicon
from handsfree.speech.lexicon_file import load_lexicon
from handsfree.speech.vocabulary import Vocabulary


@cache
def shipped_vocabulary(species_list: str = "venison") -> Vocabulary:
    """The vocabulary of a shipped cut list."""
    return load_vocabulary(grammar_folder(), species_list)


@cache
def shipped_lexicon(base_dictionary: Path) -> Lexicon:
    """The shipped pronunciations over an engine's dictionary."""
    return load_lexicon(grammar_folder(), base_dictionary)
