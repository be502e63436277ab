"""What a scale may be off, and what the masses of a check may be off. Pure figures with their sources."""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt

#: Maximum permissible errors at verification, class III: e times the figure up to so many e
#: (OIML R 76-1:2006 Table 6). In service they are twice that (3.5.2).
CLASS_III = ((500, 0.5), (2_000, 1.0), (10_000, 1.5))

#: Maximum permissible errors of weights in milligrams by grams nominal (OIML R 111-1:2004 Table 1; of F2
#: and M2 all but 1 kg, and M1 above 5 kg, from memory).
R_111_MG: dict[str, dict[int, float]] = {
    "F2": {100: 1.6, 200: 3, 500: 8, 1000: 16, 2000: 30, 5000: 80, 10_000: 160, 20_000: 300},
    "M1": {100: 5, 200: 10, 500: 25, 1000: 50, 2000: 100, 5000: 250, 10_000: 500, 20_000: 1000},
    "M2": {100: 16, 200: 30, 500: 80, 1000: 160, 2000: 300, 5000: 800, 10_000: 1600, 20_000: 3000},
}

WATER = "water"
WATER_PART = 0.015
"""A sealed bottle as bought may hold 1.5 % less than it says, from 500 ml on (Directive 76/211/EEC
Annex I 2.4, from memory); taken here for both sides, with the empty bottle taken off the stated mass."""


@dataclass(frozen=True, slots=True)
class KnownMass:
    """A mass that somebody states."""

    mass_mg: int
    mass_class: str = "M1"
    """A class of OIML R 111 ("F2", "M1", "M2"), or "water"."""

    @property
    def limit_mg(self) -> float:
        """Most that it may be off, in milligrams; a mass between two nominal ones takes the greater."""
        if self.mass_class == WATER:
            return WATER_PART * self.mass_mg
        table = R_111_MG[self.mass_class]
        fitting = [limit for grams, limit in sorted(table.items()) if grams * 1000 >= self.mass_mg]
        largest = max(table)
        return fitting[0] if fitting else table[largest] * self.mass_mg / (largest * 1000)

    @property
    def u_mg(self) -> float:
        """Standard uncertainty: uniform within the limit (JCGM 100:2008 4.3.7)."""
        return self.limit_mg / sqrt(3.0)


def permissible_mg(load_mg: int, d_mg: int, *, in_service: bool) -> float | None:
    """Maximum permissible error of class III at a load, with e = d; None above 10,000 e.

    Source: OIML R 76-1:2006 Table 6; in service twice (3.5.2).
    """
    for most, part in CLASS_III:
        if abs(load_mg) <= most * d_mg:
            return part * d_mg * (2 if in_service else 1)
    return None
