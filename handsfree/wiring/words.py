"""The words of the larder: vocabulary and lexicon by the settings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from handsfree.config import Config
from handsfree.errors import ConfigError
from handsfree.resources import grammar_folder
from handsfree.speech.espeak_phonemes import EspeakPhonemes, is_plain
from handsfree.speech.expressions import normalise
from handsfree.speech.grammar_file import cut_lists, load_vocabulary
from handsfree.speech.lexicon import Lexicon
from handsfree.speech.lexicon_file import load_lexicon
from handsfree.speech.own_words_writing import add_pronunciations
from handsfree.speech.pocketsphinx_decoders import base_dictionary
from handsfree.speech.proposing import VOICES, Proposal, propose
from handsfree.speech.vocabulary import Vocabulary

__all__ = ["confirm", "lexicon", "lists", "proposals", "vocabulary"]


def vocabulary(config: Config) -> Vocabulary:
    """The cut list and commands that the settings name, with the larder's own words and butchers.

    Raises:
        ConfigError: There is no such cut list.
        GrammarError: A grammar file has faults; all are named.
    """
    read = load_vocabulary(grammar_folder(), config.speech.list, _own(config))
    return replace(read, commands=replace(read.commands, butchers=tuple(config.butchers)))


def lexicon(config: Config) -> Lexicon:
    """The pronunciations: the larder's own over ours over the embedded engine's.

    Raises:
        GrammarError: A pronunciation file has faults; all are named.
    """
    return load_lexicon(grammar_folder(), base_dictionary(), _own(config))


def lists() -> list[str]:
    """The names of the packaged cut lists."""
    return cut_lists(grammar_folder())


def proposals(config: Config, texts: Sequence[str]) -> list[Proposal]:
    """How eSpeak NG would say each word of the texts; nothing is used before `confirm`.

    A word it can say nothing of has a proposal without forms.

    Raises:
        EngineUnavailableError: eSpeak NG is not installed or did not answer.
        GrammarError: A pronunciation file has faults; all are named.
    """
    words = list(dict.fromkeys(word for text in texts for word in normalise(text)))
    plain = [word for word in words if is_plain(word)]
    espeak, known = EspeakPhonemes(), lexicon(config)
    said = {voice: dict(zip(plain, espeak.ipa(plain, voice), strict=True)) for voice in VOICES if plain}
    return [
        propose(
            word,
            {voice: ipa[word] for voice, ipa in said.items() if word in ipa},
            known.pronunciations(word),
        )
        for word in words
    ]


def confirm(config: Config, proposed: Sequence[Proposal], file: Path | None = None) -> Path:
    """Write the proposals into the larder's own words file (or `file`), and say which file it was.

    Raises:
        ConfigError: The settings name no words file and none is given.
        GrammarError: The file cannot be used or written; it is as it was.
    """
    target = file or _own(config)
    if target is None:
        raise ConfigError(
            "the settings name no words file of your own, so the words were not written",
            next_step="name one with --file, and in the settings as own_words under [speech]",
        )
    add_pronunciations(target, {one.word: one.texts for one in proposed if one.forms})
    return target


def _own(config: Config) -> Path | None:
    return Path(config.speech.own_words).expanduser() if config.speech.own_words else None
