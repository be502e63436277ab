"""What a load change is: a piece, the container, the pan being cleared, a hand. Pure, per scale."""

from __future__ import annotations

from dataclasses import dataclass, replace

from handsfree.pairing.messages import Method, PassingReason
from handsfree.pairing.ports import CarcassInHand
from handsfree.pairing.settings import PairingSettings
from handsfree.pairing.waiting import Weight
from handsfree.weighing.messages import LoadChange, Plateau


@dataclass(frozen=True, slots=True)
class _TakenOff:
    t_ns: int
    mass_mg: int


class Pan:
    """Remembers what stands on one scale and reads each load change against it."""

    def __init__(self, scale: str, settings: PairingSettings, carcass: CarcassInHand) -> None:
        self.scale = scale
        self.standing: Plateau | None = None
        self._settings = settings
        self._carcass = carcass
        self._partly_taken: _TakenOff | None = None

    def read(self, change: LoadChange) -> Weight | PassingReason:
        """A piece that may be entered, or why this change is none."""
        self.standing = change.after
        if self.scale in self._settings.carcass_scales:
            return PassingReason.CARCASS_SCALE
        if not self._carcass.is_open:
            return PassingReason.NO_CARCASS
        if self._carcass.direction == "taking off":
            if change.delta_mg >= 0:
                return PassingReason.BLOCK
            return _weight(change, Method.TAKING_OFF)
        if change.delta_mg < 0:
            partly = not self._is_bare(change.after)
            self._partly_taken = _TakenOff(change.t_ns, -change.delta_mg) if partly else None
            return PassingReason.CLEARED
        return self._put_on(change)

    def _put_on(self, change: LoadChange) -> Weight | PassingReason:
        bare = self._is_bare(change.before)
        if bare and self._may_be_tray(change):
            return replace(_weight(change, Method.CLEARED_PAN), may_be_tray=True)
        taken, self._partly_taken = self._partly_taken, None
        if (
            taken is not None
            and change.t_ns - taken.t_ns <= self._settings.put_back_ns
            and self._same(change.delta_mg, taken.mass_mg, change.after.d_mg)
        ):
            return PassingReason.PUT_BACK
        return _weight(change, Method.CLEARED_PAN if bare else Method.TRAY_BUILDING)

    @property
    def has_tray(self) -> bool:
        """Whether a container is known to stand, or to have stood, on this scale."""
        return bool(self._carcass.container_mg(self.scale))

    def is_its_tray(self, weight: Weight) -> bool:
        """Whether this is the tray that stands, or stood, on this scale, not another one."""
        container = self._carcass.container_mg(self.scale)
        return (
            container is not None
            and weight.change is not None
            and self._same(weight.net_mg, container, weight.change.after.d_mg)
        )

    def same_load(self, one: Weight, other: Weight) -> bool:
        """Whether two loads of this scale weigh the same as far as it can tell."""
        assert one.change is not None
        return self._same(one.net_mg, other.net_mg, one.change.after.d_mg)

    def _may_be_tray(self, change: LoadChange) -> bool:
        """Whether the load is as heavy as this scale's tray, or as another one on a pan that showed zero.

        The second only there, for what the scale then shows is the tray's mass.
        """
        d_mg = change.after.d_mg
        container = self._carcass.container_mg(self.scale)
        if container and self._same(change.delta_mg, container, d_mg):
            return True
        return self._same(change.before.value_mg, 0, d_mg) and any(
            self._same(change.delta_mg, tray_mg, d_mg) for tray_mg in self._carcass.known_trays_mg()
        )

    def _is_bare(self, plateau: Plateau) -> bool:
        """Whether only the pan, or only the known container, is on the scale.

        A tare key makes the container read as zero and the bare pan as its negative.
        """
        container = self._carcass.container_mg(self.scale) or 0
        return any(self._same(plateau.value_mg, empty, plateau.d_mg) for empty in (0, container, -container))

    def _same(self, a_mg: int, b_mg: int, d_mg: int) -> bool:
        return abs(a_mg - b_mg) <= self._settings.same_load_intervals * d_mg


def _weight(change: LoadChange, method: Method) -> Weight:
    return Weight(
        net_mg=abs(change.delta_mg),
        u_mg=change.u_mg,
        method=method,
        onset_ns=change.onset_ns,
        settled_ns=change.t_ns,
        change=change,
    )
