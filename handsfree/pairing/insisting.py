"""A command that was refused and is said again: what is heard as the same twice running is meant. Pure.

Talk may sound like a command once, faintly; hardly ever like the same one twice within seconds. People say
again what brought no answer.
"""

from __future__ import annotations

from handsfree.pairing.doubt import doubtful_command
from handsfree.pairing.settings import PairingSettings
from handsfree.speech.meaning import Command, Verb
from handsfree.speech.messages import Utterance

_OTHERWISE = frozenset({Verb.TAG, Verb.THAT_WAS, Verb.TRAY})
"""What is asked back, or done beside a weight, when it is in doubt."""


class Insisting:
    """Remembers the last doubtful command."""

    def __init__(self, settings: PairingSettings) -> None:
        self._settings = settings
        self._last: Command | None = None
        self._last_ns = 0

    def again(self, utterance: Utterance) -> Command | None:
        """The command that a refused utterance was likeliest to be, if the one before it was the same."""
        command = doubtful_command(utterance, self._settings)
        if command is None or command.verb in _OTHERWISE:
            return None
        is_same = command == self._last
        in_time = utterance.start_ns - self._last_ns <= self._settings.insists_within_ns
        self._last, self._last_ns = command, utterance.end_ns
        if not (is_same and in_time):
            return None
        self._last = None
        return command

    def forget(self) -> None:
        """Something else was understood meanwhile."""
        self._last = None
