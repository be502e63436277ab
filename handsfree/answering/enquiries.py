"""Questions, refusals and the answers to enquiries: said without an entry of their own. Pure."""

from __future__ import annotations

from collections.abc import Sequence

from handsfree.answering.messages import Manner, Saying, Tone
from handsfree.answering.spoken import counted, digit_words, listed, mass_words, piece_words
from handsfree.ledger.books import Books, Piece
from handsfree.pairing.messages import Question, QuestionKind
from handsfree.speech.meaning import Call

_PLACES = ("one", "two", "three", "four")
_ORDINALS = ("", "", "second", "third", "fourth", "fifth")


def question(asked: Question, books: Books | None = None, *, in_grams: bool = False) -> Saying:
    """The question in as few words as it can be asked in.

    With the books, a cut that is there already is asked for as "second left haunch, yes or no?". Of a piece
    that is gone over the weight is said first.
    """
    options = [called(option) for option in asked.options]
    if asked.kind is QuestionKind.TRAY:
        text = f"tray, {mass_words(asked.net_mg, in_grams=in_grams)}, yes or no?"
    elif asked.kind is QuestionKind.TAG:
        text = f"tag {digit_words(asked.digits)}, yes or no?"
    elif asked.kind is QuestionKind.DRESSED_WEIGHT:
        text = f"dressed weight, {mass_words(asked.net_mg, in_grams=in_grams)}, yes or no?"
    elif asked.piece is not None and not options:
        text = "what was it?"
    elif asked.kind is QuestionKind.WHAT_WAS_THAT or not options:
        text = f"what was that, {mass_words(asked.net_mg, in_grams=in_grams)}?"
    elif asked.kind is QuestionKind.CONFIRM:
        text = f"{_ordinal(asked.options[0], books)}{options[0]}, yes or no?"
    elif asked.kind is QuestionKind.CHOOSE:
        places = (f"number {words}, {name}" for words, name in zip(_PLACES, options, strict=False))
        text = f"{'. '.join(places)}. or none of these?"
    else:
        text = f"{' or '.join(options)}?"
    if asked.piece is not None:
        text = f"no name, {mass_words(asked.net_mg, in_grams=in_grams)}. {text}"
    return Saying(Tone.QUESTION, text, urgent=True)


def called(call: Call) -> str:
    """A call as it is said in a question: with its count, and its destination where one was said."""
    if call.same_again or not call.cut:
        return call.words()
    name = piece_words(call.cut, call.side.value if call.side else "", call.count)
    return f"{name} for {call.destination}" if call.destination else name


def _ordinal(call: Call, books: Books | None) -> str:
    if books is None or books.carcass is None or not call.side:
        return ""
    same = [p for p in books.carcass.standing() if (p.cut, p.side) == (call.cut, call.side.value)]
    if not same:
        return ""
    place = len(same) + 1
    return f"{_ORDINALS[place] if place < len(_ORDINALS) else 'one more'} "


def refused(why: str) -> Saying:
    """A command or call that cannot be done, with why in a few words: "no carcass open"."""
    return Saying(Tone.REFUSED, why)


def no_carcass() -> Saying:
    """Something was weighed or asked for and no carcass is open."""
    return refused("no carcass open")


def tray_put_back() -> Saying:
    """A load was taken for the tray that stood here before."""
    return Saying(Tone.NOTED, "tray")


def awake() -> Saying:
    """Calls are listened for again."""
    return Saying(Tone.AWAKE, "listening")


def resting() -> Saying:
    """Calls are not listened for until woken."""
    return Saying(Tone.RESTING, "resting")


def read_back(books: Books, manner: Manner | None = None) -> Saying:
    """The last piece, with where it goes if that is not where such pieces go, and how many there are."""
    manner = manner or Manner()
    carcass = books.carcass
    if carcass is None:
        return no_carcass()
    pieces = carcass.standing()
    if not pieces:
        return Saying(Tone.NOTED, "no pieces yet")
    last = pieces[-1]
    weight = mass_words(last.mass_mg, in_grams=manner.in_grams)
    elsewhere = f" for {last.destination}" if manner.goes_elsewhere(last.cut, last.destination) else ""
    return Saying(
        Tone.NOTED,
        f"{counted(len(pieces), 'piece')}. last, {_piece(last)}{elsewhere}, {weight}",
    )


def total(books: Books, *, in_grams: bool = False) -> Saying:
    """Sum of the pieces, and what is left of the dressed weight."""
    carcass = books.carcass
    if carcass is None:
        return no_carcass()
    pieces = carcass.standing()
    text = f"{counted(len(pieces), 'piece')}, {mass_words(carcass.total_mg(), in_grams=in_grams)}"
    if carcass.dressed is not None:
        rest_mg = carcass.dressed.mass_mg - carcass.total_mg()
        text += f". {mass_words(abs(rest_mg), in_grams=in_grams)} {'to go' if rest_mg >= 0 else 'over'}"
    return Saying(Tone.NOTED, text)


def what_remains(remaining: Sequence[str] | None) -> Saying:
    """What the plan still expects, in the words given; None when there is no plan."""
    if remaining is None:
        return refused("no plan")
    if not remaining:
        return Saying(Tone.NOTED, "nothing remains")
    return Saying(Tone.NOTED, listed(list(remaining)))


def _piece(piece: Piece) -> str:
    return piece_words(piece.cut, piece.side, piece.count) if piece.named else "unnamed"
