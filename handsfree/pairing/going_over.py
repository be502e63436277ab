"""Before a carcass is closed: the pieces that went in without a name are gone over, one by one. Pure.

By then the plan has few pieces left and the block is quieter, so what could not be made out in mid-carcass
is found by what is still to come and what it weighs. The books decide what has no name: whatever names or
strikes a piece meanwhile, it is not asked about again. To say "close carcass" once more closes at once.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from handsfree.pairing.dialogue import Dialogue, Replied
from handsfree.pairing.instructing import HeldCommand
from handsfree.pairing.judging import Judge
from handsfree.pairing.messages import Question, QuestionKind
from handsfree.pairing.ports import CarcassInHand, Nameless
from handsfree.pairing.settings import PairingSettings


@dataclass(slots=True)
class _Turn:
    """The piece whose turn it is."""

    piece: Nameless
    replied: Replied = field(default_factory=Replied)
    asked: int = 0
    """How many questions were asked about it."""


class GoingOver:
    """Holds a "close carcass" back until what has no name was asked about."""

    def __init__(
        self, settings: PairingSettings, carcass: CarcassInHand, judge: Judge, dialogue: Dialogue
    ) -> None:
        self._settings = settings
        self._carcass = carcass
        self._judge = judge
        self._dialogue = dialogue
        self._held: HeldCommand | None = None
        self._turn: _Turn | None = None
        self._over: set[int] = set()
        self._ignored = 0
        self._since_ns = 0

    @property
    def is_held(self) -> bool:
        """Whether a carcass is to be closed when its pieces have been gone over."""
        return self._held is not None

    @property
    def about(self) -> Nameless | None:
        """The piece asked about last: "that was ..." and "strike that" mean it."""
        return self._turn.piece if self._turn is not None else None

    def hold(self, held: HeldCommand, t_ns: int) -> bool:
        """Keep a command to close, if there is something to go over; one said again is not kept."""
        again = self.is_held
        self.let_go()
        wanted = self._settings.questions and self._settings.go_over and not again
        if not wanted or not self._carcass.nameless():
            return False
        self._held, self._since_ns = held, t_ns - self._settings.go_over_pause_ns
        return True

    def let_go(self) -> HeldCommand | None:
        """End it: the command to close that was held, if any."""
        held, self._held, self._turn, self._ignored = self._held, None, None, 0
        self._over.clear()
        return held

    def waited_ns(self, t_ns: int) -> int:
        """How long after the pause there was a moment to go on; below 0 it is not over yet."""
        return t_ns - self._since_ns - self._settings.go_over_pause_ns

    def next_question(self, t_ns: int) -> Question | None:
        """What to ask now, with no question open; None when nothing is left to go over."""
        self._since_ns = t_ns
        nameless = self._carcass.nameless()
        if self._turn is not None and not self._goes_on(self._turn, nameless):
            self._over.add(self._turn.piece.piece)
            self._turn = None
        if self._turn is None:
            due = [each for each in nameless if each.piece not in self._over]
            if not due or self._ignored >= self._settings.go_over_ignored:
                return None
            self._turn = _Turn(due[0])
        return self._ask(self._turn, t_ns)

    def set_aside(self) -> None:
        """Another piece is laid down: from now on that one is meant; what was asked is asked again later."""
        self._turn = None

    def settled(self, t_ns: int) -> None:
        """A name was given or taken back: it may be put right before anything else is asked."""
        self._since_ns = t_ns

    def _goes_on(self, turn: _Turn, nameless: Sequence[Nameless]) -> bool:
        """Whether this piece is asked about once more: the last question was answered, and not by a name."""
        if all(each.piece != turn.piece.piece for each in nameless):
            return False
        answered, turn.replied.answered = turn.replied.answered, False
        self._ignored += not answered
        return answered and turn.asked < self._settings.go_over_questions

    def _ask(self, turn: _Turn, t_ns: int) -> Question:
        turn.asked += 1
        piece, replied = turn.piece, turn.replied
        heard = (*piece.heard, *replied.heard)
        options = self._judge.names_for(heard, piece.mass_mg, replied.denied, several=replied.unclear)
        kind = QuestionKind.CHOOSE if len(options) > 1 else QuestionKind.CONFIRM
        kind = kind if options else QuestionKind.WHAT_WAS_THAT
        return self._dialogue.go_over(t_ns, kind, options, piece, replied)
