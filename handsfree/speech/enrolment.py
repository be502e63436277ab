"""Pure: leads a person through the phrases: ask, hear, keep or ask again, hands free."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from handsfree.speech.messages import Samples
from handsfree.speech.take_checks import Fault

MOST_TRIES = 3
"""Takes of one phrase before it is left out."""


@dataclass(frozen=True, slots=True, eq=False)
class Take:
    """One stretch of speech, judged."""

    raw: Samples
    """As the microphone gave it."""
    fault: Fault | None = None


@dataclass(frozen=True, slots=True)
class Prompt:
    """Ask for this phrase."""

    number: int
    """From 1."""
    of: int
    phrase: str
    again: Fault | None = None
    """Why it is asked for once more; None the first time."""

    def words(self) -> str:
        """What is said aloud."""
        return f"again please, {self.again.value}, say {self.phrase}" if self.again else f"say {self.phrase}"


@dataclass(frozen=True, slots=True, eq=False)
class Kept:
    """This take is good."""

    phrase: str
    raw: Samples


@dataclass(frozen=True, slots=True)
class LeftOut:
    """No take of this phrase was good."""

    phrase: str
    fault: Fault


@dataclass(frozen=True, slots=True)
class Finished:
    """All phrases were asked for."""

    kept: int
    left_out: int


Step = Prompt | Kept | LeftOut | Finished


class Enrolment:
    """Goes through the phrases one by one.

    Args:
        phrases: What is to be read, in order, not empty.
    """

    def __init__(self, phrases: Sequence[str]) -> None:
        if not phrases:
            raise ValueError("there is nothing to read")
        self._phrases = tuple(phrases)
        self._at = 0
        self._tries = 0
        self._kept = 0

    @property
    def phrase(self) -> str | None:
        """The phrase that is waited for, None when all were read."""
        return self._phrases[self._at] if self._at < len(self._phrases) else None

    def begin(self) -> list[Step]:
        """The first prompt."""
        return [self._prompt()]

    def feed(self, take: Take) -> list[Step]:
        """What to do after this take; nothing once all phrases were read."""
        phrase = self.phrase
        if phrase is None:
            return []
        steps: list[Step] = []
        if take.fault is None:
            self._kept += 1
            steps.append(Kept(phrase, take.raw))
        else:
            self._tries += 1
            if self._tries < MOST_TRIES:
                return [self._prompt(take.fault)]
            steps.append(LeftOut(phrase, take.fault))
        self._at += 1
        self._tries = 0
        if self.phrase is None:
            return [*steps, Finished(self._kept, len(self._phrases) - self._kept)]
        return [*steps, self._prompt()]

    def _prompt(self, again: Fault | None = None) -> Prompt:
        return Prompt(self._at + 1, len(self._phrases), self._phrases[self._at], again)
