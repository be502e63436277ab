"""What the rehearsed butcher hears of the recorder: a port, so that a story can be told to anyone."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

from handsfree.answering.messages import Tone
from handsfree.testing.rehearsal.scenario import Act


@dataclass(frozen=True, slots=True)
class Answer:
    """One answer of the recorder, as a person hears it: a tone and words."""

    t_s: float
    """When its last word has been said, in seconds of the session."""
    tone: Tone
    text: str


class Ears(Protocol):
    """Plays the room to the recorder as far as it has got, and gives back what was answered."""

    def hear(self, until_s: float, acts: Sequence[Act]) -> list[Answer]:
        """What has been answered to the end by `until_s` and was not given before, in order of time.

        Args:
            until_s: Seconds of the session; never less than at the call before.
            acts: Everything done so far, in order; only ever added to.
        """
        ...

    def is_speaking(self, t_s: float) -> bool:
        """Whether the recorder is heard to speak at this time, which is not later than what was played."""
        ...
