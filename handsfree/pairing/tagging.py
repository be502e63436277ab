"""A tag that was not heard surely is asked back, while the carcass has none. Pure.

Digits are short and alike, and a tag is told once a carcass: what the gate refuses would be said four times
in vain, where "yes" is heard at once. The same tag heard twice running is meant.
"""

from __future__ import annotations

from collections.abc import Iterator

from handsfree.pairing.dialogue import Dialogue
from handsfree.pairing.doubt import doubtful_tag
from handsfree.pairing.instructing import Instructions
from handsfree.pairing.messages import Decision, QuestionKind, SpeechRefused
from handsfree.pairing.ports import CarcassInHand
from handsfree.pairing.settings import PairingSettings
from handsfree.speech.meaning import Answer, Command
from handsfree.speech.messages import Refusal, Utterance


class Tagging:
    """Asks about a doubtful tag, and closes the question when the tag is told clearly."""

    def __init__(
        self,
        settings: PairingSettings,
        carcass: CarcassInHand,
        dialogue: Dialogue,
        instructions: Instructions,
    ) -> None:
        self._settings = settings
        self._carcass = carcass
        self._dialogue = dialogue
        self._instructions = instructions

    def doubtful(self, utterance: Utterance) -> Command | None:
        """The tag to ask about; None where the utterance tells none, or none is wanted, or not now."""
        free = self._dialogue.open is None or self._asked is not None
        wanted = self._carcass.lacks_tag and self._settings.questions and free
        return doubtful_tag(utterance, self._settings) if wanted else None

    def heard(self, tag: Command, utterance: Utterance) -> Iterator[Decision]:
        """Ask about a doubtful tag, or take it: it is the one that is asked about, said again."""
        t_ns, asked = utterance.heard_ns, self._asked
        instruction = self._instructions.instruction(tag, utterance, t_ns)
        if asked == tag.digits:
            yield self._dialogue.close(t_ns, Answer.YES)
            yield instruction
            return
        yield SpeechRefused(t_ns, utterance, Refusal.NOT_LIKE_SPEECH_WE_KNOW.value)
        yield from self.told(t_ns)
        yield self._dialogue.ask_tag(instruction)

    def told(self, t_ns: int) -> Iterator[Decision]:
        """A tag was told: the question about another is closed."""
        if self._asked is not None:
            yield self._dialogue.close(t_ns, None)

    @property
    def _asked(self) -> str | None:
        """The tag that is asked about; None where none is."""
        asked = self._dialogue.open
        is_tag = asked is not None and asked.question.kind is QuestionKind.TAG
        return asked.question.digits if asked is not None and is_tag else None
