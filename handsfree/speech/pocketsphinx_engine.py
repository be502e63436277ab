"""The embedded recogniser: PocketSphinx on a closed grammar, with rivals and a gate. An edge module."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from handsfree.errors import GrammarError
from handsfree.speech.evidence import NO_RIVAL, Evidence, Segment, weigh
from handsfree.speech.gate import Gate, packaged_gate
from handsfree.speech.grammar import Grammar
from handsfree.speech.lexicon import Lexicon
from handsfree.speech.messages import Hypothesis, Samples
from handsfree.speech.parser import hypothesis
from handsfree.speech.pocketsphinx_decoders import MeanListener, PhoneDecoder, PhraseDecoder
from handsfree.speech.ports import Phones, Recognition

PhonesFor = Callable[[Path | None], Phones]
"""Makes a phone decoder for a speaker's own files, or for the model as it comes."""

_OUT_OF_SIGHT = 25.0
"""A rival this far behind (natural log, in all) is hardly ever what was said, and none after it: of the
phrases of the development half the truth came third there once, and a pass is saved for four in five."""

SETTLED = 0.7
"""From this confidence on, through the speaker's own model, its reading stands and no other ear is asked:
they hear nobody's voice in particular. Of 29 stretches of development talk none came as high through any of
three voices' models. On 19 development carcasses (182 pieces, voices read in, nobody answering) 178 pieces
were right where two ears were asked about what the engine gave less than 0.3, 177 with 0.5, 174 with 0.7, 170
with 0.95, and 168 where they were asked about everything."""


class PocketSphinxRecogniser:
    """A `Recogniser` on a closed grammar.

    While the word is spoken only its cepstral mean is listened for; at its end the sound is decoded
    with that mean: the phrases, a phone decoder beside them, then rivals by decoding once more
    without the branches of the grammar already found. How much better the phones explain the sound,
    and how far the rivals are behind, decide the confidence. The same sound gives the same result,
    whatever was heard before.

    Scores are comparable between the readings of one utterance: natural log likelihood relative to
    the model's best state in every frame, per 10 ms frame of the utterance.

    Args:
        lexicon: Pronunciations of the grammars' words.
        gate: Turns evidence into confidence; the packaged one when not given.
        adapted: A folder with a speaker's own files in place of the model's (`SphinxDecoder`).
        phones: What decodes phones for these files; in this process, after the phrases, when not given.

    Raises:
        EngineUnavailableError: PocketSphinx or the model in its wheel is not installed.
        ModelError: The model cannot be loaded.
    """

    def __init__(
        self,
        lexicon: Lexicon,
        gate: Gate | None = None,
        *,
        adapted: Path | None = None,
        phones: PhonesFor = PhoneDecoder,
    ) -> None:
        self._lexicon = lexicon
        self._gate = gate or packaged_gate()
        self._phrases = PhraseDecoder(adapted)
        self._phones = phones(adapted)
        self._mean = MeanListener(adapted)
        self._nothing = Recognition((), 0.0, own_voice=adapted is not None)
        self._grammar: Grammar | None = None
        self._heard: list[Samples] = []
        self._open = False
        self._evidence: Evidence | None = None
        self._behind: tuple[float, ...] = ()

    @property
    def name(self) -> str:
        """Which engine and model."""
        return "PocketSphinx en-us"

    def missing_words(self, words: Sequence[str]) -> list[str]:
        """Those of `words` the lexicon has no pronunciation for, in the order given."""
        return self._lexicon.missing(words)

    def listen_to(self, butcher: str) -> None:
        """See `Recogniser.listen_to`: everybody is heard alike."""

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
            self._mean.end()
        self._heard = []
        self._mean.begin()
        self._open = True

    def feed(self, samples: Samples, captured: Samples | None = None) -> None:
        """The next samples of the utterance, int16 at 16 kHz."""
        del captured
        if not self._open:
            raise RuntimeError("begin() comes before feed()")
        if len(samples):
            self._heard.append(samples)
            self._mean.feed(samples)

    def finish(self, alternatives: int = 3) -> Recognition:
        """End the utterance and say what it was, with up to `alternatives` readings."""
        if not self._open or self._grammar is None:
            raise RuntimeError("begin() comes before finish()")
        self._open = False
        self._mean.end()
        self._evidence, self._behind = None, ()
        cmn = self._mean.mean()
        sound = np.concatenate(self._heard) if self._heard else np.zeros(0, np.int16)
        self._phones.listen(sound, cmn)
        best = self._decoded(self._grammar, sound, cmn)
        if best is None:
            return self._nothing
        frames = max(1, self._phrases.frames)
        segments = self._phrases.segments()
        # Even when nobody asks for a rival, how near one comes is evidence.
        rivals = self._rivals(best, max(1, alternatives - 1), sound, cmn)
        self._behind = tuple(frames * (best.score - rival.score) for rival in rivals)
        margin = self._behind[0] if rivals else NO_RIVAL
        expected = _pronounced(segments, self._lexicon)
        self._evidence = weigh(segments, self._phones.segments(), expected, margin)
        chances = self._gate.probabilities(self._evidence, self._behind)
        readings = [
            replace(reading, probability=chance)
            for reading, chance in zip([best, *rivals], chances, strict=True)
        ]
        settled = self._nothing.own_voice and chances[0] >= SETTLED
        return replace(
            self._nothing, hypotheses=tuple(readings[:alternatives]), confidence=chances[0], settled=settled
        )

    @property
    def evidence(self) -> Evidence | None:
        """What the confidence of the last result rests on; for training the gate and for fault-finding."""
        return self._evidence

    @property
    def behind(self) -> tuple[float, ...]:
        """How far the rivals of the last result are behind its best reading: natural log, in all."""
        return self._behind

    def _decoded(self, grammar: Grammar, sound: Samples, cmn: str) -> Hypothesis | None:
        self._phrases.use(grammar)
        self._phrases.begin(cmn)
        self._phrases.feed(sound)
        self._phrases.end()
        text = self._phrases.text()
        # At the end of the sound the engine may hand out a phrase that is only begun.
        if not text or not grammar.contains(text):
            return None
        return hypothesis(grammar, text, self._phrases.score() / max(1, self._phrases.frames))

    def _rivals(self, best: Hypothesis, wanted: int, sound: Samples, cmn: str) -> list[Hypothesis]:
        """Readings of the same sound when the branches already found may not be said."""
        assert self._grammar is not None
        found: list[Hypothesis] = []
        taken = [self._grammar.key_of(best.text)]
        others = self._other_branches(taken[0] or "")
        while len(found) < wanted and taken[-1] is not None:
            rest = self._grammar.without([*others, *(key for key in taken if key is not None)])
            reading = None if rest is None else self._decoded(rest, sound, cmn)
            if rest is None or reading is None:
                break
            # The beam of the first pass may have lost a path that this one kept: the order stays.
            ceiling = found[-1].score if found else best.score
            found.append(replace(reading, score=min(reading.score, ceiling)))
            taken.append(rest.key_of(reading.text))
            if (best.score - found[-1].score) * self._phrases.frames > _OUT_OF_SIGHT:
                break
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


def _pronounced(segments: Sequence[Segment], lexicon: Lexicon) -> list[str]:
    """The phones of the words in the way the decoder chose; "haunch(2)" is the second."""
    phones: list[str] = []
    for segment in segments:
        if not segment.is_filler:
            word, _, way = segment.label.partition("(")
            ways = lexicon.pronunciations(word)
            phones += ways[min(int(way.rstrip(")")) if way else 1, len(ways)) - 1] if ways else ()
    return phones
