"""The pairing stage: utterances and load changes in, decisions out.

Pure: no clock, thread or device. Time is what the messages carry; a `Tick` says that time has
passed. `feed` yields each decision as it is made, so that whoever carries it out has it in the
ledger before the next one is thought about.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from handsfree.pairing.correcting import Correcting
from handsfree.pairing.deciding import Deciding
from handsfree.pairing.dialogue import Dialogue
from handsfree.pairing.doubt import (
    doubtful_call,
    doubtful_renaming,
    doubtful_tray,
    is_unsure,
    possible_tray,
)
from handsfree.pairing.going_over import GoingOver
from handsfree.pairing.hanging import Hanging
from handsfree.pairing.insisting import Insisting
from handsfree.pairing.instructing import (
    ANOTHER_CARCASS,
    DECIDE_FIRST,
    HeldCommand,
    Instructions,
    same_plateau,
)
from handsfree.pairing.judging import Judge
from handsfree.pairing.messages import (
    NO_CARCASS,
    Decision,
    Instruction,
    LoadPassed,
    Method,
    PassingReason,
    PieceWeighed,
    QuestionKind,
    SpeechRefused,
    Tick,
)
from handsfree.pairing.pan import Pan
from handsfree.pairing.ports import CarcassInHand
from handsfree.pairing.queues import Waiting
from handsfree.pairing.responding import NOT_UNDERSTOOD, Responding
from handsfree.pairing.rhythm import Rhythms
from handsfree.pairing.settings import PairingSettings
from handsfree.pairing.tagging import Tagging
from handsfree.pairing.trays import Trays
from handsfree.pairing.waiting import SpokenCall, Weight, correction
from handsfree.speech.meaning import Answer, Call, Command, Verb
from handsfree.speech.messages import Refusal, Utterance
from handsfree.weighing.messages import LoadChange, Plateau, ScaleEvent

PairingInput = Utterance | Plateau | LoadChange | ScaleEvent | Tick


class Pairing:
    """Joins calls and weights, asks when it must, and passes commands on.

    Args:
        carcass: The carcass in hand, as it is on disk.
        settings: Waits and scores.
        lags_s: The lags of the butcher's earlier pieces, oldest first; see `rhythm.lag_s`.
    """

    def __init__(
        self,
        carcass: CarcassInHand,
        settings: PairingSettings | None = None,
        lags_s: Iterable[float] = (),
    ) -> None:
        self._settings = settings or PairingSettings()
        self._carcass = carcass
        self._hanging = Hanging(self._settings, carcass)
        self._judge = Judge(self._settings, carcass, lambda: self._hanging.mass_mg)
        self._waiting = Waiting(self._settings, self._judge, Rhythms(self._settings, lags_s))
        self._pans: dict[str, Pan] = {}
        self._instructions = Instructions(self._settings, self._pans)
        self._trays = Trays(self._settings, self._pans)
        self.dialogue = Dialogue(self._settings)
        self._corrects = Correcting(self._settings, carcass, self._judge, self.dialogue, self._instructions)
        self._responds = Responding(
            self._settings, self._judge, self._waiting, self.dialogue, self._hanging, self._trays
        )
        self._tags = Tagging(self._settings, carcass, self.dialogue, self._instructions)
        self._insists = Insisting(self._settings)
        self._decides = Deciding(
            self._settings, self._waiting, self.dialogue, self._hanging, self._trays, self._responds
        )
        self._going_over = GoingOver(self._settings, carcass, self._judge, self.dialogue)
        self.resting = False
        self._last: PieceWeighed | None = None
        """The last piece; None once it was struck."""

    def feed(self, message: PairingInput) -> Iterator[Decision]:
        """The decisions that follow from one message, in order."""
        for decision in self._decide(message):
            if isinstance(decision, PieceWeighed):
                self._trays.note(decision)
                self._last = decision
                self._waiting.rhythms.note(decision)
                self._decides.unclear = None
            if isinstance(decision, Instruction) and decision.piece is not None:
                self._going_over.settled(decision.t_ns)
            elif isinstance(decision, Instruction) and decision.command.verb is Verb.STRIKE:
                self._last = None
            self._tags.note(decision)
            yield decision

    def _decide(self, message: PairingInput) -> Iterator[Decision]:
        match message:
            case Utterance():
                if message.accepted or message.end_ns - message.start_ns >= self._settings.reply_least_ns:
                    self._decides.spoke_ns = message.end_ns
                    if message.accepted or message.refusal in NOT_UNDERSTOOD:
                        self._decides.unclear = None if message.accepted else message
                yield from self._hear(message)
                t_ns = message.heard_ns
            case LoadChange():
                yield from self._load(message)
                t_ns = message.t_ns
            case Plateau():
                self._pan(message.scale).standing = message
                self._hanging.stands(message)
                t_ns = message.end_ns
            case ScaleEvent():
                t_ns = message.t_ns
            case Tick():
                t_ns = message.t_ns
                self._decides.busy = self._decides.busy if message.busy is None else message.busy
        for instruction in self._instructions.ready(t_ns):
            yield from self._carry_out(instruction.command, instruction.utterance, t_ns)
        yield from self._settle(t_ns)

    def finish(self, t_ns: int) -> Iterator[Decision]:
        """The session ends: everything that waits is decided as it stands."""
        for instruction in self._instructions.give_up():
            yield from self._carry_out(instruction.command, instruction.utterance, t_ns)
        yield from self._decides.flush(t_ns)
        yield from self._close_held(t_ns)

    def _hear(self, utterance: Utterance) -> Iterator[Decision]:
        t_ns = utterance.heard_ns
        meaning = utterance.meaning
        if meaning is not None:
            self._insists.forget()
        if meaning is None:
            yield from self._hear_refused(utterance)
        elif self.resting and not (isinstance(meaning, Command) and meaning.verb is Verb.WAKE):
            yield SpeechRefused(t_ns, utterance, "the recorder is at rest")
        elif isinstance(meaning, Command):
            yield from self._command(meaning, utterance)
        elif isinstance(meaning, Answer):
            yield from self._responds.answer(meaning, utterance)
        elif not self._carcass.is_open:
            yield SpeechRefused(t_ns, utterance, NO_CARCASS)
        elif is_unsure(utterance, self._settings) and not self._answers(meaning):
            said = SpokenCall(meaning, utterance, doubtful=True)
            yield from self._responds.doubtful_call(said, utterance.heard_ns)
        elif self._answers(meaning):
            yield from self._responds.answer(meaning, utterance)
        else:
            yield from self._responds.call(SpokenCall(meaning, utterance), t_ns)

    def _answers(self, call: Call) -> bool:
        """Whether a call answers the open question; no more once the butcher has gone on to another piece."""
        since_ns = self.dialogue.since_ns + self._settings.went_on_ns
        gone_on = any(weight.onset_ns > since_ns for weight in self._waiting.weights)
        return self.dialogue.takes(call) and not gone_on

    def _command(self, command: Command, utterance: Utterance) -> Iterator[Decision]:
        if self._instructions.must_wait(command):
            self._instructions.hold(command, utterance)
        else:
            yield from self._carry_out(command, utterance, utterance.heard_ns)

    def _hear_refused(self, utterance: Utterance) -> Iterator[Decision]:
        """A word that answers the open question was waited for, as a weight waits for a call."""
        listening = not self.resting and self._carcass.is_open
        call = doubtful_call(utterance, self._settings) if listening else None
        nameless = self._waiting.weights or self.dialogue.about or self._lies_unnamed
        tray = doubtful_tray(utterance, self._settings) if listening and nameless else None
        renaming = doubtful_renaming(utterance, self._settings) if listening else None
        answer = self.dialogue.doubtful_answer(utterance) if listening else None
        if answer is not None:
            yield from self._responds.answer(answer, utterance)
        elif call is not None and self.dialogue.takes_doubtful(call) and self._answers(call):
            yield from self._responds.answer(call, utterance)
        elif call is not None:
            said = SpokenCall(call, utterance, doubtful=True)
            yield from self._responds.doubtful_call(said, utterance.heard_ns)
        elif renaming is not None and renaming.call is not None:
            yield from self._that_was(renaming, renaming.call, utterance, utterance.heard_ns)
        elif tray is not None:
            yield from self._carry_out(tray, utterance, utterance.heard_ns)
        elif listening and possible_tray(utterance, self._settings):
            yield from self._suppose_tray(utterance)
        elif (again := self._insists.again(utterance)) and (not self.resting or again.verb is Verb.WAKE):
            yield from self._command(again, utterance)
        elif listening and (tag := self._tags.doubtful(utterance)) is not None:
            yield from self._tags.heard(tag, utterance)
        else:
            why = utterance.refusal.value if utterance.refusal else "not in the grammar"
            yield SpeechRefused(utterance.heard_ns, utterance, why)
            if listening and utterance.refusal in NOT_UNDERSTOOD:
                yield from self._responds.not_understood(utterance)

    def _suppose_tray(self, utterance: Utterance) -> Iterator[Decision]:
        """What was said of the newest load may have been "tray": that is asked, instead of what it was."""
        yield SpeechRefused(utterance.heard_ns, utterance, Refusal.NOT_LIKE_SPEECH_WE_KNOW.value)
        asked = self.dialogue.about
        if asked is not None and asked not in self._waiting.weights and self.dialogue.only_offers:
            yield from self._responds.ask_tray(asked, utterance.heard_ns)
        elif self._waiting.weights:
            newest = self._waiting.weights[-1]
            self._trays.suppose(newest)
            if asked is newest and newest.asked is QuestionKind.WHAT_WAS_THAT:
                yield self.dialogue.close(utterance.heard_ns, None)
                newest.asked_ns = None

    def _carry_out(self, command: Command, utterance: Utterance, t_ns: int) -> Iterator[Decision]:
        match command.verb:
            case Verb.SPOKEN_WEIGHT:
                self._waiting.weights.append(self._instructions.spoken_weight(command, utterance))
                return
            case Verb.STRIKE if self._instructions.only_repeats(command, utterance):
                yield SpeechRefused(t_ns, utterance, "said again before it was answered")
                return
            case Verb.THAT_WAS if command.call is not None:
                yield from self._that_was(command, command.call, utterance, t_ns)
                return
            case Verb.TRAY:
                yield from self._pass_waiting(command, utterance, t_ns, PassingReason.CONTAINER)
                yield from self._take_back(command, utterance, t_ns)
            case Verb.DRESSED_WEIGHT:
                yield from self._pass_waiting(command, utterance, t_ns, PassingReason.THE_CARCASS)
                yield from self._take_back(command, utterance, t_ns)
            case Verb.CLOSE_CARCASS:
                yield from self._decides.flush(t_ns)
                if self._going_over.hold(HeldCommand(command, utterance), t_ns):
                    return
            case verb if verb in DECIDE_FIRST and not (verb is Verb.STRIKE and self._last_came_last):
                yield from self._decides.flush(t_ns)
                if verb in ANOTHER_CARCASS or verb is Verb.REST:
                    yield from self._close_held(t_ns)
        yield from self._instruct(command, utterance, t_ns)

    @property
    def _last_came_last(self) -> bool:
        """Whether no weight that waits, or is asked about, was laid down after the last piece.

        Then "strike that" means the piece, and what waits goes on waiting.
        """
        if self._last is None:
            return False
        last_ns = self._last.change.onset_ns if self._last.change is not None else self._last.t_ns
        return all(weight.onset_ns < last_ns for weight in self._decides.undecided)

    @property
    def _lies_unnamed(self) -> bool:
        """Whether the last piece was all that stood on the scale, and went in without a name."""
        last = self._last
        return last is not None and last.call is None and last.method is Method.CLEARED_PAN

    def _instruct(self, command: Command, utterance: Utterance, t_ns: int) -> Iterator[Decision]:
        self.resting = (self.resting or command.verb is Verb.REST) and command.verb is not Verb.WAKE
        another = command.verb in ANOTHER_CARCASS and (self._carcass.has_begun or not self._carcass.is_open)
        if command.verb is Verb.TAG:
            if self._tags.doubts(command, utterance):
                yield from self._tags.ask_other(utterance)
                return
            yield from self._tags.told(t_ns)
        about = self._going_over.about if command.verb is Verb.STRIKE else None
        yield self._instructions.instruction(command, utterance, t_ns, about)
        if another:
            self._hanging.forget(pan.standing for pan in self._pans.values())

    def _close_held(self, t_ns: int) -> Iterator[Decision]:
        """Close the carcass whose pieces are being gone over."""
        held = self._going_over.let_go()
        if held is not None:
            yield from self._instruct(held.command, held.utterance, t_ns)

    def _that_was(self, command: Command, call: Call, utterance: Utterance, t_ns: int) -> Iterator[Decision]:
        """Names what still waits, else what was just taken for the tray, else the last piece."""
        yield from self._decides.commit_pairs(t_ns, at_once=True)
        said = correction(call, utterance)
        over = self._going_over.about
        weight, tray = self._waiting.take_newest(self.dialogue.about), self._trays.withdrawn(t_ns)
        if weight is not None:
            if self.dialogue.open is not None:
                yield self.dialogue.close(t_ns, call)
            yield self._decides.named(t_ns, self._judge.judge(said, weight), weight)
        elif tray is not None and over is None and self._judge.may_be(call, tray):
            yield from self._trays.undo(t_ns)
            yield tray.piece(t_ns, said)
        else:
            yield from self._corrects.rename(command, said, t_ns, over)

    def _take_back(self, command: Command, utterance: Utterance, t_ns: int) -> Iterator[Decision]:
        """Strikes the last piece when its load turns out to be the tray or the carcass itself."""
        instruction = self._instructions.instruction(command, utterance, t_ns)
        change = self._last.change if self._last is not None else None
        if (
            change is not None
            and instruction.standing
            and same_plateau(change.after, instruction.standing[0])
        ):
            yield Instruction(t_ns, Command(Verb.STRIKE), utterance.text, pieces_only=True)

    def _pass_waiting(
        self, command: Command, utterance: Utterance, t_ns: int, reason: PassingReason
    ) -> Iterator[Decision]:
        """The load now standing, and others waiting without a call, turn out to be no pieces."""
        standing = self._instructions.instruction(command, utterance, t_ns).standing
        for weight in list(self._waiting.weights):
            if weight.change is not None and standing and same_plateau(weight.change.after, standing[0]):
                self._waiting.weights.remove(weight)
                yield LoadPassed(t_ns, weight.change, reason)
        yield from self._decides.commit_pairs(t_ns, at_once=True)
        for weight in self._waiting.weights:
            if weight.change is not None:
                yield LoadPassed(t_ns, weight.change, reason)
        self._waiting.weights = [weight for weight in self._waiting.weights if weight.change is None]
        asked = self.dialogue.open
        if asked is not None and asked.said is None and (asked.load is None or command.verb is not Verb.TRAY):
            yield self.dialogue.close(t_ns, None)

    # Weights

    def _pan(self, scale: str) -> Pan:
        return self._pans.setdefault(scale, Pan(scale, self._settings, self._carcass))

    def _load(self, change: LoadChange) -> Iterator[Decision]:
        read = self._pan(change.scale).read(change)
        self._hanging.changes(change)
        if self._instructions.used(change.after):
            read = PassingReason.THE_CARCASS
        elif self.resting:
            read = PassingReason.RESTING
        if isinstance(read, Weight):
            if self.dialogue.gone_over is not None:
                yield self.dialogue.close(change.t_ns, None)
            self._going_over.set_aside()
            self._waiting.weights.append(read)
            self._trays.lie(read)
            return
        touched = self._waiting.touched(change) if read is PassingReason.CLEARED else None
        if touched is not None and touched.change is not None:
            self._waiting.weights.remove(touched)
            yield LoadPassed(change.t_ns, touched.change, PassingReason.BRIEF)
            read = PassingReason.BRIEF
        yield LoadPassed(change.t_ns, change, read)

    # Decisions that follow from time alone

    def _settle(self, t_ns: int) -> Iterator[Decision]:
        yield from self._decides.commit_pairs(t_ns, at_once=False)
        yield from self._responds.lapse(t_ns)
        yield from self._decides.take_trays(t_ns)
        yield from self._decides.expire(t_ns)
        if self._carcass.has_begun or self._hanging.mass_mg is not None:
            for weight in list(self._waiting.weights):
                if weight.asked_ns is None:
                    yield from self._decides.wonder(t_ns, weight)
        yield from self._tags.go_on(t_ns)
        yield from self._ask_dressed(t_ns)
        yield from self._go_over(t_ns)

    def _go_over(self, t_ns: int) -> Iterator[Decision]:
        """The next question about a piece without a name, or the close that waited for them."""
        waits = self._waiting.calls or self._waiting.weights or self._instructions.held
        waited_ns = self._going_over.waited_ns(t_ns)
        if not self._going_over.is_held or waits or self.dialogue.open is not None or waited_ns < 0:
            return
        if self._decides.may_ask(t_ns, waited_ns):
            question = self._going_over.next_question(t_ns)
            yield from self._close_held(t_ns) if question is None else (question,)

    def _ask_dressed(self, t_ns: int) -> Iterator[Decision]:
        """The dressed weight was never told, and there is a moment to ask for it."""
        load = self._hanging.to_ask(t_ns)
        waits = self._waiting.calls or self._waiting.weights or self._instructions.held
        if load is None or waits or self._decides.busy or self.dialogue.open is not None:
            return
        if self._settings.questions and not self.resting:
            self._hanging.asked()
            yield self.dialogue.ask_dressed(t_ns, load)
