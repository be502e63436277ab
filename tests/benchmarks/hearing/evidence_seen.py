"""What the embedded engine makes of a half's material: evidence and outcome of every clip, kept on disk."""

from __future__ import annotations

import hashlib
import pickle
import random
import sys
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

import material
import numpy as np
import sound_store
import soundfile
from halves import SEED, Half
from material import Samples

import handsfree.speech
from handsfree.speech.evidence import FIGURES
from handsfree.speech.gate import Gate
from handsfree.speech.grammar import Grammar
from handsfree.speech.pocketsphinx_decoders import base_dictionary
from handsfree.speech.pocketsphinx_engine import PocketSphinxRecogniser
from handsfree.testing.rehearsal.noises import MAKERS
from handsfree.testing.rehearsal.voices import speak
from handsfree.testing.shipped_words import shipped_lexicon, shipped_vocabulary

#: The twenty core command words of Speech Commands (P. Warden, arXiv:1804.03209, 2018).
CORE = (
    *("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine"),
    *("yes", "no", "up", "down", "left", "right", "on", "off", "stop", "go"),
)
SNRS_DB = (40, 20, 10, 5)
PHRASES = 8
_ZERO = (0.0,) * len(FIGURES)
_BLANK = Gate(0.0, _ZERO, _ZERO, (1.0,) * len(FIGURES), _ZERO, _ZERO)
_SOURCES = ("pocketsphinx_engine.py", "pocketsphinx_decoders.py", "evidence.py")


@dataclass(frozen=True, slots=True)
class Seen:
    """One clip as the engine took it, before any gate."""

    condition: str
    said: str
    """Empty for what is no phrase of the grammar."""
    found: tuple[str, ...]
    """Readings, best first; empty when no phrase fitted."""
    figures: tuple[float, ...]
    behind: tuple[float, ...]
    speaker: str = ""
    command: bool = False

    @property
    def right(self) -> bool:
        """Whether the best reading is what was said."""
        return bool(self.said) and self.found[:1] == (self.said,)


def voices_part(half: Half) -> Iterator[Seen]:
    """Phrases of the shipped listening grammar by the half's voices; noises in turn."""
    grammar = shipped_vocabulary().listening()
    engine = _engine(grammar)
    noises = list(material.noises(half).values())
    for number, voice in enumerate(material.voices(half)):
        for step, snr_db in enumerate(SNRS_DB):
            texts = material.phrases(grammar, PHRASES, seed=SEED[half] + 10 * number + step)
            noise = noises[(number + step) % len(noises)]
            track = material.phrases_track(texts, voice, noise, snr_db, half=half, seed=number * 7 + step)
            for clip in track.clips():
                yield _seen(engine, clip.clean, clip.text, f"{snr_db} dB", clip.speaker)


def words_part(half: Half) -> Iterator[Seen]:
    """Real people's words: the list of twenty, clean and in noise; a list that lacks them; calls only."""
    clips = material.words(half)
    listed = _engine(Grammar.from_phrases("core words", CORE))
    noises = material.noises(half)
    noisy = material.words_track(half, noises["pink"], 10, only=CORE).clips()
    for name, some in {"words": clips[::2], "words pink 10 dB": noisy[::3]}.items():
        for clip in some:
            if clip.text in CORE:
                yield _seen(listed, clip.clean, clip.text, name, clip.speaker)
    lacking = _engine(Grammar.from_phrases("half of the words", CORE[::2]))
    calls = _engine(shipped_vocabulary().listening())
    for clip in [clip for clip in clips if clip.text not in CORE[::2]][::2]:
        yield _seen(lacking, clip.clean, "", "unlisted words", clip.speaker)
    for clip in clips[1::5]:
        yield _seen(calls, clip.clean, "", "words against calls", clip.speaker)


def talk_part(half: Half) -> Iterator[Seen]:
    """Real people's talk against the shipped listening grammar."""
    engine = _engine(shipped_vocabulary().listening())
    for sound in material.talk(half):
        yield _seen(engine, sound, "", "talk")


def other_part(half: Half) -> Iterator[Seen]:
    """Halves of calls, the read-back's own sentences, bangs, saw, dog, chops, tap."""
    grammar = shipped_vocabulary().listening()
    engine = _engine(grammar)
    for name, sounds in _no_calls(half, grammar).items():
        for clip in material.sounds_track(sounds).clips():
            yield _seen(engine, clip.clean, "", name)


PARTS = {"voices": voices_part, "words": words_part, "talk": talk_part, "other": other_part}


def gathered(half: Half, parts: Iterable[str] = tuple(PARTS)) -> list[Seen]:
    """All parts of a half; each is kept beside the tracks until the engine's source changes."""
    source = b"".join(Path(handsfree.speech.__file__).with_name(name).read_bytes() for name in _SOURCES)
    found: list[Seen] = []
    for part in parts:
        key = hashlib.sha256(source + repr((half, part, PHRASES)).encode()).hexdigest()[:20]
        file = sound_store.folder() / f"evidence-{key}.pickle"
        if not file.exists():
            print(f"listening: {half} {part}", file=sys.stderr, flush=True)
            file.parent.mkdir(parents=True, exist_ok=True)
            file.write_bytes(pickle.dumps(list(PARTS[part](half))))
        found += pickle.loads(file.read_bytes())  # noqa: S301 - written just above
    return found


def _engine(grammar: Grammar) -> PocketSphinxRecogniser:
    engine = PocketSphinxRecogniser(shipped_lexicon(base_dictionary()), _BLANK)
    engine.use(grammar)
    return engine


def _seen(
    engine: PocketSphinxRecogniser, sound: Samples, said: str, condition: str, speaker: str = ""
) -> Seen:
    engine.begin()
    engine.feed(sound)
    found = tuple(reading.text for reading in engine.finish(3).hypotheses)
    figures = engine.evidence.figures() if engine.evidence is not None else ()
    command = found[:1] != () and found[0].startswith("ledger")
    return Seen(condition, said, found if figures else (), figures, engine.behind, speaker, command)


def _no_calls(half: Half, grammar: Grammar) -> dict[str, list[tuple[str, Samples]]]:
    draw = random.Random(SEED[half] + 5)
    voices = material.voices(half)
    fragments: dict[str, None] = {}
    while len(fragments) < 28:
        words = grammar.random_phrase(draw).split()
        cut = draw.randrange(1, max(2, len(words)))
        part = " ".join(words[:cut] if draw.random() < 0.5 else words[cut:])
        if part and not grammar.contains(part):
            fragments[part] = None
    sayings = (
        "haunch left, two point four kilos",
        "shoulder right, one point eight five kilos",
        "which one, left shank or left flank?",
        "carcass four one seven closed, ninety grams not accounted for",
        "the scale is silent",
        "say the cut for one point two kilos",
        "struck, mince, six hundred grams",
        "dressed weight, forty one point five kilos",
    )
    rng = np.random.default_rng(SEED[half] + 6)
    made = [
        (name, _loud(MAKERS[name](float(rng.uniform(0.5, 2.5)), rng)))
        for name in ("clatter", "saw", "dog", "chops", "thud", "water")
        for _ in range(2)
    ]
    chop = "chop_01" if half == "development" else "chop_03"
    made.append((chop, soundfile.read(material.real_data() / "noise" / f"{chop}.wav", dtype="int16")[0]))
    return {
        "pieces of calls": [(text, speak(text, voices[i % len(voices)])) for i, text in enumerate(fragments)],
        "the read-back": [(text, speak(text, voice)) for text in sayings for voice in voices[2:3]],
        "bangs and saw": made,
    }


def _loud(sound: np.ndarray) -> Samples:
    return (np.clip(sound * 0.1, -1, 1) * 32767).astype(np.int16)
