"""Synthetic butchers who have read the phrases of `handsfree voice add` beforehand, in quiet.

Synthetic voices say a word the same way each time, so what a model of theirs gains is what a person would
get at best. They read a tenth slower than they call later, so that no sound is met again as it was taught.
"""

from __future__ import annotations

import csv
import hashlib
import os
import re
import shutil
import tempfile
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import soundfile
from engines import EARS, Ported, Row
from sound_store import folder

from handsfree.cli.group import group
from handsfree.config import Config
from handsfree.speech.enrolment_phrases import phrases_to_read
from handsfree.speech.pocketsphinx_decoders import PhoneDecoder, base_dictionary
from handsfree.speech.pocketsphinx_engine import PhonesFor
from handsfree.speech.voice_store import VoiceStore
from handsfree.testing.rehearsal.voices import Voice, speak
from handsfree.testing.shipped_words import shipped_lexicon
from handsfree.wiring import words
from handsfree.wiring.enrolling import TAUGHT_IN
from handsfree.wiring.hearing import ear_of, with_ears
from handsfree.wiring.voices import of_voice

READING_PACE = 1.1


def own_store() -> VoiceStore:
    """The voices of the benchmarks; the user's own are left alone, `voice add` included, from here on.

    There is a store for each list of phrases that was read, and each way to teach.
    """
    phrases = repr((phrases_read(Config()), READING_PACE, TAUGHT_IN)).encode()
    read = folder() / "rehearsals" / f"read in {hashlib.sha256(phrases).hexdigest()[:8]}"
    os.environ["XDG_DATA_HOME"] = str(read)
    return VoiceStore(Path(os.environ["XDG_DATA_HOME"]) / "handsfree" / "voices")


def phrases_read(config: Config) -> list[str]:
    """What is read; tables of phrases ask nothing of it afterwards, carcasses do."""
    return phrases_to_read(words.vocabulary(config))


def read_in(voice: Voice, config: Config) -> str:
    """Have a voice read the phrases in, once; its name in the store of the benchmarks."""
    known = own_store()
    name = re.sub(r"[^A-Za-z0-9-]", " ", f"{voice.program}:{voice.name}")
    if name in known.names():
        return name
    place = Path(tempfile.mkdtemp(prefix="handsfree-read-in-"))
    with (place / "phrases.csv").open("w", encoding="utf-8", newline="") as out:
        rows = csv.writer(out)
        rows.writerow(("file", "text"))
        for number, text in enumerate(phrases_read(config)):
            said = speak(text, replace(voice, pace=READING_PACE * voice.pace)).astype(np.float64)
            sound = np.pad(said * 2_600 / np.sqrt(np.mean(said**2)), 6_400)
            sound += np.random.default_rng(number).normal(0, 8, len(sound))
            file = f"{number}.wav"
            soundfile.write(place / file, np.clip(sound, -32_768, 32_767).astype(np.int16), 16_000)
            rows.writerow((file, text))
    group(["voice", "add", name, "--from", str(place)], standalone_mode=False)
    shutil.rmtree(place)
    return name


def rows_of(
    voices: Sequence[Voice], ears: Sequence[str], phones: PhonesFor = PhoneDecoder
) -> dict[Voice, list[Row]]:
    """For each voice the embedded engine with its own model, and the same with each ear beside it."""
    lexicon = shipped_lexicon(base_dictionary())
    models = [ear_of(Path(folder)) for folder in ears]
    found: dict[Voice, list[Row]] = {}
    for voice in voices:
        own = own_store().voice(read_in(Voice(voice.program, voice.name), Config()))
        found[voice] = [Ported("read in", of_voice(own, lexicon, phones))]
        for count, name in enumerate(EARS[: len(models)], 1):
            engine = with_ears(of_voice(own, lexicon, phones), *models[:count])
            found[voice].append(Ported(f"read in, {name}", engine, count))
    return found
