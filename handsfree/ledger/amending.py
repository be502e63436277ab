"""Corrections typed with washed hands: the bodies each one enters. Pure.

Nothing is edited: each is a new entry that reverses, renames or adds, with the reason as typed.
Every function raises `EntryError`, with a sentence for people, when it makes no sense.
"""

from __future__ import annotations

from collections.abc import Callable, Collection
from decimal import Decimal, InvalidOperation
from difflib import get_close_matches

from handsfree.errors import EntryError
from handsfree.ledger import entries as e
from handsfree.ledger.books import Books
from handsfree.ledger.carcass import Carcass, CarcassState
from handsfree.ledger.instructions import spoken_mass
from handsfree.pairing.messages import Method
from handsfree.speech.meaning import Call, Side

TYPED = "typed"
"""Scale name of a weight that was typed."""

_SKIN = ("on", "off")
_HEAT = ("hot", "cold")


def strike(books: Books, seq: int, reason: str) -> list[e.Body]:
    """Take piece `seq` back."""
    piece = books.piece(seq)
    if piece.struck:
        raise EntryError(f"piece {seq} ({piece.words()}) is already struck")
    return [e.EntryReversed(seq, _reason(reason))]


def restore(books: Books, seq: int, reason: str) -> list[e.Body]:
    """Put the struck piece `seq` back."""
    piece = books.piece(seq)
    reversal = books.reversal_of(seq)
    if reversal is None:
        raise EntryError(f"piece {seq} ({piece.words()}) is not struck")
    return [e.EntryReversed(reversal, _reason(reason))]


def rename(
    books: Books,
    seq: int,
    *,
    reason: str,
    destination_of: Callable[[Call], str],
    cut: str | None = None,
    side: str | None = None,
    count: int | None = None,
    destination: str | None = None,
    cuts: Collection[str] | None = None,
) -> list[e.Body]:
    """Give piece `seq` another name; what is None stays as it is, an empty side takes the side away.

    Args:
        books: As they stand.
        seq: The piece.
        reason: Why, as typed.
        destination_of: Where a call goes, used when the cut changes and no destination is given.
        cut: Canonical cut name.
        side: "left", "right" or empty.
        count: How many in one weighing.
        destination: Where it goes.
        cuts: The cut names there are; None accepts any.
    """
    piece = books.piece(seq)
    new = _called(
        cut=piece.cut if cut is None else cut,
        side=piece.side if side is None else side,
        count=piece.count if count is None else count,
        destination=destination or (piece.destination or None if cut in (None, piece.cut) else None),
        cuts=cuts if cut is not None else None,
    )
    goes_to = destination_of(new)
    named = (new.cut, new.side.value if new.side else "", new.count, goes_to)
    if named == (piece.cut, piece.side, piece.count, piece.destination):
        raise EntryError(f"piece {seq} is already {piece.words()} for {piece.destination}")
    return [e.PieceRenamed(seq, *named, heard="", reason=_reason(reason))]


def add_piece(
    books: Books,
    number: int,
    *,
    cut: str,
    kg: str,
    reason: str,
    destination_of: Callable[[Call], str],
    side: str = "",
    count: int = 1,
    destination: str | None = None,
    cuts: Collection[str] | None = None,
) -> list[e.Body]:
    """Enter a piece that was weighed but not recorded, with its weight in kilograms as typed."""
    carcass = carcass_numbered(books, number)
    call = _called(cut=cut, side=side, count=count, destination=destination, cuts=cuts)
    mass_mg, u_mg = _typed_mass(kg)
    side = call.side.value if call.side else ""
    piece = e.PieceEntered(
        carcass=carcass.number,
        cut=call.cut,
        side=side,
        count=call.count,
        destination=destination_of(call),
        mass_mg=mass_mg,
        u_mg=u_mg,
        d_mg=0,
        scale=TYPED,
        method=Method.SPOKEN.value,
        indication=f"{kg.strip()} kg",
    )
    return [piece, e.NoteMade(carcass.number, f"added {call.words()}: {_reason(reason)}")]


def weigh_dressed(books: Books, number: int, kg: str, reason: str) -> list[e.Body]:
    """Set the dressed weight of carcass `number`, in kilograms as typed; the reason becomes a note."""
    carcass = carcass_numbered(books, number)
    mass_mg, u_mg = _typed_mass(kg)
    taken = e.DressedWeightTaken(number, mass_mg, u_mg, d_mg=0, scale=TYPED, indication=f"{kg.strip()} kg")
    return [taken, e.NoteMade(carcass.number, f"dressed weight set to {kg.strip()} kg: {_reason(reason)}")]


def describe(
    books: Books,
    number: int,
    *,
    tag: str | None = None,
    species: str | None = None,
    sex: str | None = None,
    skin: str | None = None,
    hot_or_cold: str | None = None,
    plan: str | None = None,
) -> list[e.Body]:
    """Set what is known about carcass `number`; what is None stays as it is."""
    carcass = carcass_numbered(books, number)
    if tag is not None and not tag.isdecimal():
        raise EntryError(f"a tag is digits only, not {tag!r}")
    _one_of("skin", skin, _SKIN)
    _one_of("hot or cold", hot_or_cold, _HEAT)
    body = e.CarcassDescribed(carcass.number, tag, species, sex, skin, hot_or_cold, plan)
    if body == e.CarcassDescribed(carcass.number):
        raise EntryError("nothing to set was given")
    return [body]


def change_plan(books: Books, number: int, plan: str, reason: str) -> list[e.Body]:
    """Cut carcass `number` to another plan; `restore_plan` takes it back."""
    carcass = carcass_numbered(books, number)
    if plan == carcass.plan:
        raise EntryError(f"{carcass.title()} is already cut to the plan {plan}")
    return [e.PlanChanged(carcass.number, plan, reason=_reason(reason))]


def change_butcher(books: Books, number: int, name: str, reason: str) -> list[e.Body]:
    """Another butcher at the bench from now on; no name for nobody. `restore_butcher` takes it back."""
    now = books.bench.butcher
    if (now.number, now.name) == (number, name) if now is not None else not name:
        raise EntryError(f"{now.words() if now is not None else 'nobody'} is at the bench already")
    return [e.ButcherChanged(number, name, reason=_reason(reason))]


def restore_butcher(books: Books, reason: str) -> list[e.Body]:
    """Take back the last change of butcher."""
    now = books.bench.butcher
    if now is None:
        raise EntryError("no butcher was ever named")
    return [e.EntryReversed(now.seq, _reason(reason))]


def restore_plan(books: Books, number: int, reason: str) -> list[e.Body]:
    """Take back the last change of plan of carcass `number`."""
    carcass = carcass_numbered(books, number)
    last = books.last_plan_change(carcass)
    if last is None:
        raise EntryError(f"the plan of {carcass.title()} was not changed")
    return [e.EntryReversed(last.seq, _reason(reason))]


def note(books: Books, number: int | None, text: str) -> list[e.Body]:
    """Note something about carcass `number`, or about the day when it is None."""
    if number is not None:
        carcass_numbered(books, number)
    if not text.strip():
        raise EntryError("a note needs words")
    return [e.NoteMade(number, text.strip())]


def close(
    books: Books, number: int, closing_of: Callable[[Carcass], e.CarcassClosed], *, again: bool = False
) -> list[e.Body]:
    """Close carcass `number` with the balance that `closing_of` works out.

    Args:
        books: As they stand.
        number: The carcass.
        closing_of: Works out the balance.
        again: Also when it is closed: after a correction, the newer balance takes the older's place.
    """
    carcass = carcass_numbered(books, number)
    if carcass.state is CarcassState.CLOSED and not again:
        raise EntryError(f"{carcass.title()} is already closed")
    return [closing_of(carcass)]


def carcass_numbered(books: Books, number: int) -> Carcass:
    """The carcass with this number.

    Raises:
        EntryError: There is none.
    """
    carcass = books.by_number(number)
    if carcass is None:
        raise EntryError(f"there is no carcass number {number} in this ledger")
    return carcass


def _called(
    *, cut: str, side: str, count: int, destination: str | None, cuts: Collection[str] | None
) -> Call:
    if not cut:
        raise EntryError("a piece needs the name of its cut")
    if cuts is not None and cut not in cuts:
        near = get_close_matches(cut, cuts, n=3)
        raise EntryError(
            f"{cut!r} is not a cut of the cut list",
            next_step=f"did you mean {' or '.join(near)}"
            if near
            else "see the cut list for the names there are",
        )
    if side not in ("", Side.LEFT, Side.RIGHT):
        raise EntryError(f"a side is left or right, not {side!r}")
    if count < 1:
        raise EntryError("a count is at least one")
    return Call(cut, Side(side) if side else None, count, destination)


def _typed_mass(kg: str) -> tuple[int, float]:
    try:
        number = Decimal(kg.strip())
    except InvalidOperation:
        raise EntryError(f"{kg!r} is not a weight in kilograms such as 24.6") from None
    # 10 t is far above any carcass and far below what a whole number of milligrams can hold.
    if not number.is_finite() or not Decimal("0.000001") <= number <= Decimal(10_000):
        raise EntryError(f"{kg!r} is not a weight in kilograms that a piece or carcass can have")
    return spoken_mass(number)


def _one_of(what: str, value: str | None, allowed: Collection[str]) -> None:
    if value is not None and value not in allowed:
        raise EntryError(f"{what} is {' or '.join(allowed)}, not {value!r}")


def _reason(text: str) -> str:
    if not text.strip():
        raise EntryError("a correction needs a reason")
    return text.strip()
