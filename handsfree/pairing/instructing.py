"""Commands that need a settled load: what stood on which scale, and waiting for it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from handsfree.mass import MG_PER_KG, to_mg
from handsfree.pairing.messages import Instruction, Method
from handsfree.pairing.pan import Pan
from handsfree.pairing.ports import Nameless
from handsfree.pairing.settings import PairingSettings
from handsfree.pairing.waiting import Weight
from handsfree.speech.meaning import Command, Verb
from handsfree.speech.messages import Utterance
from handsfree.weighing.messages import Plateau

#: Least load that can be a carcass: below it "dressed weight" waits for the carcass to hang still.
_LEAST_CARCASS_MG = MG_PER_KG
#: Least load that can be a container, in scale intervals d (R 76-1 Table 3 lets nothing below 20 e
#: be weighed; a tray lighter than 5 d could not be told from a wet pan).
_LEAST_TRAY_D = 5

#: Before these everything that waits is decided as it stands.
DECIDE_FIRST = frozenset(
    {
        Verb.STRIKE,
        Verb.CLOSE_CARCASS,
        Verb.PARK_CARCASS,
        Verb.NEW_CARCASS,
        Verb.RESUME,
        Verb.TAKING_OFF,
        Verb.PUTTING_ON,
        Verb.REST,
    }
)

#: After these another carcass is in hand, or none.
ANOTHER_CARCASS = frozenset({Verb.NEW_CARCASS, Verb.CLOSE_CARCASS, Verb.PARK_CARCASS, Verb.RESUME})


@dataclass(frozen=True, slots=True)
class HeldCommand:
    """A command waiting for a scale to settle."""

    command: Command
    utterance: Utterance


class Instructions:
    """Makes `Instruction`s, and holds back those said before the scale had settled."""

    def __init__(self, settings: PairingSettings, pans: Mapping[str, Pan]) -> None:
        self._settings = settings
        self._pans = pans
        self._held: list[HeldCommand] = []
        self._used: Plateau | None = None
        self._struck_ns: int | None = None

    def must_wait(self, command: Command) -> bool:
        """Whether nothing fit for this command stands on a scale yet."""
        needs_load = command.number is None and command.verb in {Verb.DRESSED_WEIGHT, Verb.TRAY}
        return needs_load and not self._standing(command)

    @property
    def held(self) -> bool:
        """Whether a command waits for a scale."""
        return bool(self._held)

    def hold(self, command: Command, utterance: Utterance) -> None:
        """Keep a command until a scale settles or it has waited long enough."""
        self._held.append(HeldCommand(command, utterance))

    def ready(self, t_ns: int) -> Iterator[HeldCommand]:
        """Held commands whose load has settled, or that have waited long enough."""
        for held in list(self._held):
            waited_ns = t_ns - held.utterance.heard_ns
            if self._standing(held.command) or waited_ns > self._settings.hold_instruction_ns:
                self._held.remove(held)
                yield held

    def give_up(self) -> list[HeldCommand]:
        """All held commands, at the end of a session."""
        held, self._held = self._held, []
        return held

    def instruction(
        self, command: Command, utterance: Utterance, t_ns: int, about: Nameless | None = None
    ) -> Instruction:
        """The command as a decision, with the loads fit for it, best first, and the piece it is about."""
        standing = self._standing(command)
        if command.verb is Verb.DRESSED_WEIGHT and command.number is None and standing:
            self._used = standing[0]
        if command.verb is Verb.STRIKE:
            self._struck_ns = t_ns
        piece = about.piece if about is not None else None
        return Instruction(t_ns, command, utterance.text, standing, piece=piece)

    def only_repeats(self, command: Command, utterance: Utterance) -> bool:
        """Whether this is "strike that" again before its answer could be heard: it means no second piece."""
        if command.verb is not Verb.STRIKE or self._struck_ns is None:
            return False
        return utterance.start_ns - self._struck_ns < self._settings.strike_again_ns

    def used(self, plateau: Plateau) -> bool:
        """Whether this plateau was just taken as a dressed weight (its load is the carcass)."""
        return self._used is not None and same_plateau(self._used, plateau)

    def spoken_weight(self, command: Command, utterance: Utterance) -> Weight:
        """A weight that was said: it pairs with a call like any other."""
        assert command.number is not None
        return Weight(
            net_mg=to_mg(command.number, "kg"),
            u_mg=0.0,
            method=Method.SPOKEN,
            onset_ns=utterance.start_ns,
            settled_ns=utterance.heard_ns,
            change=None,
        )

    def _standing(self, command: Command) -> tuple[Plateau, ...]:
        rails = self._settings.carcass_scales
        standing = [pan.standing for pan in self._pans.values() if pan.standing is not None]
        standing.sort(key=lambda plateau: plateau.start_ns, reverse=True)
        if command.verb is Verb.DRESSED_WEIGHT:
            standing.sort(key=lambda plateau: plateau.scale not in rails)
            return tuple(p for p in standing if p.value_mg >= _LEAST_CARCASS_MG)
        if command.verb is Verb.TRAY:
            benches = [p for p in standing if p.scale not in rails]
            return tuple(p for p in benches if p.value_mg >= _LEAST_TRAY_D * p.d_mg)
        return tuple(standing)


def same_plateau(one: Plateau, other: Plateau) -> bool:
    """Whether two messages tell of the same stretch on the same scale."""
    return (one.scale, one.start_ns) == (other.scale, other.start_ns)
