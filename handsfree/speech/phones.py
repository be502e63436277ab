"""The sounds pronunciations are written in: ARPAbet without stress, as CMUdict-based models use."""

from __future__ import annotations

_VOWELS = "AA AE AH AO AW AY EH ER EY IH IY OW OY UH UW"
_CONSONANTS = "B CH D DH F G HH JH K L M N NG P R S SH T TH V W Y Z ZH"

VOWELS = frozenset(_VOWELS.split(" "))

#: The 39 phones of CMUdict 0.7 and of the PocketSphinx en-us model.
PHONES = VOWELS | frozenset(_CONSONANTS.split(" "))

Pronunciation = tuple[str, ...]
"""One way to say a word, as phones in order."""
