"""Loads that are trays although nobody said so: the one known here, and the one that keeps coming back.

Pure. A load as heavy as a known tray, on a bare pan and with no call near it, is that tray: taken as
such quietly, and undone by "that was" with a cut. A load nobody has told of is never taken for a
tray: when the same uncalled load has begun two trays, the butcher is asked.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from handsfree.pairing.messages import (
    Decision,
    Instruction,
    LoadPassed,
    Method,
    PassingReason,
    PieceWeighed,
    TrayWithdrawn,
)
from handsfree.pairing.pan import Pan
from handsfree.pairing.settings import PairingSettings
from handsfree.pairing.waiting import Weight
from handsfree.speech.meaning import Command, Verb


class Trays:
    """What was taken for a tray, and what may be one."""

    def __init__(self, settings: PairingSettings, pans: Mapping[str, Pan]) -> None:
        self._settings = settings
        self._pans = pans
        self._taken: Weight | None = None
        self._taken_ns = 0
        self._told = False
        """Whether the last one taken was entered."""
        self._below: dict[str, Weight] = {}
        """What came first onto each bare pan, as long as nothing lies on it and no call named it."""
        self._built_on: list[Weight] = []
        """... and was then laid on."""
        self._cleared: set[str] = set()
        """Scales on whose bare pan a piece was weighed and named: no tray need lie there."""
        self._supposed: Weight | None = None
        """What may have been called a tray, though too indistinctly to be taken for one."""

    def suppose(self, weight: Weight) -> None:
        """Something like "tray" was heard of this load: if anything is asked about it, then that."""
        self._supposed = weight

    def take(self, weight: Weight, t_ns: int) -> Iterator[Decision]:
        """The load is a known tray: another one than stood here is entered as the container."""
        assert weight.change is not None
        change = weight.change
        self._taken, self._taken_ns = weight, t_ns
        self._told = not self._pans[change.scale].is_its_tray(weight)
        reason = PassingReason.CONTAINER if self._told else PassingReason.KNOWN_TRAY
        yield LoadPassed(t_ns, change, reason)
        if self._told:
            yield Instruction(t_ns, Command(Verb.TRAY), "", (change.after,))

    def withdrawn(self, t_ns: int) -> Weight | None:
        """What was just taken for a tray, when it is not too long ago to be what "that" means."""
        taken = self._taken
        if taken is None or t_ns - self._taken_ns > self._settings.call_after_ns:
            return None
        return taken

    def undo(self, t_ns: int) -> Iterator[Decision]:
        """What was just taken for a tray is a piece, which the caller enters."""
        taken, self._taken = self._taken, None
        if taken is not None and taken.change is not None and self._told:
            yield TrayWithdrawn(t_ns, taken.change.scale)

    def lie(self, weight: Weight) -> None:
        """A load that may be a piece has settled: the first on a bare pan, or one on top of it."""
        if weight.change is None:
            return
        scale = weight.change.scale
        if weight.method is Method.CLEARED_PAN:
            self._below[scale] = weight
        elif weight.method is Method.TRAY_BUILDING and scale in self._below:
            self._built_on.append(self._below.pop(scale))

    def note(self, piece: PieceWeighed) -> None:
        """A piece goes into the ledger: one that was called is no tray."""
        self._taken = None
        if piece.call is not None:
            if piece.change is not None and piece.method is Method.CLEARED_PAN:
                self._cleared.add(piece.change.scale)
            self._below = {k: each for k, each in self._below.items() if each.change is not piece.change}
            self._built_on = [each for each in self._built_on if each.change is not piece.change]

    def may_be_one(self, weight: Weight) -> bool:
        """Whether to ask if it is a tray: it may have been called one, or it came before."""
        return weight.change is not None and (weight is self._supposed or self.came_before(weight))

    def may_be_first(self, weight: Weight) -> bool:
        """Whether it lies alone on a scale of which no tray is known yet, and no piece either."""
        change = weight.change
        if change is None or weight.method is not Method.CLEARED_PAN:
            return False
        return not self._pans[change.scale].has_tray and change.scale not in self._cleared

    def came_before(self, weight: Weight) -> bool:
        """Whether the same load began an earlier tray, uncalled too, and pieces were laid on it."""
        if weight.change is None or weight.method is not Method.CLEARED_PAN:
            return False
        pan = self._pans[weight.change.scale]
        return any(
            each.change is not None
            and each.change.scale == weight.change.scale
            and pan.same_load(weight, each)
            for each in self._built_on
        )
