"""Proposals for how unknown words are said, to be confirmed by a person. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from handsfree.speech.ipa import read_ipa
from handsfree.speech.phones import Pronunciation

VOICES = ("en-gb", "en-gb-scotland")
"""The voices of eSpeak NG that are asked, the British one without R after a vowel first."""


@dataclass(frozen=True, slots=True)
class Form:
    """One way the word may be said."""

    phones: Pronunciation
    voice: str
    ipa: str
    """As the voice gave it."""


@dataclass(frozen=True, slots=True)
class Proposal:
    """A word and the ways it may be said; nothing uses it before a person has confirmed it."""

    word: str
    forms: tuple[Form, ...]
    """Distinct, the first voice's first."""
    known: tuple[Pronunciation, ...] = ()
    """How the dictionaries say it already."""

    @property
    def texts(self) -> tuple[str, ...]:
        """The forms as they are written in a words file."""
        return tuple(" ".join(form.phones) for form in self.forms)

    def line(self) -> str:
        """The line for `[pronunciation]` of one's own words file."""
        ways = ", ".join(f'"{text}"' for text in self.texts)
        return f'"{self.word}" = [{ways}]'


def propose(word: str, ipa: Mapping[str, str], known: tuple[Pronunciation, ...] = ()) -> Proposal:
    """The proposal from what each voice said.

    The short O of "stock" is given both ways the shipped words have it, AA and AO: the American
    model has neither quite.

    Args:
        word: The word, lower case.
        ipa: For each voice, in order of preference, the word in IPA as `ipa.read_ipa` takes it.
        known: How the dictionaries say it already.
    """
    forms: dict[Pronunciation, Form] = {}
    for voice, text in ipa.items():
        for spelling in dict.fromkeys((text, text.replace("ɒ", "ɔ"))):
            phones = read_ipa(spelling).phones
            if phones:
                forms.setdefault(phones, Form(phones, voice, text))
    return Proposal(word, tuple(forms.values()), known)
