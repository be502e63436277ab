"""A name put right by voice: held against the mass it is for before it is carried out. Pure."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from handsfree.pairing.dialogue import Dialogue
from handsfree.pairing.instructing import Instructions
from handsfree.pairing.judging import Judge
from handsfree.pairing.messages import Decision
from handsfree.pairing.ports import CarcassInHand, Nameless
from handsfree.pairing.settings import PairingSettings
from handsfree.pairing.waiting import SpokenCall
from handsfree.speech.meaning import Answer, Call, Command


class Correcting:
    """Renames the last piece in the ledger, or asks first where that is unsure or would weigh oddly."""

    def __init__(
        self,
        settings: PairingSettings,
        carcass: CarcassInHand,
        judge: Judge,
        dialogue: Dialogue,
        instructions: Instructions,
    ) -> None:
        self._settings = settings
        self._carcass = carcass
        self._judge = judge
        self._dialogue = dialogue
        self._instructions = instructions

    def rename(
        self, command: Command, said: SpokenCall, t_ns: int, piece: Nameless | None = None
    ) -> Iterator[Decision]:
        """A piece gets the name that fits its mass best of those heard; an unsure one is confirmed.

        To say the same correction again, while it is asked about, confirms it.

        Args:
            command: The correction.
            said: Its call, with whatever else it may have been.
            t_ns: Now.
            piece: The piece that was last asked about in going over; None for the last one.
        """
        mass_mg = piece.mass_mg if piece is not None else self._carcass.last_mass_mg
        call, sure = said.call, True
        if mass_mg is not None:
            call, sure = self._judge.corrected(said, mass_mg)
        command = replace(command, call=call)
        instruction = self._instructions.instruction(command, said.utterance, t_ns, piece)
        if (
            mass_mg is not None
            and self._said_again(call)
            and self._judge.stands(call, said.utterance, mass_mg)
        ):
            yield self._dialogue.close(t_ns, Answer.YES)
            yield instruction
            return
        if sure or mass_mg is None or not self._settings.questions:
            if self._dialogue.gone_over is not None:
                yield self._dialogue.close(t_ns, call)
            yield instruction
            return
        if self._dialogue.open is not None:
            yield self._dialogue.close(t_ns, None)
        yield self._dialogue.ask_rename(instruction, call, mass_mg)

    def _said_again(self, call: Call) -> bool:
        asked = self._dialogue.open
        if asked is None or asked.carries_out is None:
            return False
        return any(call.same_piece(each) for each in asked.question.options)
