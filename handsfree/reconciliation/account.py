"""What is reconciled: the weighings of one carcass, from the ledger's books or from a document."""

from __future__ import annotations

from dataclasses import dataclass, replace
from decimal import Decimal, InvalidOperation
from typing import Final

from handsfree.ledger.books import Carcass, Piece
from handsfree.ledger.entries import DressedWeightTaken
from handsfree.mass import MG_PER_UNIT, to_mg
from handsfree.pairing.messages import Method

SPOKEN: Final = "spoken"
"""The instrument name of a weight that was said."""


@dataclass(frozen=True, slots=True)
class Weighing:
    """One net weighing: a piece, a counted lot, or the dressed carcass."""

    number: int
    """Number of the entry; 0 for the dressed weight."""
    mass_mg: int
    scale: str
    d_mg: int = 0
    """Scale interval at the time; 0 takes the instrument's."""
    u_mg: float = 0.0
    """Standard uncertainty from rounding and spread of this weighing alone; 0 when not known."""
    method: Method = Method.CLEARED_PAN
    indication: str = ""
    indication_before: str = ""
    tare: str = ""
    """Name of a tare that was captured once and taken off this and other weighings."""
    tare_u_mg: float = 0.0
    """Standard uncertainty of that tare; 0 takes one digit, d/√12."""
    cut: str = ""
    side: str = ""
    count: int = 1
    destination: str = ""
    struck: bool = False
    posted_at: str = ""

    def words(self) -> str:
        """As it would be said: "left haunch", "4 double chops", "unnamed"."""
        return words_for(self.cut, self.side, self.count)


@dataclass(frozen=True, slots=True)
class Called:
    """A cut that was called and never weighed."""

    cut: str
    side: str = ""
    count: int = 1
    number: int = 0
    """Number of its entry, 0 when it has none."""
    posted_at: str = ""


@dataclass(frozen=True, slots=True)
class Account:
    """Everything about one carcass that the balance needs."""

    title: str
    tag: str = ""
    skin: str = ""
    """"on" or "off" when the dressed weight was taken, empty when not known."""
    hot_or_cold: str = ""
    """"hot" or "cold" when the dressed weight was taken, empty counts as cold."""
    dressed: Weighing | None = None
    pieces: tuple[Weighing, ...] = ()
    """In the order weighed, struck ones included."""
    unweighed: tuple[Called, ...] = ()
    hours_before_cutting: float | None = None
    """Hours between the dressed weight and the cutting, as given; None takes them from the times."""

    def standing(self) -> list[Weighing]:
        """The weighings that count: not struck, in order."""
        return [piece for piece in self.pieces if not piece.struck]


def words_for(cut: str, side: str, count: int) -> str:
    """A piece as it would be said: "left haunch", "4 double chops", "unnamed"."""
    if not cut:
        return "unnamed"
    parts = [str(count)] if count != 1 else []
    return " ".join([*parts, *([side] if side else []), cut])


def account_of(carcass: Carcass) -> Account:
    """The account of a carcass as it stands in the ledger's books."""
    return Account(
        title=carcass.title(),
        tag=carcass.tag,
        skin=carcass.skin,
        hot_or_cold=carcass.hot_or_cold,
        dressed=_dressed(carcass.dressed, carcass.dressed_at),
        pieces=tuple(_piece(piece) for piece in carcass.pieces.values()),
        unweighed=tuple(
            Called(call.cut, call.side, call.count, *at)
            for call, at in zip(carcass.unweighed, carcass.unweighed_at, strict=True)
        ),
    )


def _dressed(taken: DressedWeightTaken | None, posted_at: str) -> Weighing | None:
    if taken is None:
        return None
    return Weighing(
        number=0,
        mass_mg=taken.mass_mg,
        scale=taken.scale,
        d_mg=taken.d_mg,
        u_mg=taken.u_mg,
        method=Method.SPOKEN if taken.scale == SPOKEN or taken.d_mg == 0 else Method.CLEARED_PAN,
        indication=taken.indication,
        posted_at=posted_at,
    )


def _piece(piece: Piece) -> Weighing:
    entered = piece.entered
    try:
        method = Method(entered.method)
    except ValueError:
        # A ledger of another version may know other methods: the cleared pan adds the most.
        method = Method.CLEARED_PAN
    weighing = Weighing(
        number=piece.seq,
        mass_mg=entered.mass_mg,
        scale=entered.scale,
        d_mg=entered.d_mg,
        u_mg=entered.u_mg,
        method=method,
        indication=entered.indication,
        indication_before=entered.indication_before,
        cut=piece.cut,
        side=piece.side,
        count=piece.count,
        destination=piece.destination,
        struck=piece.struck,
        posted_at=piece.posted_at,
    )
    return _with_stored_tare(weighing)


def _with_stored_tare(weighing: Weighing) -> Weighing:
    """Notice a stored container mass: what the two indications differ by beyond the net mass."""
    if weighing.method is not Method.CLEARED_PAN:
        return weighing
    after, before = indicated_mg(weighing.indication), indicated_mg(weighing.indication_before)
    if after is None or before is None:
        return weighing
    stored_mg = after - before - weighing.mass_mg
    # One tare is one value on one scale: pieces with the same stored mass share its error.
    return replace(weighing, tare=f"{stored_mg} mg") if stored_mg > 0 else weighing


def indicated_mg(text: str) -> int | None:
    """The mass in an indication such as "12.345 kg", None when it is not plainly one."""
    number, _, unit = text.strip().rpartition(" ")
    if unit.lower() not in MG_PER_UNIT:
        return None
    try:
        return to_mg(number, unit)
    except ValueError:
        return None


def said_interval_mg(text: str) -> int | None:
    """One unit of the last decimal of a weight in kilograms as said, None when it is no number."""
    number = text.strip().removesuffix("kg").strip()
    try:
        exponent = Decimal(number).as_tuple().exponent
    except InvalidOperation:
        return None
    return None if isinstance(exponent, str) else round(Decimal(10) ** (exponent + 6))
