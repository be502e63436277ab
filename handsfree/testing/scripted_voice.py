"""A voice that notes what it is to say and gives a hum as long as the words."""

from __future__ import annotations

import numpy as np

from handsfree.answering.ports import Spoken

#: Length of the hum for each character, about that of a brisk voice.
S_PER_CHARACTER = 0.06


class ScriptedVoice:
    """Notes the words; with `mute` it is a system without a voice."""

    def __init__(self, rate_hz: int = 22_050, *, mute: bool = False) -> None:
        self._rate_hz = rate_hz
        self._mute = mute
        self.said: list[str] = []
        """Every text that was rendered, in order."""

    @property
    def name(self) -> str:
        """What it is."""
        return "scripted voice"

    def render(self, text: str) -> Spoken | None:
        """A 150 Hz hum; None when mute or there is nothing to say."""
        self.said.append(text)
        if self._mute or not text.strip():
            return None
        t_s = np.arange(round(len(text) * S_PER_CHARACTER * self._rate_hz)) / self._rate_hz
        return Spoken(np.round(8000 * np.sin(2 * np.pi * 150 * t_s)).astype(np.int16), self._rate_hz)
