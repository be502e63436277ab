"""Vosk behind the recogniser port: a closed phrase list, every result parsed again. An edge module."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from handsfree.errors import EngineUnavailableError, GrammarError, ModelError
from handsfree.speech.grammar import Grammar
from handsfree.speech.jsgf import to_phrases
from handsfree.speech.lexicon import unknown_words
from handsfree.speech.messages import RATE_HZ, Hypothesis, Samples
from handsfree.speech.parser import hypothesis
from handsfree.speech.ports import Recognition

_UNKNOWN = "[unk]"
_MOST_PHRASES = 2000
"""The engine makes a word n-gram of the list: a few thousand phrases show it every pair of words."""

_NOTHING = Recognition((), 0.0)
_ALTERNATIVES_ASKED = 10
"""More than are handed out, since many of them are no phrases of the grammar."""
_CHUNK_SAMPLES = 4000
"""The engine's results depend a little on how sound is cut, so it always gets the same pieces."""


@dataclass(frozen=True, slots=True)
class WordTime:
    """One word of the last result with its place in the utterance."""

    word: str
    start_s: float
    """Seconds from the utterance's first sample."""
    end_s: float
    confidence: float
    """0 to 1, as the engine says."""


class VoskRecogniser:
    """A `Recogniser` on a Vosk model folder.

    The engine's own end-of-speech rule is not used. Its grammar is a word n-gram, so it returns
    mixtures and halves of phrases: whatever is no phrase of the grammar is dropped.

    Args:
        model: The folder of an unpacked Vosk model.

    Raises:
        EngineUnavailableError: The vosk library is not installed.
        ModelError: The folder is no Vosk model.
    """

    def __init__(self, model: Path) -> None:
        try:
            import vosk  # noqa: PLC0415 - an optional library says so when asked for
        except ImportError as error:
            raise EngineUnavailableError(
                f"the Vosk recogniser cannot be loaded ({error})",
                next_step="install it: pip install 'handsfree[vosk]', or use the embedded engine",
            ) from error
        if not (model / "am").is_dir() and not (model / "final.mdl").is_file():
            raise ModelError(
                f"{model} is no Vosk model: it has no am folder",
                next_step="see `handsfree models` for what is installed, and fetch or select another",
            )
        vosk.SetLogLevel(-1)
        self._vosk = vosk
        self._path = model
        try:
            self._model = vosk.Model(str(model))
        except Exception as error:  # the library raises bare Exception
            raise ModelError(
                f"the Vosk model in {model} cannot be loaded ({error})",
                next_step="remove it and fetch it again with `handsfree models fetch`",
            ) from error
        self._grammar: Grammar | None = None
        self._phrase_list = "[]"
        self._plain: Any = None
        self._rivals: Any = None
        self._waiting = np.zeros(0, np.int16)
        self._samples = 0
        self._words: tuple[WordTime, ...] = ()

    @property
    def name(self) -> str:
        """Which engine and model."""
        return f"Vosk {self._path.name}"

    @property
    def word_times(self) -> tuple[WordTime, ...]:
        """The words of the last result's best reading with their times."""
        return self._words

    def missing_words(self, words: Sequence[str]) -> list[str]:
        """Those of `words` that are not in the model, in the order given."""
        return [word for word in dict.fromkeys(words) if not self._has(word)]

    def listen_to(self, butcher: str) -> None:
        """See `Recogniser.listen_to`: everybody is heard alike."""

    def use(self, grammar: Grammar) -> None:
        """Listen for this grammar from the next `begin` on.

        Raises:
            UnknownWordError: Words that are not in the model; names all of them.
        """
        if grammar is self._grammar:
            return
        missing = self.missing_words(grammar.words())
        if missing:
            # Left alone, the engine would warn on standard error and quietly drop the word.
            raise unknown_words(missing, needed_by=f"the grammar {grammar.name!r} with {self.name}")
        phrases = to_phrases(grammar, _MOST_PHRASES)
        shown = {word for phrase in phrases for word in phrase.split()}
        # A word of a branch that the listed phrases do not reach stands alone; the n-gram joins it.
        phrases += [word for word in grammar.words() if word not in shown]
        if self._has(_UNKNOWN):
            phrases.append(_UNKNOWN)
        self._phrase_list = json.dumps(phrases, ensure_ascii=False)
        self._grammar = grammar
        self._plain = self._rivals = None

    def begin(self) -> None:
        """Start an utterance; one left open is dropped.

        Raises:
            GrammarError: No grammar was given to listen for.
        """
        if self._grammar is None:
            raise GrammarError("no grammar was given to listen for", next_step="call use(grammar) first")
        # New recognisers for each utterance: a used one keeps counting its times from its own start,
        # and keeps the speaker it adapted to, which would make a result depend on what came before.
        self._plain = self._vosk.KaldiRecognizer(self._model, RATE_HZ, self._phrase_list)
        self._plain.SetWords(True)
        # Word confidences and alternatives exclude each other, hence two recognisers on one model.
        self._rivals = self._vosk.KaldiRecognizer(self._model, RATE_HZ, self._phrase_list)
        self._rivals.SetMaxAlternatives(_ALTERNATIVES_ASKED)
        self._waiting = np.zeros(0, np.int16)
        self._samples = 0
        self._words = ()

    def feed(self, samples: Samples, captured: Samples | None = None) -> None:
        """The next samples of the utterance, int16 at 16 kHz."""
        del captured
        if self._plain is None:
            raise RuntimeError("begin() comes before feed()")
        self._waiting = np.concatenate([self._waiting, samples])
        while len(self._waiting) >= _CHUNK_SAMPLES:
            self._accept(self._waiting[:_CHUNK_SAMPLES])
            self._waiting = self._waiting[_CHUNK_SAMPLES:]

    def finish(self, alternatives: int = 3) -> Recognition:
        """End the utterance and say what it was, with up to `alternatives` readings.

        The confidence is the engine's own for the least sure word; it is not calibrated.
        """
        if self._plain is None or self._grammar is None:
            raise RuntimeError("begin() comes before finish()")
        if len(self._waiting):
            self._accept(self._waiting)
        plain, listed = json.loads(self._plain.FinalResult()), json.loads(self._rivals.FinalResult())
        self._plain = self._rivals = None
        scores = {
            str(option["text"]): float(option["confidence"])
            for option in reversed(listed.get("alternatives", []))
        }
        self._words = tuple(
            WordTime(str(word["word"]), float(word["start"]), float(word["end"]), float(word["conf"]))
            for word in plain.get("result", [])
        )
        best = str(plain.get("text", ""))
        ranked = [best, *sorted(scores, key=lambda text: -scores[text])]
        readings = [
            self._reading(text, scores) for text in dict.fromkeys(ranked) if self._grammar.contains(text)
        ]
        if not readings or alternatives < 1:
            return _NOTHING
        # A rival moved up because the engine's own best was a mixture is not to be acted on.
        sure = min((word.confidence for word in self._words), default=0.0)
        return Recognition(tuple(readings[:alternatives]), sure if readings[0].text == best else 0.0)

    def _reading(self, text: str, scores: dict[str, float]) -> Hypothesis:
        assert self._grammar is not None
        frames = max(1, self._samples * 100 // RATE_HZ)
        score = scores.get(text, max(scores.values(), default=0.0))
        return hypothesis(self._grammar, text, score / frames)

    def _accept(self, samples: Samples) -> None:
        # What the engine says about the end of speech is ignored: the endpointer decides that.
        for recogniser in (self._plain, self._rivals):
            recogniser.AcceptWaveform(samples.tobytes())
        self._samples += len(samples)

    def _has(self, word: str) -> bool:
        return bool(self._model.vosk_model_find_word(word) >= 0)
