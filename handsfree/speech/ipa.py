"""From the IPA that eSpeak NG writes for English to the phones of the dictionaries. Pure.

The symbols are those eSpeak NG 1.51 gives for its British, Scottish and American voices (`--ipa`;
meanings in its docs/phonemes.md and docs/languages/gmw/en.md); the phones are CMUdict's. What each
becomes follows Wells' lexical sets (Accents of English, 1982), from memory: FACE is EY whether a
voice says it as a diphthong or not.
"""

from __future__ import annotations

from dataclasses import dataclass

from handsfree.speech.phones import Pronunciation

SEPARATOR = "_"
"""Between the phonemes, as asked for with `--sep=_`."""

_TABLE = """
p P, b B, t T, d D, k K, ɡ G, g G, tʃ CH, dʒ JH, f F, v V, θ TH, ð DH, s S, z Z, ʃ SH, ʒ ZH, h HH,
x K, ʍ W, m M, n N, ŋ NG, l L, ɫ L, ɹ R, r R, j Y, w W, ɾ T, ʔ T, n̩ AH N, l̩ AH L, m̩ AH M, ç HH,
ɬ L, ʁ R, β V, ɣ G, q K, c K, ɲ N, ts T S,
iː IY, i IY, ɪ IH, ᵻ IH, eɪ EY, eː EY, ɛ EH, ɛː EH, æ AE, a AE, aː AA, ɑː AA, ɑ AA, ɒ AA, ɔː AO,
ɔ AO, oː OW, əʊ OW, oʊ OW, o AO, ʊ UH, uː UW, u UW, ʉː UW, ʉ UW, ʌ AH, ɐ AH, ə AH, ɜː ER, ɜ ER,
ɚ ER, aɪ AY, aʊ AW, ʌʉ AW, ɔɪ OY, e IY, eʲ EH, y UW, ø ER, œ ER, ɑ̃ AA N, ɔ̃ AO N, ɛ̃ AE N, əl AH L,
iə IY AH, eə EH AH, ʊə UH AH, aɪə AY AH, aʊə AW AH, aɪɚ AY ER, ʌɹ ER, əɹ ER, ʉɹ UH R,
ɑːɹ AA R, oːɹ AO R, ɔːɹ AO R, ʊɹ UH R, ɛɹ EH R, ɪɹ IH R
"""
# In the Scottish voice "o" is the vowel before R; "e" alone is the end of "happy" where it carries no
# stress, the whole of "er" in "fern" where it does, and the vowel of "hare" before R.

_PHONES = {
    symbol: tuple(phones.split())
    for symbol, _, phones in (
        row.strip().partition(" ") for row in _TABLE.replace("\n", " ").split(",") if row.strip()
    )
}
_LONGEST = max(map(len, _PHONES))
_BEFORE_R = {"iə": ("IH",), "eə": ("EH",), "ʊə": ("UH",), "e": ("EH",)}
_STRESSED = {"ˈe": ("ER",), "ˌe": ("ER",)}
"""NEAR, SQUARE and CURE where the R is said, as CMUdict writes them."""
_STRESS = str.maketrans("", "", "ˈˌ")
_MARKS = str.maketrans("", "", ".|‿͡\u200d")


@dataclass(frozen=True, slots=True)
class Reading:
    """What an IPA text says."""

    phones: Pronunciation
    unknown: tuple[str, ...] = ()
    """Symbols that are no sound of English known here, left out of the phones."""


def read_ipa(text: str) -> Reading:
    """The phones of one word; anything that is no IPA of English is set aside, never an error."""
    tokens = [
        token
        for token in text.translate(_MARKS).replace(":", "ː").replace(" ", SEPARATOR).split(SEPARATOR)
        if token
    ]
    phones: list[str] = []
    unknown: list[str] = []
    for place, token in enumerate(tokens):
        before_r = place + 1 < len(tokens) and tokens[place + 1] in ("ɹ", "r")
        said = _said(token, unknown, before_r=before_r)
        # CMUdict writes the R of "furry" once: F ER IY.
        phones += said[1:] if phones and phones[-1] == "ER" and said[:1] == ("R",) else said
    return Reading(tuple(phones), tuple(dict.fromkeys(unknown)))


def _said(token: str, unknown: list[str], *, before_r: bool) -> Pronunciation:
    bare = token.translate(_STRESS)
    if before_r and bare in _BEFORE_R:
        return _BEFORE_R[bare]
    return _STRESSED.get(token) or _read(bare, unknown)


def _read(token: str, unknown: list[str]) -> Pronunciation:
    phones: tuple[str, ...] = ()
    at = 0
    while at < len(token):
        for length in range(_LONGEST, 0, -1):
            piece = token[at : at + length]
            if piece in _PHONES:
                phones += _PHONES[piece]
                at += len(piece)
                break
        else:
            if token[at] != "ː":  # a length that makes no difference here
                unknown.append(token[at])
            at += 1
    return phones
