"""The words of a larder: builds the grammar for each state of the dialogue and resolves defaults."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field

from handsfree.errors import ConfigError
from handsfree.speech.call_expressions import bare_side, calls
from handsfree.speech.command_expressions import answers, commands, wake
from handsfree.speech.commands import CommandSet
from handsfree.speech.cutlist import Cut, CutList, Plan
from handsfree.speech.expressions import Alternatives
from handsfree.speech.grammar import Grammar
from handsfree.speech.meaning import YES_NO, Answer, Call


@dataclass(frozen=True)
class Vocabulary:
    """One cut list with one set of commands."""

    cutlist: CutList
    commands: CommandSet
    _cuts: Mapping[str, Cut] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "_cuts", {cut.name: cut for cut in self.cutlist.cuts})

    def listening(self, cuts: Collection[str] | None = None) -> Grammar:
        """Calls, and commands after the attention word.

        Args:
            cuts: Canonical names of the only cuts to listen for; None for all.
        """
        call = calls(self.cutlist, self.commands, cuts)
        return Grammar("listening", Alternatives((call, commands(self.cutlist, self.commands))))

    def answering(self, options: Sequence[Call] = (), replies: Collection[Answer] = YES_NO) -> Grammar:
        """What may be said while a question is open: everything of `listening`, and the answers.

        Args:
            options: The calls the question offers. When they differ in nothing but the side, a
                bare "left" or "right" answers too.
            replies: What else answers the question.
        """
        parts = [self.listening().root]
        if replies:
            parts.append(answers(self.commands, replies))
        side = bare_side(options, self.commands)
        if side is not None:
            parts.append(side)
        return Grammar("answering", Alternatives(tuple(parts)))

    def resting(self) -> Grammar:
        """Only what ends the rest."""
        return Grammar("resting", wake(self.commands))

    def everything(self) -> Grammar:
        """Every phrase that means something in any state."""
        return Grammar("everything", Alternatives((self.listening().root, answers(self.commands))))

    def cut_names(self) -> list[str]:
        """The canonical cut names, in the order of the cut list."""
        return list(self._cuts)

    def cut(self, name: str) -> Cut:
        """The cut of this canonical name.

        Raises:
            ConfigError: There is no such cut on the list.
        """
        try:
            return self._cuts[name]
        except KeyError:
            raise ConfigError(
                f"the {self.cutlist.name} list has no cut {name!r}",
                next_step="see `handsfree grammar list` for the names it has",
            ) from None

    def is_sided(self, cut: str) -> bool:
        """Whether the cut comes in left and right; False for a name not on the list."""
        return cut in self._cuts and self._cuts[cut].sided

    def destination_of(self, call: Call) -> str:
        """Where the called piece goes: as said, else the cut's own; empty when neither is known."""
        if call.destination is not None:
            return call.destination
        return self._cuts[call.cut].destination if call.cut in self._cuts else ""

    def destination_names(self) -> list[str]:
        """The canonical destination names."""
        return [destination.name for destination in self.cutlist.destinations]

    def plan_names(self) -> list[str]:
        """The names of the plans of this cut list."""
        return [plan.name for plan in self.cutlist.plans]

    def plan(self, name: str) -> Plan:
        """The plan of this name.

        Raises:
            ConfigError: There is no such plan.
        """
        for plan in self.cutlist.plans:
            if plan.name == name:
                return plan
        raise ConfigError(
            f"the {self.cutlist.name} list has no plan {name!r}",
            next_step=f"its plans are: {', '.join(self.plan_names()) or 'none'}",
        )
