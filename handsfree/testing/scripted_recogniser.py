"""A recogniser that says what it was told to, in order: for every test that is not about an engine."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Sequence

from handsfree.errors import UnknownWordError
from handsfree.speech.grammar import Grammar
from handsfree.speech.messages import Hypothesis, Samples
from handsfree.speech.ports import Recognition


class ScriptedRecogniser:
    """Answers each utterance with the next line of its script; an empty script gives no reading.

    Args:
        script: For each utterance its text, its readings best first, or a finished `Recognition`.
        confidence: Confidence of answers given as text.
        unknown: Words it cannot pronounce.
    """

    def __init__(
        self,
        script: Iterable[str | Sequence[str] | Recognition] = (),
        *,
        confidence: float = 0.99,
        unknown: Iterable[str] = (),
    ) -> None:
        self._script = deque(script)
        self._confidence = confidence
        self._unknown = frozenset(unknown)
        self._grammar: Grammar | None = None
        self._begun = False
        self._samples = 0
        self.heard: list[tuple[str, int]] = []
        """For each finished utterance: the grammar's name and how many samples were fed."""
        self.butchers: list[str] = []
        """Whom it was told to listen to, in order."""

    @property
    def name(self) -> str:
        """Which engine and model, for tables and messages."""
        return "scripted"

    def use(self, grammar: Grammar) -> None:
        """Give meanings from this grammar from now on.

        Raises:
            UnknownWordError: A word is in `unknown`.
            RuntimeError: An utterance is being spoken: the port forbids it.
        """
        if self._begun:
            raise RuntimeError("use() between begin() and finish()")
        if missing := self.missing_words(grammar.words()):
            raise UnknownWordError(f"no pronunciation for {', '.join(missing)}")
        self._grammar = grammar

    def begin(self) -> None:
        """Start an utterance.

        Raises:
            RuntimeError: The one before was not finished, or no grammar is in use.
        """
        if self._begun or self._grammar is None:
            raise RuntimeError("begin() needs a grammar and a finished utterance before it")
        self._begun, self._samples = True, 0

    def feed(self, samples: Samples, captured: Samples | None = None) -> None:
        """Count the samples.

        Raises:
            RuntimeError: Not begun.
        """
        del captured
        if not self._begun:
            raise RuntimeError("feed() before begin()")
        self._samples += len(samples)

    def finish(self, alternatives: int = 3) -> Recognition:
        """The next line of the script.

        Raises:
            RuntimeError: Not begun.
        """
        if not self._begun or self._grammar is None:
            raise RuntimeError("finish() before begin()")
        self._begun = False
        self.heard.append((self._grammar.name, self._samples))
        line = self._script.popleft() if self._script else ()
        if isinstance(line, Recognition):
            return line
        texts = [line] if isinstance(line, str) else list(line)
        readings = tuple(
            Hypothesis(text, next(iter(self._grammar.parse(text)), None), -float(rank))
            for rank, text in enumerate(texts[:alternatives])
        )
        return Recognition(readings, self._confidence if readings else 0.0)

    def listen_to(self, butcher: str) -> None:
        """Note who is at the bench."""
        self.butchers.append(butcher)

    def missing_words(self, words: Sequence[str]) -> list[str]:
        """Those of `words` it was told it cannot pronounce."""
        return [word for word in words if word in self._unknown]
