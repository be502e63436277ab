"""What the ears are trained on and measured with: phrases and tags in noise, people's words, talk."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial

import material
from halves import SEED, Half

from handsfree.speech.grammar import Grammar
from handsfree.speech.messages import Samples
from handsfree.testing.rehearsal.voices import Voice
from handsfree.testing.shipped_words import shipped_vocabulary

#: The twenty of the closed list; the other words of the recordings are on no list.
LIST = (
    "zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine",
    "left", "right", "up", "down", "on", "off", "yes", "no", "stop", "go",
)  # fmt: skip

PHRASES = 6
"""A voice and condition."""
WORD_CONDITIONS = (("pink", 40), ("pink", 20), ("pink", 10), ("water", 10), ("talkers", 10), ("pink", 5))
PHRASE_CONDITIONS = (
    ("pink", 40), ("fan", 20), ("pink", 10), ("water", 10), ("dishes", 10), ("water", 5), ("pink", 5),
    ("talkers", 20), ("talkers", 10), ("talkers", 5),
)  # fmt: skip
TAG_CONDITIONS = (("pink", 40), ("fan", 20), ("pink", 10))
TAGS = 3
"""A voice and condition."""
_DIGITS = ("oh", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")
WORDS_A_CONDITION = 50

Sounded = tuple[str, Samples, Samples]


@dataclass(frozen=True)
class Unit:
    """A piece of the measurement that is listened to and kept as a whole."""

    condition: str
    who: str
    grammar: Grammar
    clips: Callable[[], list[Sounded]]
    """What was said (empty when it is none of the phrases), its sound denoised and as captured."""
    voice: Voice | None = None
    """The voice that was read in, if one was; where nobody of the clips is it, still the one in use."""


def units(half: Half, *, own: bool = False) -> Iterator[Unit]:
    """Everything that is listened to, nothing of it made yet.

    Args:
        half: Which half.
        own: With the voices that say the phrases read in. The people of the recordings have read nothing
            in, so their words count only as no phrase, and like talk are heard with each voice in turn.
    """
    yield from _unlisted_units(half) if own else _word_units(half)
    listening = shipped_vocabulary().listening()
    noises = material.noises(half)

    def phrases_in(voice: Voice, source: str, snr_db: float, seed: int) -> list[Sounded]:
        texts = material.phrases(listening, PHRASES, seed=seed)
        track = material.phrases_track(texts, voice, source, snr_db, half=half, seed=seed % 10)
        return [(clip.text, clip.clean, clip.raw) for clip in track.clips()]

    def tags_in(voice: Voice, source: str, snr_db: float, seed: int) -> list[Sounded]:
        draw = random.Random(SEED[half] + seed)
        texts = [drawn_tag(draw) for _ in range(TAGS)]
        track = material.phrases_track(texts, voice, source, snr_db, half=half, seed=seed % 10)
        return [(clip.text, clip.clean, clip.raw) for clip in track.clips()]

    for step, (kind, snr_db) in enumerate(PHRASE_CONDITIONS):
        for number, voice in enumerate(material.voices(half)):
            seed = 1000 * number + 10 * step + step
            heard = partial(phrases_in, voice, noises[kind], snr_db, seed)
            yield Unit(f"phrases {kind} {snr_db} dB", str(voice), listening, heard, voice if own else None)
    for step, (kind, snr_db) in enumerate(TAG_CONDITIONS):
        for number, voice in enumerate(material.voices(half)):
            heard = partial(tags_in, voice, noises[kind], snr_db, 10 * number + step)
            yield Unit(f"tags {kind} {snr_db} dB", str(voice), listening, heard, voice if own else None)


def _word_units(half: Half) -> Iterator[Unit]:
    """Real people: words of a list, words that are none, talk."""
    listed, short = Grammar.from_phrases("twenty words", LIST), Grammar.from_phrases("ten words", LIST[::2])
    listening = shipped_vocabulary().listening()
    noises = material.noises(half)

    def words_in(source: str, snr_db: float, seed: int) -> list[Sounded]:
        track = material.words_track(half, source, snr_db, seed=seed, only=LIST)
        return [(clip.text, clip.clean, clip.raw) for clip in track.clips()[:WORDS_A_CONDITION]]

    alternate = slice(None, None, 2)
    yield Unit("words as recorded", "", listed, partial(_recorded, half, LIST, alternate, known=True))
    for number, (kind, snr_db) in enumerate(WORD_CONDITIONS):
        yield Unit(f"words {kind} {snr_db} dB", "", listed, partial(words_in, noises[kind], snr_db, number))
    yield Unit("words not listed", "", short, partial(_recorded, half, LIST[1::2], alternate, known=False))
    yield Unit(
        "words, no call", "", listening, partial(_recorded, half, LIST, slice(1, None, 5), known=False)
    )
    yield Unit("talk", "", listening, partial(_talk, half, slice(None)))


def _unlisted_units(half: Half) -> Iterator[Unit]:
    """What is no phrase, an equal share of it with each voice."""
    listening, voices = shipped_vocabulary().listening(), material.voices(half)
    for number, voice in enumerate(voices):
        share = slice(number, None, len(voices))
        words = partial(_recorded, half, LIST, slice(1 + 5 * number, None, 5 * len(voices)), known=False)
        yield Unit("words, no call", str(voice), listening, words, voice)
        yield Unit("talk", str(voice), listening, partial(_talk, half, share), voice)


def _recorded(half: Half, words: Sequence[str], share: slice, *, known: bool) -> list[Sounded]:
    clips = [clip for clip in material.words(half) if clip.text in words][share]
    return [(clip.text if known else "", clip.clean, clip.raw) for clip in clips]


def _talk(half: Half, share: slice) -> list[Sounded]:
    return [("", clean, raw) for clean, raw in list(material.talk_twice(half))[::3][share]]


def drawn_tag(draw: random.Random) -> str:
    """A carcass's number as it is told: three or four digits."""
    digits = [draw.choice(_DIGITS) for _ in range(draw.choice((3, 3, 4)))]
    return " ".join(("ledger", draw.choice(("tag", "resume")), *digits))
