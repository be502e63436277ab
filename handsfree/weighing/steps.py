"""Plateaus to load changes: what was put on or taken off. Pure."""

from __future__ import annotations

from math import hypot

from handsfree.weighing.messages import LoadChange, Plateau

_LEAST_D = 2
"""Smallest change in d: one d is what rounding alone can do between two neighbouring values."""
_LEAST_UNSURE_D = 4
"""The same where the value scatters: the means of one load differ by two or three d now and then. Also
where the plateau before stood for less than `_YOUNG_NS`: it may have been a scatter that held still."""
_YOUNG_NS = 800_000_000


class Steps:
    """Compares each plateau with the one before it.

    A plateau that comes back to the value before is no change, so a knife on the pan is none, and
    drift or drip inside a plateau is none: the value before is the one shown last before the load
    moved.

    Args:
        least_mg: Smallest change to report; never less than two scale intervals or the scatter.
    """

    def __init__(self, least_mg: int = 0) -> None:
        self._least_mg = least_mg
        self._before: Plateau | None = None

    def feed(self, plateau: Plateau, onset_ns: int) -> list[LoadChange]:
        """The load change that this plateau ends, if any.

        Args:
            plateau: The plateau as it stands; with the `start_ns` of the one before it is the same.
            onset_ns: When the indication first left the plateau before.
        """
        before, self._before = self._before, plateau
        if before is None or before.start_ns == plateau.start_ns or before.basis is not plateau.basis:
            return []
        delta_mg = plateau.value_mg - before.value_mg
        d_mg = max(before.d_mg, plateau.d_mg)
        scatter_mg = max(before.spread_mg, plateau.spread_mg)
        young = before.end_ns - before.start_ns < _YOUNG_NS
        unsure = young or scatter_mg > 1.001 * d_mg
        # 0.999: pounds and ounces are rounded to whole milligrams.
        least_mg = max(0.999 * d_mg * (_LEAST_UNSURE_D if unsure else _LEAST_D), scatter_mg)
        if abs(delta_mg) < max(self._least_mg, least_mg):
            return []
        return [
            LoadChange(
                plateau.scale,
                onset_ns,
                plateau.end_ns,
                before,
                plateau,
                delta_mg,
                hypot(before.u_mg, plateau.u_mg),
            )
        ]
