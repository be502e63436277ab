"""Makes the carcass sheet from what the ledger says and the figures of the balance. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import UTC, tzinfo
from fractions import Fraction

from handsfree.errors import BalanceError
from handsfree.ledger.books import Carcass, Piece
from handsfree.pairing.messages import Method, QuestionKind
from handsfree.reporting.figures import BalanceFigures
from handsfree.reporting.sheet import (
    NO_DESTINATION,
    NOT_NAMED,
    DestinationTotal,
    Heading,
    Identity,
    Pair,
    Sheet,
    SheetPiece,
    Total,
)
from handsfree.reporting.words import clock_time, day_and_time, kg, kg_decimals, plain, share

#: Below this a name is marked: the gate had refused the call, and the waiting weight spoke for it.
LOW_CONFIDENCE = 0.5

#: The order destinations are shown in; others follow by name, the unnamed last.
DESTINATION_ORDER = ("prime", "dice", "mince", "pet", "stock", "waste", "condemned")

#: What is counted as meat for the kitchen in the yield figures (common practice, no source).
FOR_THE_KITCHEN = ("prime", "dice", "mince")

CAUTIONS = (
    "Internal record of yield. Selling by weight needs an instrument verified for trade under local law.",
    "Weights are as the scale indicated; names are as they were heard. Spoken figures are marked.",
    "This sheet judges no meat. At any sign of disease: stop, hold, and tell the authority.",
)


def sheet_of(
    carcass: Carcass,
    balance: BalanceFigures | None = None,
    *,
    larder: str = "",
    zone: tzinfo = UTC,
    last_seq: int = 0,
    digest: str = "",
) -> Sheet:
    """The sheet of a carcass as the books stand.

    Args:
        carcass: From the books.
        balance: Figures worked out from the same books; None when there is no dressed weight.
        larder: Name of the larder, for the heading.
        zone: Zone in which times are shown.
        last_seq: Number of the last ledger entry taken into account.
        digest: Digest of that entry.

    Raises:
        BalanceError: The figures belong to other books: their sums differ from the carcass's, or
            they do not add up.
    """
    if balance is not None:
        _check(carcass, balance)
    standing = carcass.standing()
    decimals = kg_decimals(
        [piece.mass_mg for piece in carcass.pieces.values()]
        + ([carcass.dressed.mass_mg] if carcass.dressed else [])
    )
    maker = _Maker(carcass, zone, decimals)
    pieces = tuple(maker.piece(piece) for piece in standing)
    return Sheet(
        heading=_heading(carcass, larder, zone),
        pieces=pieces,
        struck=tuple(maker.piece(piece) for piece in carcass.pieces.values() if piece.struck),
        unnamed=tuple(piece for piece in pieces if piece.cut == NOT_NAMED),
        unweighed=tuple(_call(call.count, call.side, call.cut) for call in carcass.unweighed),
        destinations=tuple(maker.destinations(pieces)),
        cuts=tuple(maker.by_cut(pieces)),
        pairs=tuple(maker.pairs(pieces)),
        yields=tuple(maker.yields(pieces)),
        total_mg=carcass.total_mg(),
        balance=balance,
        identity=_identity(balance, decimals) if balance else None,
        no_balance="" if balance else _why_none(carcass),
        temperatures=tuple(plain(f"{noted.what} {noted.celsius} °C") for noted in carcass.temperatures),
        notes=(
            *_who_cut(standing),
            *_plan_changes(carcass, zone),
            *(plain(note.text) for note in carcass.notes),
        ),
        cautions=CAUTIONS,
        decimals=decimals,
        last_seq=last_seq,
        digest=plain(digest),
    )


def _check(carcass: Carcass, balance: BalanceFigures) -> None:
    dressed_mg = carcass.dressed.mass_mg if carcass.dressed else None
    if balance.dressed_mg != dressed_mg or balance.pieces_mg != carcass.total_mg():
        raise BalanceError(
            f"the balance given for carcass number {carcass.number} was worked out from other pieces",
            next_step="reconcile again",
        )
    rest_mg = balance.dressed_mg - balance.pieces_mg - balance.process_loss_mg
    if balance.unaccounted_mg != rest_mg:
        raise BalanceError(
            f"the balance given for carcass number {carcass.number} does not add up: "
            f"{balance.unaccounted_mg} mg unaccounted, but the figures leave {rest_mg} mg"
        )


def _who_cut(pieces: Sequence[Piece]) -> list[str]:
    """Who cut them, as one note; the lines of the pieces say it only where several did."""
    names = list(dict.fromkeys(plain(piece.entered.by) for piece in pieces if piece.entered.by))
    return [f"Cut by {_listed(names) if len(names) > 1 else names[0]}."] if names else []


def _plan_changes(carcass: Carcass, zone: tzinfo) -> list[str]:
    """Each standing change of plan, as a note; the last one is the plan the balance goes by."""
    return [
        plain(f"Cut to the plan {change.plan} from {clock_time(change.posted_at, zone)} on.")
        for change in carcass.plans.values()
        if change.changed and not change.struck
    ]


def _why_none(carcass: Carcass) -> str:
    if carcass.dressed is None:
        return "no dressed weight was taken, so there is nothing to balance the pieces against"
    return "the balance was not worked out"


def _heading(carcass: Carcass, larder: str, zone: tzinfo) -> Heading:
    dressed = carcass.dressed
    instrument = ""
    if dressed:
        instrument = "spoken" if dressed.scale == "spoken" else f"{plain(dressed.scale)} scale"
        if dressed.d_mg:
            instrument += f", d = {_grams(dressed.d_mg)} g"
    return Heading(
        larder=plain(larder),
        title=plain(carcass.title()),
        number=carcass.number,
        tag=plain(carcass.tag),
        species=plain(carcass.species),
        sex=plain(carcass.sex),
        skin=f"skin {plain(carcass.skin)}" if carcass.skin else "",
        hot_or_cold=plain(carcass.hot_or_cold),
        state=carcass.state.value,
        opened=day_and_time(carcass.opened_at, zone),
        closed=day_and_time(carcass.closed_at, zone) if carcass.closed_at and carcass.closing else "",
        zone=plain(str(zone)),
        dressed_mg=dressed.mass_mg if dressed else None,
        dressed_at=clock_time(carcass.dressed_at, zone) if dressed else "",
        instrument=instrument,
        indication=plain(dressed.indication) if dressed else "",
    )


def _grams(mass_mg: int) -> str:
    return f"{mass_mg / 1000:g}"


def _call(count: int, side: str, cut: str) -> str:
    number = f"{count} " if count != 1 else ""
    return plain(f"{number}{side} {cut}")


def _identity(balance: BalanceFigures, decimals: int) -> Identity:
    step_mg = 10 ** (6 - decimals)
    loss_mg = round(Fraction(balance.process_loss_mg, step_mg)) * step_mg
    return Identity(
        dressed_kg=kg(balance.dressed_mg, decimals),
        pieces_kg=kg(balance.pieces_mg, decimals),
        process_loss_kg=kg(loss_mg, decimals),
        unaccounted_kg=kg(balance.dressed_mg - balance.pieces_mg - loss_mg, decimals),
        expanded_u_kg=kg(balance.expanded_u_mg, decimals),
    )


class _Maker:
    """Lines of the sheet, all with the same whole and the same number of decimals."""

    def __init__(self, carcass: Carcass, zone: tzinfo, decimals: int) -> None:
        self._dressed_mg = carcass.dressed.mass_mg if carcass.dressed else None
        self._zone = zone
        self._decimals = decimals
        self._several_cut = len({piece.entered.by for piece in carcass.pieces.values()}) > 1

    def piece(self, piece: Piece) -> SheetPiece:
        return SheetPiece(
            seq=piece.seq,
            time=clock_time(piece.posted_at, self._zone),
            cut=plain(piece.cut) or NOT_NAMED,
            side=plain(piece.side),
            count=piece.count,
            destination=plain(piece.destination),
            mass_mg=piece.mass_mg,
            net_kg=kg(piece.mass_mg, self._decimals),
            share=share(piece.mass_mg, self._dressed_mg),
            marks=tuple(_marks(piece, say_who=self._several_cut)),
        )

    def destinations(self, pieces: Sequence[SheetPiece]) -> Iterable[DestinationTotal]:
        names = sorted({piece.destination for piece in pieces}, key=_destination_rank)
        for name in names:
            there = [piece for piece in pieces if piece.destination == name]
            yield DestinationTotal(self._total(name or NO_DESTINATION, there), tuple(self.by_cut(there)))

    def by_cut(self, pieces: Sequence[SheetPiece]) -> Iterable[Total]:
        cuts = dict.fromkeys(piece.cut for piece in pieces)
        totals = [self._total(cut, [piece for piece in pieces if piece.cut == cut]) for cut in cuts]
        return sorted(totals, key=lambda total: (-total.mass_mg, total.name))

    def pairs(self, pieces: Sequence[SheetPiece]) -> Iterable[Pair]:
        for cut in dict.fromkeys(piece.cut for piece in pieces if piece.side):
            left_mg, right_mg = (
                sum(piece.mass_mg for piece in pieces if piece.cut == cut and piece.side == side)
                for side in ("left", "right")
            )
            if left_mg > 0 and right_mg > 0:
                difference = 2 * (right_mg - left_mg) / (right_mg + left_mg)
                yield Pair(cut, kg(left_mg, self._decimals), kg(right_mg, self._decimals), difference)

    def yields(self, pieces: Sequence[SheetPiece]) -> Iterable[Total]:
        if self._dressed_mg is None:
            return
        kitchen = [piece for piece in pieces if piece.destination in FOR_THE_KITCHEN]
        prime = [piece for piece in kitchen if piece.destination == "prime"]
        yield self._total("prime", prime)
        yield self._total(_listed(FOR_THE_KITCHEN), kitchen)
        yield self._total("all pieces", pieces)

    def _total(self, name: str, pieces: Sequence[SheetPiece]) -> Total:
        mass_mg = sum(piece.mass_mg for piece in pieces)
        return Total(
            name=name,
            pieces=sum(piece.count for piece in pieces),
            mass_mg=mass_mg,
            net_kg=kg(mass_mg, self._decimals),
            share=share(mass_mg, self._dressed_mg),
        )


def _listed(names: Sequence[str]) -> str:
    return f"{', '.join(names[:-1])} and {names[-1]}"


def _destination_rank(name: str) -> tuple[int, str]:
    if not name:
        return (len(DESTINATION_ORDER) + 1, "")
    known = DESTINATION_ORDER.index(name) if name in DESTINATION_ORDER else len(DESTINATION_ORDER)
    return (known, name)


_SETTLED = frozenset({QuestionKind.CONFIRM.value, QuestionKind.WHICH.value, QuestionKind.CHOOSE.value})
"""Questions whose answer names the piece."""


def _marks(piece: Piece, *, say_who: bool) -> Iterable[str]:
    entered = piece.entered
    if piece.renamed:
        before = _call(entered.count, entered.side, entered.cut)
        yield f"renamed from {before}" if entered.cut else "named later"
    if not piece.cut:
        yield NOT_NAMED
    elif entered.confidence < LOW_CONFIDENCE and not piece.renamed:
        yield "named when asked" if entered.asked in _SETTLED else f"low confidence {entered.confidence:.2f}"
    if entered.method == Method.SPOKEN.value:
        yield "by voice"
    if entered.by and say_who:
        yield f"cut by {plain(entered.by)}"
    if piece.struck:
        yield "struck"
