"""A tag that was not heard surely is asked back, while the carcass has none. Pure.

Digits are short and alike, and a tag is told once a carcass: what the gate refuses would be said four times
in vain, where "yes" is heard at once. The same tag heard twice running is meant. What was misheard once is
misheard again: a tag that was denied is not offered a second time, and one that is told again although it is
in the books already was heard wrong; then the next likely of all that was said is asked about. "Oh" and
"four" are heard for each other so often that the same with the one for the other is asked about then, whether
it was heard or not.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterator
from dataclasses import replace

from handsfree.pairing.dialogue import Dialogue
from handsfree.pairing.doubt import doubtful_tag
from handsfree.pairing.instructing import ANOTHER_CARCASS, Instructions
from handsfree.pairing.messages import (
    Decision,
    Instruction,
    Question,
    QuestionClosed,
    QuestionKind,
    SpeechRefused,
)
from handsfree.pairing.ports import CarcassInHand
from handsfree.pairing.sayings import is_tag, together
from handsfree.pairing.settings import PairingSettings
from handsfree.speech.meaning import Answer, Command, Verb
from handsfree.speech.messages import Refusal, Utterance

_TAKEN_FOR = {"0": "4", "4": "0"}
"""Of nine tags that were heard wrong out of 45 of the development half (voices read in, three ears) five had
"oh" for "four" or the other way round, in quiet as in noise."""
_SO_OFTEN = 0.2
"""Share of the likeliest such tag's probability that the same with one of these digits exchanged gains, all
places together (own reckoning: it must only come before what was hardly heard at all)."""


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
        self._heard: Utterance | None = None
        """All that was said of this carcass's tag, weighed together."""
        self._denied: tuple[str, ...] = ()
        self._told_ns: int | None = None
        """When this carcass was last given a tag."""
        self._goes_on = False
        """Whether a tag was just denied, and the next likely one may be asked about."""
        self._followed = 0
        """How many were asked about since the tag was last told."""

    def note(self, decision: Decision) -> None:
        """Remember what was denied, and what the carcass has been given."""
        match decision:
            case QuestionClosed(question=Question(kind=QuestionKind.TAG, digits=denied), answer=Answer.NO):
                self._denied, self._goes_on = (*self._denied, denied), True
            case Instruction(command=Command(verb=Verb.TAG)):
                self._told_ns, self._goes_on = decision.t_ns, False
            case Instruction(command=Command(verb=verb)) if verb in ANOTHER_CARCASS:
                self._heard, self._denied, self._told_ns, self._goes_on = None, (), None, False

    def doubtful(self, utterance: Utterance) -> Command | None:
        """The tag to ask about; None where the utterance tells none, or none is wanted, or not now."""
        tag = doubtful_tag(utterance, self._settings) if self._is_wanted(utterance.heard_ns) else None
        return tag if tag is not None and self._may_ask else None

    def heard(self, tag: Command, utterance: Utterance) -> Iterator[Decision]:
        """Ask about a doubtful tag, or take it: it is the one that is asked about, said again."""
        t_ns, asked = utterance.heard_ns, self._asked
        self._remember(utterance)
        if asked == tag.digits:
            yield self._dialogue.close(t_ns, Answer.YES)
            yield self._instructions.instruction(tag, utterance, t_ns)
            return
        yield SpeechRefused(t_ns, utterance, Refusal.NOT_LIKE_SPEECH_WE_KNOW.value)
        yield from self._ask_next({asked} if asked is not None else (), utterance)

    def doubts(self, tag: Command, utterance: Utterance) -> bool:
        """Whether a tag that the gate let through was denied before, or is the one in the books, told again.

        Then it was heard wrong, and there is another that it may have been.
        """
        if self._carcass.tag is None:
            return False
        self._remember(utterance)
        again = tag.digits == self._carcass.tag and utterance.confidence < self._settings.accept
        return (again or tag.digits in self._denied) and self._may_ask and self._next() is not None

    def ask_other(self, utterance: Utterance) -> Iterator[Decision]:
        """Ask about the next likely tag in place of one that `doubts`."""
        yield SpeechRefused(utterance.heard_ns, utterance, "this tag was heard before and was not meant")
        yield from self._ask_next((), utterance)

    def go_on(self, t_ns: int) -> Iterator[Question]:
        """After "no": the next likely tag, if there is one."""
        if not self._goes_on or self._dialogue.open is not None:
            return
        self._goes_on = False
        enough = self._followed >= self._settings.next_tags or len(self._denied) >= self._settings.tags_denied
        tag = None if enough else self._next(least=self._settings.next_tag)
        if tag is not None and self._heard is not None:
            self._followed += 1
            yield self._dialogue.ask_tag(self._instructions.instruction(tag, self._heard, t_ns))

    def told(self, t_ns: int) -> Iterator[Decision]:
        """A tag was told: the question about another is closed."""
        if self._asked is not None:
            yield self._dialogue.close(t_ns, None)

    def _ask_next(self, without: Collection[str], utterance: Utterance) -> Iterator[Decision]:
        t_ns = utterance.heard_ns
        tag = self._next(without)
        if tag is not None:
            yield from self.told(t_ns)
            yield self._dialogue.ask_tag(self._instructions.instruction(tag, utterance, t_ns))

    def _next(self, without: Collection[str] = (), least: float = 0.0) -> Command | None:
        """The likeliest tag that may still be meant, if it has this share of what those denied leave."""
        assert self._heard is not None
        not_meant = {*self._denied, self._carcass.tag}
        out = not_meant.union(without)
        chances: defaultdict[Command, float] = defaultdict(float)
        for each in self._heard.hypotheses:
            if isinstance(each.meaning, Command) and is_tag(each.meaning):
                chances[each.meaning] += each.probability or 0.0
        left = 1.0 - sum(chance for tag, chance in chances.items() if tag.digits in out)
        wrong = [tag for tag in chances if tag.digits in not_meant]
        if wrong:
            likeliest = max(wrong, key=lambda tag: chances[tag])
            others = tuple(_exchanged(likeliest))
            for other in others:
                chances[other] += chances[likeliest] * _SO_OFTEN / len(others)
        offered = [(chance, tag) for tag, chance in chances.items() if tag.digits not in out]
        chance, best = max(offered, key=lambda each: each[0], default=(0.0, None))
        return best if chance >= least * left else None

    def _remember(self, utterance: Utterance) -> None:
        earlier, self._followed = self._heard, 0
        self._heard = (
            together(earlier, utterance, self._settings, is_tag) if earlier is not None else utterance
        )

    def _is_wanted(self, t_ns: int) -> bool:
        """Whether the carcass has no tag, or was given one just now, which may have been heard wrong."""
        just_told = self._told_ns is not None and t_ns - self._told_ns <= self._settings.tag_again_ns
        return self._carcass.tag == "" or (self._carcass.tag is not None and just_told)

    @property
    def _may_ask(self) -> bool:
        free = self._dialogue.open is None or self._asked is not None
        return self._settings.questions and free

    @property
    def _asked(self) -> str | None:
        """The tag that is asked about; None where none is."""
        asked = self._dialogue.open
        is_one = asked is not None and asked.question.kind is QuestionKind.TAG
        return asked.question.digits if asked is not None and is_one else None


def _exchanged(tag: Command) -> Iterator[Command]:
    """The same tag with one digit exchanged for what it is taken for."""
    for place, digit in enumerate(tag.digits):
        if digit in _TAKEN_FOR:
            yield replace(tag, digits=f"{tag.digits[:place]}{_TAKEN_FOR[digit]}{tag.digits[place + 1 :]}")
