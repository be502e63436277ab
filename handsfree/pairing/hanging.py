"""The load that is probably the carcass although nobody said "dressed weight". Pure.

Seen on the rail, or on the bench when it went off again whole, before any piece was entered. It is
what pieces are held against for plausibility, provisionally, and it is asked about once; it is never
entered unasked.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from handsfree.mass import MG_PER_KG
from handsfree.pairing.messages import LoadPassed, PassingReason, PieceWeighed
from handsfree.pairing.ports import CarcassInHand
from handsfree.pairing.settings import PairingSettings
from handsfree.pairing.waiting import Weight
from handsfree.weighing.messages import Basis, LoadChange, Plateau

#: Less than this on the rail is a hook or a hand; the lightest deer here, muntjac and water deer, dress
#: at some 7 kg, a roe kid at half of that (larder weights from memory).
_LEAST_ON_RAIL_MG = 3 * MG_PER_KG
#: Less than this on the bench is as likely a piece.
_LEAST_ON_BENCH_MG = 7 * MG_PER_KG


class Hanging:
    """Remembers the load for the carcass in hand."""

    def __init__(self, settings: PairingSettings, carcass: CarcassInHand) -> None:
        self._settings = settings
        self._carcass = carcass
        self._load: Plateau | None = None
        self._left_ns: int | None = None
        self._asked = False

    @property
    def mass_mg(self) -> int | None:
        """The provisional dressed mass; None where there is none or the dressed weight is in."""
        return self._load.value_mg if self._load is not None and self._carcass.lacks_dressed_weight else None

    def forget(self, standing: Iterable[Plateau | None] = ()) -> None:
        """Another carcass is in hand: what stands on the scales now may be it."""
        self._load, self._left_ns, self._asked = None, None, False
        for plateau in standing:
            if plateau is not None:
                self.stands(plateau)

    def deny(self) -> None:
        """It was said not to be the dressed weight."""
        self._load = None

    def stands(self, plateau: Plateau) -> None:
        """A load stands still on the rail; the heaviest before the first piece counts."""
        if plateau.scale not in self._settings.carcass_scales or plateau.value_mg < _LEAST_ON_RAIL_MG:
            return
        if self._may_begin() and (self._load is None or plateau.value_mg > self._load.value_mg):
            self._load, self._left_ns = plateau, None

    def changes(self, change: LoadChange) -> None:
        """A load came or went."""
        if change.scale in self._settings.carcass_scales:
            if self._load is not None and change.delta_mg < 0 and self._load.scale == change.scale:
                self._left_ns = self._left_ns or change.t_ns
            self.stands(change.after)
        elif -change.delta_mg >= _LEAST_ON_BENCH_MG and self._may_begin() and self._load is None:
            whole = abs(change.before.value_mg + change.delta_mg) <= self._settings.same_load_intervals * (
                change.before.d_mg
            )
            if whole:
                # As it stood then: a tray told of later is no part of it.
                self._load = replace(change.before, basis=Basis.NET)
                self._left_ns = change.t_ns

    def uncalled(self, t_ns: int, weight: Weight) -> LoadPassed | PieceWeighed:
        """What a load without a call is: the carcass itself, or a piece without a name."""
        on_top = weight.on_top and self.mass_mg is not None
        if not (self._carcass.has_begun or on_top) and weight.change is not None:
            return LoadPassed(t_ns, weight.change, PassingReason.THE_CARCASS)
        return weight.piece(t_ns, None)

    def to_ask(self, t_ns: int) -> Plateau | None:
        """The load to be asked about now; None where nothing is, or it was."""
        if self._asked or self._load is None or not self._carcass.lacks_dressed_weight:
            return None
        left = self._left_ns is not None and t_ns - self._left_ns >= self._settings.commit_after_ns
        return self._load if left or self._carcass.has_begun else None

    def asked(self) -> None:
        """It has been asked: never twice."""
        self._asked = True

    def _may_begin(self) -> bool:
        return self._carcass.is_open and not self._carcass.has_begun and not self._asked
