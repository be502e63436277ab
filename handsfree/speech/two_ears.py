"""A recogniser that has a second model hear the same word, and weighs the two. Pure but for a thread."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from math import exp, log

import numpy as np

from handsfree.speech.continuations import Continuations
from handsfree.speech.fusion import UNHEARD, Belief, Fusion, Reading
from handsfree.speech.grammar import Grammar
from handsfree.speech.messages import RATE_HZ, Hypothesis, Samples
from handsfree.speech.parser import hypothesis
from handsfree.speech.phrase_search import Found, PhraseSearch, words_in
from handsfree.speech.ports import Recogniser, Recognition
from handsfree.speech.silence import Silence
from handsfree.speech.token_model import Ear, SoundTokens

_NOTHING = Recognition((), 0.0)
_FRAMES_A_SECOND = 100
FIRST_READINGS = 3
"""How many readings a first engine is asked for that decodes once more for each."""
READINGS = 8
"""How many readings the ear is asked for at least."""
_SILENCE = np.zeros(RATE_HZ, np.int16)
_SEARCHES_KEPT = 6
"""Grammars whose search is kept: one for each state of the dialogue."""
_AS_CAPTURED = 0.5
"""Share of the sound as captured in what the ear listens to. Such a model was trained on noisy speech
and suffers more from a filter's traces than from noise."""


_Listened = tuple[SoundTokens, list[Found], float]


@dataclass(frozen=True, slots=True)
class Weighed:
    """What the last result rests on; for training and for fault-finding."""

    readings: tuple[Reading, ...]
    freely: float
    """Natural-log probability of the likeliest free text."""
    belief: Belief


class TwoEars:
    """A `Recogniser` made of a first engine and a second ear.

    At the end of the word the first engine gives its readings; meanwhile, where there is a second core, the
    ear looks for the likeliest phrases of the same grammar by itself, in the denoised sound mixed with the
    sound as captured. It scores the first engine's readings too. The weights order them all, so the best may
    be one the first engine did not think of.

    What the first engine has settled (`Recognition.settled`) stands. While it hears through the speaker's own
    model it settles most, so the ear then waits until it is needed.

    Args:
        first: The engine; from here on only this wrapper speaks to it.
        ear: The second model.
        fusion: The weights.
        first_readings: How many readings the engine is asked for. It may be a pair of ears itself, to which
            this one is a third; a pair has more at hand than an engine alone.
    """

    def __init__(
        self, first: Recogniser, ear: Ear, fusion: Fusion, *, first_readings: int = FIRST_READINGS
    ) -> None:
        self._first = first
        self._ear = ear
        self._fusion = fusion
        self._first_readings = first_readings
        self._grammar: Grammar | None = None
        self._search: PhraseSearch | None = None
        self._searches: OrderedDict[Grammar, PhraseSearch] = OrderedDict()
        self._heard: list[Samples] = []
        self._silence: Silence | None = None
        self._waits = False
        """Whether the ear waits for what the first engine says."""
        self._weighed: Weighed | None = None

    @property
    def name(self) -> str:
        """Both engines."""
        return f"{self._first.name} with {self._ear.name}"

    @property
    def weighed(self) -> Weighed | None:
        """What the last result rests on; None when there was none."""
        return self._weighed

    def missing_words(self, words: Sequence[str]) -> list[str]:
        """Those the first engine cannot pronounce; the ear spells any word."""
        return self._first.missing_words(words)

    def listen_to(self, butcher: str) -> None:
        """See `Recogniser.listen_to`; the ear hears everybody alike."""
        self._first.listen_to(butcher)

    def use(self, grammar: Grammar) -> None:
        """Listen for this grammar from the next `begin` on.

        Raises:
            UnknownWordError: A word has no pronunciation in the first engine; names all of them.
        """
        self._first.use(grammar)
        if grammar is not self._grammar:
            self._grammar, self._search = grammar, self._search_in(grammar)

    def begin(self) -> None:
        """Start an utterance; one left open is dropped.

        Raises:
            GrammarError: No grammar was given to listen for.
        """
        self._first.begin()
        self._heard = []

    def feed(self, samples: Samples, captured: Samples | None = None) -> None:
        """The next samples of the utterance; see `Recogniser.feed`."""
        self._first.feed(samples, captured)
        if len(samples):
            self._heard.append(samples if captured is None else _mixed(samples, captured))

    def finish(self, alternatives: int = 3) -> Recognition:
        """End the utterance and say what it was, with up to `alternatives` readings."""
        self._weighed = None
        sound, self._heard = self._heard, []
        samples = np.concatenate(sound) if sound else np.zeros(0, np.int16)
        if self._search is None or alternatives < 1 or not len(samples):
            self._first.finish(self._first_readings)
            return _NOTHING
        seconds = len(samples) / RATE_HZ
        heard, listened = self._heard_by_both(samples, self._search, max(alternatives, READINGS))
        if listened is None:
            return replace(heard, hypotheses=heard.hypotheses[:alternatives])
        tokens, found, freely = listened
        ordered = self._fusion.ordered(_readings(tokens, self._search, found, heard))
        if not ordered:
            return replace(_NOTHING, own_voice=heard.own_voice)
        belief = self._fusion.belief_in(ordered, heard.confidence, freely)
        self._weighed = Weighed(tuple(ordered), freely, belief)
        weights = self._fusion.beside_own_voice() if heard.own_voice else self._fusion
        sure = weights.confidence(belief)
        frames = seconds * _FRAMES_A_SECOND
        readings = tuple(self._hypotheses(ordered[:alternatives], sure, frames))
        return Recognition(readings, sure, heard.own_voice)

    def _heard_by_both(
        self, samples: Samples, search: PhraseSearch, wanted: int
    ) -> tuple[Recognition, _Listened | None]:
        """What the first engine says, and what the ear hears unless that is settled."""
        if self._waits:
            heard = self._first.finish(self._first_readings)
            listened = None if heard.settled else self._listened(samples, search, wanted)
        else:
            # A thread for each word: none is left behind for a process that is forked later to stumble over.
            with ThreadPoolExecutor(1, "ear") as meanwhile:
                asked = meanwhile.submit(self._listened, samples, search, wanted)
                heard = self._first.finish(self._first_readings)
                listened = None if heard.settled else asked.result()
        self._waits = heard.own_voice
        return heard, listened

    def _listened(self, samples: Samples, search: PhraseSearch, wanted: int) -> _Listened:
        """What the ear makes of it by itself: the sound, its likeliest phrases, how likely free text is."""
        tokens = self._ear.listen(samples)
        found = search.likeliest(tokens, wanted, most_words=words_in(len(samples) / RATE_HZ))
        return tokens, found, tokens.freely()

    def _hypotheses(self, readings: Sequence[Reading], sure: float, frames: float) -> Iterator[Hypothesis]:
        """The readings as messages; together they are no likelier than certain."""
        assert self._grammar is not None
        worths = [self._fusion.worth(reading) for reading in readings]
        relative = [exp(max(-50.0, worth - worths[0])) for worth in worths]
        rest = sum(relative[1:])
        share = min(sure, (1.0 - sure) / rest) if rest else 0.0
        for place, reading in enumerate(readings):
            meant = hypothesis(self._grammar, reading.text, worths[place] / frames)
            yield replace(meant, probability=relative[place] * share if place else sure)

    def _search_in(self, grammar: Grammar) -> PhraseSearch:
        """The search in this grammar, made once; what any of them learns about silence serves all."""
        if self._silence is None:
            self._silence = Silence(self._ear.listen(_SILENCE))
        if grammar not in self._searches:
            self._searches[grammar] = PhraseSearch(Continuations(grammar), self._silence)
        self._searches.move_to_end(grammar)
        while len(self._searches) > _SEARCHES_KEPT:
            self._searches.popitem(last=False)
        return self._searches[grammar]


def _readings(
    tokens: SoundTokens, search: PhraseSearch, found: list[Found], first: Recognition
) -> list[Reading]:
    """Everything either engine thought of."""
    chances = {reading.text: reading.probability or 0.0 for reading in first.hypotheses}
    known = {phrase.text for phrase in found}
    best = first.hypotheses[0].text if first.hypotheses else ""
    return [
        Reading(
            phrase.text,
            phrase.log_likelihood,
            phrase.unasked,
            phrase.tokens,
            phrase.text == best,
            max(UNHEARD, log(max(chances.get(phrase.text, 0.0), 1e-9))),
        )
        for phrase in (*found, *search.scores(tokens, [text for text in chances if text not in known]))
    ]


def _mixed(samples: Samples, captured: Samples) -> Samples:
    clean = (1.0 - _AS_CAPTURED) * samples.astype(np.float32)
    return np.rint(clean + _AS_CAPTURED * captured.astype(np.float32)).astype(np.int16)
