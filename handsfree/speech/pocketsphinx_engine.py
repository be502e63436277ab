"""The embedded recogniser: PocketSphinx on a closed grammar, with rivals and a gate. An edge module."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from handsfree.errors import GrammarError
from handsfree.speech.evidence import Evidence, weigh
from handsfree.speech.gate import Gate, packaged_gate
from handsfree.speech.grammar import Grammar
from handsfree.speech.lexicon import Lexicon
from handsfree.speech.messages import Hypothesis, Samples
from handsfree.speech.parser import hypothesis
from handsfree.speech.pocketsphinx_decoders import INITIAL_CMN, PhoneDecoder, PhraseDecoder
from handsfree.speech.ports import Recognition

_NOTHING = Recognition((), 0.0)


class PocketSphinxRecogniser:
    """A `Recogniser` that decodes while the word is spoken.

    The best reading comes from one pass that runs along with the sound. Rivals come from decoding
    the same sound again without the branches of the grammar already found. A phone decoder runs
    beside the first pass; how much better it explains the sound decides the confidence.

    Args:
        lexicon: Pronunciations of the grammars' words.
        gate: Turns evidence into confidence; the packaged one when not given.

    Raises:
        EngineUnavailableError: PocketSphinx or the model in its wheel is not installed.
        ModelError: The model cannot be loaded.
    """

    def __init__(self, lexicon: Lexicon, gate: Gate | None = None) -> None:
        self._lexicon = lexicon
        self._gate = gate or packaged_gate()
        self._phrases = PhraseDecoder()
        self._phones = PhoneDecoder()
        self._grammar: Grammar | None = None
        self._cmn = INITIAL_CMN
        self._heard: list[Samples] = []
        self._open = False
        self._evidence: Evidence | None = None

    @property
    def name(self) -> str:
        """Which engine and model."""
        return "PocketSphinx en-us"

    def missing_words(self, words: Sequence[str]) -> list[str]:
        """Those of `words` the lexicon has no pronunciation for, in the order given."""
        return self._lexicon.missing(words)

    def use(self, grammar: Grammar) -> None:
        """Listen for this grammar from the next `begin` on.

        Raises:
            UnknownWordError: Words without a pronunciation; names all of them.
            ModelError: The grammar cannot be compiled.
        """
        if grammar is self._grammar:
            return
        words = grammar.words()
        self._lexicon.require(words, needed_by=f"the grammar {grammar.name!r}")
        self._phrases.learn({word: self._lexicon.pronunciations(word) for word in words})
        self._phrases.use(grammar)
        self._grammar = grammar

    def begin(self) -> None:
        """Start an utterance; one left open is dropped.

        Raises:
            GrammarError: No grammar was given to listen for.
        """
        if self._grammar is None:
            raise GrammarError("no grammar was given to listen for", next_step="call use(grammar) first")
        if self._open:
            self._phrases.end()
            self._phones.end()
        self._heard = []
        self._phrases.begin(self._cmn)
        self._phones.begin(self._cmn)
        self._open = True

    def feed(self, samples: Samples) -> None:
        """The next samples of the utterance, int16 at 16 kHz."""
        if not self._open:
            raise RuntimeError("begin() comes before feed()")
        if len(samples):
            self._heard.append(samples)
            self._phrases.feed(samples)
            self._phones.feed(samples)

    def finish(self, alternatives: int = 3) -> Recognition:
        """End the utterance and say what it was, with up to `alternatives` readings."""
        if not self._open or self._grammar is None:
            raise RuntimeError("begin() comes before finish()")
        self._open = False
        self._phrases.end()
        self._phones.end()
        self._evidence = None
        used = self._cmn
        best = self._reading(self._grammar)
        if best is None:
            return _NOTHING
        segments = self._phrases.segments()
        self._cmn = self._phrases.cmn()
        self._evidence = weigh(segments, self._phones.segments())
        readings = [best, *self._rivals(best, alternatives - 1, used)]
        return Recognition(tuple(readings), self._gate.probability(self._evidence))

    @property
    def evidence(self) -> Evidence | None:
        """What the confidence of the last result rests on; for training the gate and for fault-finding."""
        return self._evidence

    def _reading(self, grammar: Grammar) -> Hypothesis | None:
        text = self._phrases.text()
        # At the end of the sound the engine may hand out a phrase that is only begun.
        if not text or not grammar.contains(text):
            return None
        return hypothesis(grammar, text, self._phrases.score() / max(1, self._phrases.frames))

    def _rivals(self, best: Hypothesis, wanted: int, cmn: str) -> list[Hypothesis]:
        """Readings of the same sound when the branches already found may not be said."""
        assert self._grammar is not None
        found: list[Hypothesis] = []
        taken = [self._grammar.key_of(best.text)]
        others = self._other_branches(taken[0] or "")
        sound = np.concatenate(self._heard) if self._heard else np.zeros(0, np.int16)
        while len(found) < wanted and taken[-1] is not None:
            rest = self._grammar.without([*others, *(key for key in taken if key is not None)])
            if rest is None:
                break
            self._phrases.use(rest)
            self._phrases.begin(cmn)
            self._phrases.feed(sound)
            self._phrases.end()
            reading = self._reading(rest)
            if reading is None:
                break
            # Scores are relative to the states alive in a pass, so a rival's pass may flatter it; the
            # full grammar preferred the best reading, and the order says so.
            ceiling = min(best.score, *(rival.score for rival in found)) if found else best.score
            found.append(replace(reading, score=min(reading.score, ceiling)))
            taken.append(rest.key_of(reading.text))
        self._phrases.use(self._grammar)
        return found

    def _other_branches(self, key: str) -> list[str]:
        """The keys outside the winner's kind: a call's rivals are calls, a command's are commands.

        The attention word is what tells them apart and is hardly ever misheard, and the small
        grammar that is left decodes in a fraction of the time.
        """
        assert self._grammar is not None
        kind, nested, _ = key.partition(":")
        if not nested:
            return []
        every = self._grammar.keys()
        return [other for other in every if other.partition(":")[0] != kind]
