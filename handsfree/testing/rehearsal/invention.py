"""Invents a carcass: what it weighs, into what pieces it falls, and how each is called. Pure, seeded.

The masses are drawn from the cut list's shares with their own spread, so nothing here is a real
animal. What the plan does not take up goes to dice, mince, trim and bone, until the pieces and the
process loss add up to the dressed weight.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

import numpy as np

from handsfree.answering.spoken import piece_words
from handsfree.errors import SessionError
from handsfree.speech.cutlist import Plan
from handsfree.speech.grammar import Grammar
from handsfree.speech.meaning import Call, Side
from handsfree.speech.numbers import words_for
from handsfree.speech.vocabulary import Vocabulary
from handsfree.testing.rehearsal.pace import Cut

#: Left and right of one carcass differ by about this much (standard deviation of ln; common practice).
_PAIR_SPREAD = 0.04
#: What is cut off between the joints: name, share of the remainder (common practice, no source).
_REMAINDER = (("dice", 0.22), ("mince", 0.22), ("pet trim", 0.11), ("fat", 0.08), ("bone", 0.37))
_LEAST_G, _LUMP_G = 60.0, 1500.0


@dataclass(frozen=True, slots=True)
class Larder:
    """What the carcass is and how its words are used.

    Args:
        vocabulary: The words.
        plan: Name of the cut plan.
    """

    vocabulary: Vocabulary
    plan: str
    dressed_kg: float = 25.0
    """Median dressed weight; each carcass differs (ln spread 0.15)."""
    process_loss: float = 0.004
    """Share that becomes drip and saw dust."""
    aliases: float = 0.2
    """Share of calls by another name than the list's own."""
    destinations: float = 0.1
    """Share of calls with a destination said."""
    remainder: bool = True
    """Whether what the plan leaves is weighed too, as dice, mince, trim and bone."""


@dataclass(frozen=True, slots=True)
class InventedCarcass:
    """One carcass and its pieces in the order they are cut."""

    dressed_g: float
    pieces: tuple[Cut, ...]


def invent(larder: Larder, rng: np.random.Generator) -> InventedCarcass:
    """A carcass by the larder's plan.

    Raises:
        ConfigError: There is no such plan.
        SessionError: The plan's shares leave nothing to cut.
    """
    plan = larder.vocabulary.plan(larder.plan)
    dressed_g = larder.dressed_kg * 1000 * float(np.exp(rng.normal(0, 0.15)))
    to_cut_g = dressed_g * (1 - larder.process_loss)
    planned = _planned(plan, dressed_g, rng)
    whole_g = sum(mass_g for _, mass_g in planned)
    if not planned:
        raise SessionError(f"the plan {plan.name!r} has no pieces with a usual weight to invent")
    # Drawn shares need not add up; what is over is taken from every piece alike.
    room = 0.97 if larder.remainder else 1.0
    if whole_g > room * to_cut_g or not larder.remainder:
        scale = room * to_cut_g / whole_g
        planned = [(call, mass_g * scale) for call, mass_g in planned]
    if larder.remainder:
        left_g = to_cut_g - sum(mass_g for _, mass_g in planned)
        planned += _rest(larder.vocabulary, left_g, rng)
    teller = _Words(larder, rng)
    return InventedCarcass(dressed_g, tuple(teller.cut(call, mass_g) for call, mass_g in planned))


def _planned(plan: Plan, dressed_g: float, rng: np.random.Generator) -> list[tuple[Call, float]]:
    found: list[tuple[Call, float]] = []
    pairs: dict[str, float] = {}
    for piece in plan.pieces:
        if piece.share is None:
            continue
        if piece.side is not None and piece.cut in pairs:
            mass_g = pairs[piece.cut] * float(np.exp(rng.normal(0, _PAIR_SPREAD)))
        else:
            mass_g = piece.share * dressed_g * float(np.exp(rng.normal(0, piece.spread)))
            pairs[piece.cut] = mass_g
        found.append((Call(piece.cut, piece.side, piece.count), max(_LEAST_G, mass_g)))
    return found


def _rest(vocabulary: Vocabulary, left_g: float, rng: np.random.Generator) -> list[tuple[Call, float]]:
    names = set(vocabulary.cut_names())
    kinds = [(name, share) for name, share in _REMAINDER if name in names]
    whole = sum(share for _, share in kinds)
    found = []
    for name, share in kinds:
        mass_g = left_g * share / whole
        lumps = max(1, round(mass_g / _LUMP_G))
        cuts = rng.dirichlet([8.0] * lumps) * mass_g
        found += [(Call(name), float(cut_g)) for cut_g in cuts if cut_g >= _LEAST_G]
    return found


class _Words:
    """How a butcher words a call: mostly the list's own name, sometimes another, sometimes with more."""

    def __init__(self, larder: Larder, rng: np.random.Generator) -> None:
        self._larder = larder
        self._rng = rng
        self._grammar: Grammar = larder.vocabulary.listening()
        self._before: Call | None = None
        self._went_to = ""

    def cut(self, call: Call, mass_g: float) -> Cut:
        """The piece with its words; always a phrase of the grammar."""
        vocabulary, rng = self._larder.vocabulary, self._rng
        destination = vocabulary.destination_of(call)
        said = self._name(call)
        if rng.random() < self._larder.destinations:
            destination = str(rng.choice(vocabulary.destination_names()))
            said += f" for {destination}"
        elif call == self._before and rng.random() < 0.5:
            # It repeats where the piece before went, too.
            destination, said = self._went_to, "same again"
        if not self._grammar.contains(said):
            destination, said = vocabulary.destination_of(call), self._plain(call)
        self._before, self._went_to = call, destination
        side = call.side.value if call.side else ""
        elsewhere = destination != vocabulary.destination_of(call)
        return Cut(call.cut, mass_g, side, call.count, destination, said, elsewhere)

    def _name(self, call: Call) -> str:
        cut = self._larder.vocabulary.cut(call.cut)
        names: Sequence[str] = cut.plurals if call.count > 1 else (cut.name, *cut.aliases)
        other = len(names) > 1 and self._rng.random() < self._larder.aliases
        name = str(self._rng.choice(names[1:])) if other else names[0]
        return self._with_side(call, name)

    def _plain(self, call: Call) -> str:
        cut = self._larder.vocabulary.cut(call.cut)
        return self._with_side(call, cut.plurals[0] if call.count > 1 else cut.name, behind=0.0)

    def _with_side(self, call: Call, name: str, behind: float = 0.1) -> str:
        count = f"{words_for(Decimal(call.count))} " if call.count > 1 else ""
        if call.side is None:
            return f"{count}{name}"
        if not count and self._rng.random() < behind:
            return f"{name} {call.side.value}"
        return f"{count}{call.side.value} {name}"


def pieces_from_rows(rows: Sequence[dict[str, str]], vocabulary: Vocabulary, where: str) -> tuple[Cut, ...]:
    """The pieces of a user's own table: columns cut, side, count, net_g, destination, said.

    Raises:
        SessionError: A row names no cut of the list, or its weight is no number; names the line.
    """
    grammar = vocabulary.listening()
    found = []
    for number, row in enumerate(rows, start=2):
        place = f"{where} line {number}"
        cut, side = (row.get("cut") or "").strip(), (row.get("side") or "").strip()
        if cut not in vocabulary.cut_names():
            raise SessionError(f"{place}: {cut!r} is not on the {vocabulary.cutlist.name} list")
        try:
            call = Call(cut, Side(side) if side else None, int(row.get("count") or 1))
            mass_g = float(row.get("net_g") or "")
        except ValueError as error:
            raise SessionError(f"{place}: the side, count or net_g cannot be read") from error
        if not 0 < mass_g < 1e6:
            raise SessionError(f"{place}: {mass_g:g} g is no weight of a piece")
        said = (row.get("said") or "").strip() or piece_words(cut, side, call.count)
        if not grammar.contains(said):
            raise SessionError(
                f"{place}: {said!r} is no phrase of the grammar",
                next_step="`handsfree grammar try` shows what is",
            )
        usual = vocabulary.destination_of(call)
        destination = (row.get("destination") or "").strip() or usual
        found.append(Cut(cut, mass_g, side, call.count, destination, said, destination != usual))
    return tuple(found)
