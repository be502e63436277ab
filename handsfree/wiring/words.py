"""The words of the larder: vocabulary and lexicon by the settings."""

from __future__ import annotations

from pathlib import Path

from handsfree.config import Config
from handsfree.resources import grammar_folder
from handsfree.speech.grammar_file import cut_lists, load_vocabulary
from handsfree.speech.lexicon import Lexicon
from handsfree.speech.lexicon_file import load_lexicon
from handsfree.speech.pocketsphinx_decoders import base_dictionary
from handsfree.speech.vocabulary import Vocabulary

__all__ = ["lexicon", "lists", "vocabulary"]


def vocabulary(config: Config) -> Vocabulary:
    """The cut list and commands that the settings name, with the larder's own words over them.

    Raises:
        ConfigError: There is no such cut list.
        GrammarError: A grammar file has faults; all are named.
    """
    return load_vocabulary(grammar_folder(), config.speech.list, _own(config))


def lexicon(config: Config) -> Lexicon:
    """The pronunciations: the larder's own over ours over the embedded engine's.

    Raises:
        GrammarError: A pronunciation file has faults; all are named.
    """
    return load_lexicon(grammar_folder(), base_dictionary(), _own(config))


def lists() -> list[str]:
    """The names of the packaged cut lists."""
    return cut_lists(grammar_folder())


def _own(config: Config) -> Path | None:
    return Path(config.speech.own_words).expanduser() if config.speech.own_words else None
