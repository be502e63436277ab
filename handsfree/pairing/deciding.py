"""What follows when calls and weights have waited long enough: pieces, questions, refusals. Pure."""

from __future__ import annotations

from collections.abc import Iterator

from handsfree.pairing.dialogue import Dialogue
from handsfree.pairing.doubt import tray_among
from handsfree.pairing.hanging import Hanging
from handsfree.pairing.judging import Judgement
from handsfree.pairing.messages import Decision, QuestionKind
from handsfree.pairing.queues import Waiting
from handsfree.pairing.responding import Responding
from handsfree.pairing.settings import PairingSettings
from handsfree.pairing.trays import Trays
from handsfree.pairing.waiting import SpokenCall, Weight
from handsfree.speech.messages import Utterance


class Deciding:
    """Decides what waits, at the moment when it must be or when nothing more is to be known."""

    def __init__(
        self,
        settings: PairingSettings,
        waiting: Waiting,
        dialogue: Dialogue,
        hanging: Hanging,
        trays: Trays,
        responds: Responding,
    ) -> None:
        self._settings = settings
        self._waiting = waiting
        self._dialogue = dialogue
        self._hanging = hanging
        self._trays = trays
        self._responds = responds
        self.busy = False
        """Somebody talks or a saw runs."""
        self.spoke_ns = 0
        """When something was last said."""
        self.unclear: Utterance | None = None
        """What was last said and not understood, since anything else was."""

    def take_trays(self, t_ns: int) -> Iterator[Decision]:
        """Loads as heavy as a known tray that no call has come near."""
        for weight in list(self._waiting.weights):
            waited_ns = t_ns - weight.since_ns
            if (
                weight.may_be_tray
                and waited_ns >= self._settings.commit_after_ns
                and self._waiting.no_call_near(weight)
            ):
                self._waiting.weights.remove(weight)
                yield from self._trays.take(weight, t_ns)

    def wonder(self, t_ns: int, weight: Weight) -> Iterator[Decision]:
        """No call has come for this weight: the butcher is asked, unless it is as heavy as a known tray.

        A call that has just been heard is given its time first; what was heard faintly before it would name
        the weight.
        """
        if weight.may_be_tray or self._waiting.may_be_named_soon(weight, t_ns):
            return
        waited_ns = t_ns - weight.since_ns - self._settings.ask_after_ns
        if not self._settings.questions:
            return
        if waited_ns >= 0 and not self._dialogue.must_wait and self.may_ask(t_ns, waited_ns):
            tray = self._trays.may_be_one(weight)
            guess = None if tray else self._waiting.guess(weight)
            if guess is not None and not weight.on_top and tray_among(guess.heard.utterance, self._settings):
                guess, tray = None, True
            if guess is not None:
                self._waiting.calls.remove(guess.heard)
                self._waiting.weights.remove(weight)
                yield from self._dialogue.give_way(t_ns)
                yield self.named(t_ns, guess.judged, weight)
                return
            yield from self._dialogue.give_way(t_ns)
            heard = self._waiting.last_near(weight, self.unclear) if not tray else None
            if heard is not None and self._trays.may_be_first(weight) and not weight.tray_asked:
                tray = True
            elif heard is not None and len(self._waiting.weights) == 1:
                call = self._responds.suggestion(heard, weight)
                if call is not None:
                    yield self._responds.suggest(call, heard, weight, t_ns)
                    return
            weight.asked_ns = t_ns
            kind = QuestionKind.TRAY if tray else QuestionKind.WHAT_WAS_THAT
            yield self._dialogue.ask(t_ns, kind, (), weight, None)

    def expire(self, t_ns: int) -> Iterator[Decision]:
        """Weights for which no call came, and calls for which no weight did, in time."""
        settings = self._settings
        for weight in list(self._waiting.weights):
            asked = weight.asked_ns + settings.question_open_ns if weight.asked_ns is not None else 0
            # A call near it may be for a load that is still to come: time tells.
            may_be_named = not self._waiting.no_call_near(weight)
            if t_ns > max(weight.since_ns + settings.call_after_ns, asked) and not may_be_named:
                self._waiting.weights.remove(weight)
                yield from self._uncalled(weight, t_ns)
        oldest_ns = settings.call_before_ns + settings.settle_allowance_ns
        for said in list(self._waiting.calls):
            if t_ns - said.utterance.end_ns > oldest_ns:
                self._waiting.calls.remove(said)
                yield said.unweighed(t_ns)

    def flush(self, t_ns: int) -> Iterator[Decision]:
        """Decide everything that waits, as it stands."""
        yield from self.commit_pairs(t_ns, at_once=True)
        if self._dialogue.open is not None:
            yield from self._responds.unanswered(self._dialogue.open, t_ns)
        for weight in self._waiting.weights:
            yield from self._uncalled(weight, t_ns)
        yield from (said.unweighed(t_ns) for said in self._waiting.calls)
        self._waiting.clear()

    def _uncalled(self, weight: Weight, t_ns: int) -> Iterator[Decision]:
        if weight.may_be_tray:
            yield from self._trays.take(weight, t_ns)
        else:
            yield self._hanging.uncalled(t_ns, weight)

    def commit_pairs(self, t_ns: int, *, at_once: bool) -> Iterator[Decision]:
        """The pairs that no rival comes close to, or that have waited long enough; all of them `at_once`."""
        held: list[SpokenCall] = []
        while True:
            # While a question is open about something else a doubtful call can only wait.
            asking, about = self._dialogue.must_wait and not at_once, self._dialogue.about
            pair = self._waiting.next_pair(
                t_ns, at_once=at_once, only_clear=asking, asked=about, but_not=held
            )
            if pair is None:
                return
            said, weight = pair
            judged = self._waiting.judged(said, weight)
            waited_ns = t_ns - max(said.utterance.heard_ns, weight.since_ns)
            going_on = len(self._waiting.weights) > 1
            # A tray put back while somebody chats is worth no question: "tray" is said, and may be put right.
            chat = said.doubtful and weight.may_be_tray
            later = not at_once and not self.may_ask(t_ns, waited_ns, going_on)
            if judged.doubt is not None and (chat or later):
                held.append(said)
                continue
            self._waiting.calls.remove(said)
            if said.doubtful and not weight.on_top and tray_among(said.utterance, self._settings):
                self._trays.suppose(weight)
                yield said.unweighed(t_ns)
                continue
            self._waiting.weights.remove(weight)
            if self._dialogue.open is not None and self._dialogue.open.weight is weight:
                yield self._dialogue.close(t_ns, said.call)
            if judged.doubt is not None:
                yield from self._dialogue.give_way(t_ns)
            yield self.named(t_ns, judged, weight)

    def may_ask(self, t_ns: int, waited_ns: int, going_on: bool = True) -> bool:
        """Whether this is a moment for a question, or there will hardly be a better one."""
        talking = going_on and t_ns - self.spoke_ns < self._settings.pause_ns
        return not (self.busy or talking) or waited_ns >= self._settings.ask_patience_ns

    def named(self, t_ns: int, judged: Judgement, weight: Weight) -> Decision:
        """The piece, or the question that must be asked first; unnamed when another one is open.

        "Same again" repeats what was laid down before: while that has no name yet there is none to repeat.
        """
        if judged.said.call.same_again and self._lies_nameless_before(weight):
            return weight.piece(t_ns, judged.said, named=False)
        if judged.doubt is None:
            return weight.piece(t_ns, judged.said)
        if self._dialogue.open is not None or not self._settings.questions:
            return weight.piece(t_ns, judged.said, named=False)
        return self._dialogue.ask(t_ns, judged.doubt.kind, judged.doubt.options, weight, judged.said)

    @property
    def undecided(self) -> list[Weight]:
        """The weights that wait, and the one that is asked about."""
        about = self._dialogue.about
        return [*self._waiting.weights, *([about] if about is not None else [])]

    def _lies_nameless_before(self, weight: Weight) -> bool:
        return any(other is not weight and other.onset_ns < weight.onset_ns for other in self.undecided)
