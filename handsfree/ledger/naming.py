"""Names pieces: "same again" and renaming."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from handsfree.errors import EntryError
from handsfree.ledger import entries as e
from handsfree.ledger.books import Books
from handsfree.ledger.carcass import Carcass, Piece
from handsfree.speech.meaning import Call, Side


def in_hand(books: Books) -> Carcass:
    """The open carcass.

    Raises:
        EntryError: There is none.
    """
    if books.carcass is None:
        raise EntryError("no carcass is open")
    return books.carcass


def resolve(call: Call, carcass: Carcass, *, but_not: int = 0) -> Call:
    """The call with "same again" replaced by the last piece of the carcass.

    A last piece without a name was called as a rule, and its call not understood: the name before it is
    not what was meant. What was said with it (a count, a side, a destination) is kept; the rest is
    repeated. Any other call comes back as it is.

    Args:
        call: As heard.
        carcass: Whose pieces to look at; struck ones are not repeated.
        but_not: A piece that does not count, because it is the one being named.

    Raises:
        EntryError: There is no piece to repeat, or it has no name.
    """
    if not call.same_again:
        return call
    last = next((p for p in reversed(carcass.standing()) if p.seq != but_not), None)
    if last is None:
        raise EntryError("there is no piece to repeat")
    if not last.named:
        raise EntryError("the last piece has no name to repeat")
    return replace(
        call,
        cut=last.cut,
        side=call.side or (Side(last.side) if last.side else None),
        count=call.count if call.count != 1 else last.count,
        destination=call.destination or last.destination or None,
        same_again=False,
    )


def rename(
    piece: Piece, call: Call, destination_of: Callable[[Call], str], *, heard: str, reason: str
) -> e.PieceRenamed:
    """The body that gives a piece the name of a call.

    A correction of the side or the number alone ("that was right flank" of a left flank for prime) leaves
    where it goes; to name the piece just as it is takes it to the cut's usual place.
    """
    named = (call.cut, call.side.value if call.side else "", call.count)
    if call.destination is None and call.cut == piece.cut and named != (piece.cut, piece.side, piece.count):
        call = replace(call, destination=piece.destination or None)
    return e.PieceRenamed(
        piece=piece.seq,
        cut=call.cut,
        side=call.side.value if call.side else "",
        count=call.count,
        destination=destination_of(call),
        heard=heard,
        reason=reason,
    )
