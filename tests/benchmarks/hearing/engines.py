"""The rows of the tables: ways to hear a clip, each with its own kind of refusal."""

from __future__ import annotations

import tempfile
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

from pocketsphinx import Decoder
from sound_store import Clip

from handsfree.errors import HandsfreeError
from handsfree.speech.grammar import Grammar
from handsfree.speech.hearing import (
    READINGS,
    READINGS_WITH_SECOND_EAR,
    WITH_SECOND_EAR,
    WITH_THIRD_EAR,
    Thresholds,
)
from handsfree.speech.jsgf import to_jsgf
from handsfree.speech.messages import Samples
from handsfree.speech.model_store import ModelStore
from handsfree.speech.models import to_use
from handsfree.speech.pocketsphinx_decoders import PhoneDecoder, base_dictionary
from handsfree.speech.pocketsphinx_engine import PhonesFor, PocketSphinxRecogniser
from handsfree.speech.ports import Recogniser
from handsfree.speech.vosk_engine import VoskRecogniser
from handsfree.speech.wordings import by_meaning
from handsfree.testing.shipped_words import shipped_lexicon
from handsfree.wiring.hearing import ear_of, with_ears

EARS = ("second ear", "third ear")


@dataclass(frozen=True, slots=True)
class Heard:
    """What a row made of a clip."""

    readings: tuple[str, ...]
    """Best first."""
    taken: bool
    """Whether the best one passes; otherwise it counts as rejected."""
    confidence: float
    after_s: float
    """Processor time from the last sample to the result."""
    while_s: float
    """Processor time while the sound came in."""


class Row(Protocol):
    """One way to hear."""

    name: str

    def use(self, grammar: Grammar) -> None:
        """Listen for this grammar."""

    def hear(self, clip: Clip) -> Heard:
        """What was said."""


class Ported:
    """Any engine behind the project's port, on denoised sound, judged as the recorder judges it.

    Args:
        name: Of the row.
        engine: With whatever ears it has.
        ears: How many those are.
    """

    def __init__(self, name: str, engine: Recogniser, ears: int = 0) -> None:
        self.name = name
        self.engine = engine
        self._grammar: Grammar | None = None
        self._thresholds = (Thresholds(), WITH_SECOND_EAR, WITH_THIRD_EAR)[ears]
        self._alternatives = READINGS_WITH_SECOND_EAR if ears else READINGS

    def use(self, grammar: Grammar) -> None:
        self.engine.use(grammar)
        self._grammar = grammar

    def hear(self, clip: Clip) -> Heard:
        return self.hear_sound(clip.clean, clip.raw)

    def hear_sound(self, sound: Samples, captured: Samples | None = None) -> Heard:
        """The same for bare samples."""
        began = time.process_time()
        self.engine.begin()
        self.engine.feed(sound, captured)
        fed = time.process_time()
        result = by_meaning(self.engine.finish(self._alternatives))
        done = time.process_time()
        best = result.hypotheses[0] if result.hypotheses else None
        taken = best is not None and result.confidence >= self._thresholds.least(
            best.meaning, own_voice=result.own_voice
        )
        texts = tuple(reading.text for reading in result.hypotheses[:3])
        return Heard(texts, taken, result.confidence, done - fed, fed - began)


class Plain:
    """PocketSphinx as its guide sets it up for a grammar: noisy sound, its defaults, no gate.

    The pronunciations are ours, else words would be missing. A result that is no whole phrase counts
    as rejected.
    """

    name = "plain PocketSphinx"

    def use(self, grammar: Grammar) -> None:
        self._grammar = grammar
        with tempfile.TemporaryDirectory() as folder:
            words, rules = Path(folder, "words.dict"), Path(folder, "rules.jsgf")
            words.write_text(shipped_lexicon(base_dictionary()).dictionary_text(grammar.words()))
            rules.write_text(to_jsgf(grammar, chances=False))
            self._decoder = Decoder(dict=str(words), jsgf=str(rules), loglevel="FATAL")

    def hear(self, clip: Clip) -> Heard:
        began = time.process_time()
        self._decoder.start_utt()
        self._decoder.process_raw(clip.raw.tobytes(), full_utt=True)
        self._decoder.end_utt()
        best = self._decoder.hyp()
        text = str(best.hypstr) if best else ""
        whole = self._grammar.contains(text)
        return Heard((text,) if text else (), whole, float(whole), time.process_time() - began, 0.0)


def rows(
    ears: Sequence[str] = (), *, plain: bool = True, phones: PhonesFor = PhoneDecoder
) -> tuple[list[Row], list[str]]:
    """The rows that can run here, and a line for each that cannot; each ear beside those before it."""
    lexicon = shipped_lexicon(base_dictionary())
    found: list[Row] = [Ported("ours", PocketSphinxRecogniser(lexicon, phones=phones))]
    notes: list[str] = []
    if plain:
        found.append(Plain())
    model = to_use(ModelStore().installed(), "")
    if model is None or model.folder is None:
        notes.append("Vosk: no English model here")
    else:
        try:
            found.append(Ported(f"Vosk {model.name}", VoskRecogniser(model.folder)))
        except HandsfreeError as error:
            notes.append(f"Vosk: {error}")
    if not ears:
        notes.append("second ear: no model given (--second-ear FOLDER)")
    models = [ear_of(Path(folder)) for folder in ears]
    for count, name in enumerate(EARS[: len(models)], 1):
        engine = with_ears(PocketSphinxRecogniser(lexicon, phones=phones), *models[:count])
        found.append(Ported(f"with {name}", engine, count))
    return found, notes


def in_use(found: Sequence[Row], grammar: Grammar) -> Sequence[Row]:
    """The rows, all listening for the grammar."""
    for row in found:
        row.use(grammar)
    return found
