"""How readily one phone is taken for another, as the cost of exchanging them. Pure.

Consonants: Miller & Nicely, "An analysis of perceptual confusions among some English consonants",
J. Acoust. Soc. Am. 27, 338-352 (1955): the confusions of sixteen consonants before "a", their six
flat-noise conditions (speech-to-noise ratio -18 to +12 dB) added up and made symmetric, in
thousandths, as the data set Phonemes of the R package clue gives them. The seven consonants they did
not use are held apart by the features they found to matter: voicing, place and manner.

Vowels: distance on the vowel chart of the International Phonetic Association, where a diphthong has a
beginning and an end. The places are those of American English, from memory.
"""

from __future__ import annotations

from functools import cache
from math import hypot, log

from handsfree.speech.phones import PHONES, VOWELS

_MEASURED = {
    "P": "T229 K432 F101 TH124 S52 SH38 B22 D25 G13 V16 DH28 Z25 ZH19 M25 N17",
    "T": "K241 F57 TH79 S50 SH50 B13 D22 G16 V22 DH16 Z23 ZH17 M22 N18",
    "K": "F77 TH84 S63 SH47 B18 D20 G30 V20 DH18 Z25 ZH19 M21 N20",
    "F": "TH423 S66 SH30 B46 D25 G15 V35 DH32 Z18 ZH7 M16 N12",
    "TH": "S157 SH48 B45 D41 G39 V40 DH31 Z33 ZH17 M19 N18",
    "S": "SH115 B24 D31 G33 V23 DH26 Z35 ZH22 M17 N13",
    "SH": "B12 D33 G21 V20 DH18 Z17 ZH12 M12 N11",
    "B": "D58 G69 V210 DH145 Z55 ZH27 M38 N24",
    "D": "G342 V59 DH94 Z106 ZH89 M24 N32",
    "G": "V54 DH120 Z139 ZH125 M32 N30",
    "V": "DH338 Z80 ZH29 M30 N22",
    "DH": "Z161 ZH33 M34 N28",
    "Z": "ZH136 M21 N16",
    "ZH": "M16 N30",
    "M": "N151",
}
_MOST, _LEAST = 0.432, 0.02
"""P for K, the readiest of all, and what is so rare that it costs as much as any exchange."""

CHEAPEST = 0.4
"""Cost of the readiest exchange; one that hardly happens costs 1. Judgement, no source."""

_FEATURES = {  # voiced, place from the lips back, manner
    "CH": (0, 3, 1), "JH": (1, 3, 1), "HH": (0, 5, 2), "NG": (1, 4, 3), "L": (1, 2, 4), "R": (1, 3, 4),
    "W": (1, 0, 4), "Y": (1, 3, 4), "P": (0, 0, 0), "B": (1, 0, 0), "T": (0, 2, 0), "D": (1, 2, 0),
    "K": (0, 4, 0), "G": (1, 4, 0), "F": (0, 0, 2), "V": (1, 0, 2), "TH": (0, 1, 2), "DH": (1, 1, 2),
    "S": (0, 2, 2), "Z": (1, 2, 2), "SH": (0, 3, 2), "ZH": (1, 3, 2), "M": (1, 0, 3), "N": (1, 2, 3),
}  # fmt: skip
_VOICING, _MANNER, _PLACE_STEP = 0.3, 0.4, 0.1

_CHART = {  # (openness 0 to 3, backness 0 to 2) of the beginning and of the end
    "IY": (0, 0, 0, 0), "IH": (0.6, 0.4, 0.6, 0.4), "EY": (1.2, 0, 0.4, 0.1), "EH": (1.9, 0.1, 1.9, 0.1),
    "AE": (2.6, 0.2, 2.6, 0.2), "AA": (3, 1.8, 3, 1.8), "AO": (2, 2, 2, 2), "OW": (1.3, 1.8, 0.5, 1.8),
    "UH": (0.6, 1.6, 0.6, 1.6), "UW": (0, 1.8, 0, 1.8), "AH": (1.8, 1.2, 1.8, 1.2),
    "ER": (1.5, 1, 1.5, 1), "AY": (2.8, 0.8, 0.5, 0.3), "AW": (2.8, 0.8, 0.5, 1.7), "OY": (2, 2, 0.5, 0.3),
}  # fmt: skip
_FULL_COST_AT = 1.6
"""Distance on the chart from which one vowel is not taken for the other. Judgement, no source."""


def exchange_cost(first: str, second: str) -> float:
    """What it costs to take one phone for the other: 0 for the same, 0.4 to 1 for others."""
    return 0.0 if first == second else _costs()[first, second]


@cache
def _costs() -> dict[tuple[str, str], float]:
    costs = {(a, b): _by_kind(a, b) for a in PHONES for b in PHONES if a != b}
    for first, row in _MEASURED.items():
        for item in row.split():
            second = item.rstrip("0123456789")
            share = int(item.removeprefix(second)) / 1000
            costs[first, second] = costs[second, first] = _from_share(share)
    return costs


def _from_share(share: float) -> float:
    # Perceived distance goes with the logarithm of the confusions (Shepard, Psychometrika 22, 1957).
    far = log(_MOST / max(share, _LEAST)) / log(_MOST / _LEAST)
    return CHEAPEST + (1 - CHEAPEST) * far


def _by_kind(first: str, second: str) -> float:
    if (first in VOWELS) != (second in VOWELS):
        return 1.0
    if first in VOWELS:
        a, b = _CHART[first], _CHART[second]
        apart = (hypot(a[0] - b[0], a[1] - b[1]) + hypot(a[2] - b[2], a[3] - b[3])) / 2
        return min(1.0, CHEAPEST + (1 - CHEAPEST) * apart / _FULL_COST_AT)
    voice, place, manner = (x - y for x, y in zip(_FEATURES[first], _FEATURES[second], strict=True))
    steps = _VOICING * bool(voice) + _MANNER * bool(manner) + _PLACE_STEP * abs(place)
    return min(1.0, CHEAPEST + steps)
