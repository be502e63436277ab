"""One voice out of several: the first that can speak here."""

from __future__ import annotations

from collections.abc import Sequence

from handsfree.answering.ports import Spoken, Voice


class FirstVoice:
    """Asks the voices in order and stays with the first that speaks, so that they never mix.

    Args:
        voices: Best first.
    """

    def __init__(self, voices: Sequence[Voice]) -> None:
        self._voices = list(voices)
        self._found = False

    @property
    def name(self) -> str:
        """The voice found, or the one that is tried first."""
        return self._voices[0].name if self._voices else "no voice"

    def render(self, text: str) -> Spoken | None:
        """The words as sound; None when none of the voices speaks, or the one found fails once."""
        if not text.strip():
            return None
        while self._voices:
            spoken = self._voices[0].render(text)
            if spoken is not None or self._found:
                self._found = True
                return spoken
            self._voices.pop(0)
        return None
