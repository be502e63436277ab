"""A carcass in hand that is what a test says it is: `pairing.ports.CarcassInHand` without books."""

from __future__ import annotations

from dataclasses import dataclass, field

from handsfree.mass import MG_PER_G
from handsfree.pairing.ports import Nameless, Usual
from handsfree.speech.meaning import Call


@dataclass
class StatedCarcass:
    """Everything pairing may ask of the carcass, as plain fields."""

    is_open: bool = True
    has_begun: bool = True
    lacks_dressed_weight: bool = False
    tag: str | None = "101"
    direction: str = "putting on"
    containers: dict[str, int] = field(default_factory=dict)
    """Milligrams by scale."""
    trays_mg: tuple[int, ...] = ()
    """Known from earlier, on any scale."""
    complete: set[tuple[str, str]] = field(default_factory=set)
    """(cut, side) of what the plan has no more of."""
    planned: set[str] | None = None
    """Cuts of the plan; None for no plan."""
    singly: set[str] = field(default_factory=set)
    """Cuts that nobody calls several of at once."""
    due: tuple[Call, ...] = ()
    """What the plan still expects."""
    usual_g: dict[str, float] = field(default_factory=dict)
    """Median grams of one piece by cut."""
    sigma: float = 0.35
    """Spread of the logarithm of those."""
    last_mass_mg: int | None = None
    """Mass of the last piece entered."""
    unnamed: tuple[Nameless, ...] = ()
    """What went in without a name."""
    supposed_mg: int | None = None
    """What was last supposed of the dressed weight."""

    def nameless(self) -> tuple[Nameless, ...]:
        """What was said to have no name."""
        return self.unnamed

    def container_mg(self, scale: str) -> int | None:
        """Mass of the container on this scale."""
        return self.containers.get(scale)

    def known_trays_mg(self) -> tuple[int, ...]:
        """The trays known from earlier."""
        return self.trays_mg

    def is_complete(self, call: Call) -> bool:
        """Whether it was said to be complete."""
        return (call.cut, call.side or "") in self.complete

    def is_expected(self, call: Call) -> bool:
        """Whether it is of the plan."""
        return self.planned is None or call.cut in self.planned

    def is_counted(self, call: Call) -> bool:
        """Whether it was not said to be called one by one."""
        return call.cut not in self.singly

    def goes_to(self, call: Call) -> str:
        """Only what was said."""
        return call.destination or ""

    def outstanding(self) -> tuple[Call, ...]:
        """What was said to be due."""
        return self.due

    def usual(self, call: Call, supposed_mg: int | None = None) -> Usual | None:
        """Median and spread as stated; what was supposed is noted, and changes nothing."""
        self.supposed_mg = supposed_mg
        usual_g = self.usual_g.get(call.cut)
        return Usual(usual_g * call.count * MG_PER_G, self.sigma) if usual_g else None
