"""What is said after an entry is on disk. Pure: from the entry and the books after it."""

from __future__ import annotations

from functools import singledispatchmethod

from handsfree.answering.messages import Length, Manner, ReadBack, Saying, Tone
from handsfree.answering.spoken import digit_words, mass_words, number_words, piece_words, speakable
from handsfree.answering.troubles import trouble
from handsfree.ledger import entries as e
from handsfree.ledger.books import Books, Carcass

#: From this probability on a name is nothing unusual (our own choice; a little more than pairing asks for).
SURE = 0.9


def saying_of(
    entry: e.Entry, books: Books, manner: Manner | Length = Length.SHORT, *, verdict: str = ""
) -> Saying | None:
    """The answer to an entry that is in the ledger, None when nothing is to be said.

    Args:
        entry: The entry as written.
        books: The books after that entry was applied.
        manner: How much is said, and how; a length alone leaves the rest as usual.
        verdict: Short form of the balance to be said at the close of a carcass; without it the
            sentence in the entry is read out.
    """
    manner = Manner(manner) if isinstance(manner, Length) else manner
    return _Wording(entry.seq, books, manner, verdict).say(entry.body)


class _Wording:
    """The words for one entry, by the kind of its body."""

    def __init__(self, seq: int, books: Books, manner: Manner, verdict: str) -> None:
        self._verdict = verdict
        self._seq = seq
        self._books = books
        self._length = manner.length
        self._manner = manner

    def _mass(self, mass_mg: int) -> str:
        return mass_words(mass_mg, in_grams=self._manner.in_grams)

    def _named(self, body: e.PieceEntered | e.PieceRenamed) -> str:
        """The piece, and where it goes if that is not where such pieces go: it decides what becomes of it."""
        name = piece_words(body.cut, body.side, body.count)
        return f"{name} for {body.destination}" if self._goes_elsewhere(body) else name

    def _goes_elsewhere(self, body: e.PieceEntered | e.PieceRenamed) -> bool:
        return self._manner.goes_elsewhere(body.cut, body.destination)

    def _read_back(self, body: e.PieceEntered | e.PieceRenamed, weight: str) -> str:
        match self._length:
            case Length.TONES:
                return ""
            case Length.SHORT:
                return self._named(body)
            case Length.WEIGHT:
                return f"{self._named(body)}, {weight}"
            case Length.FULL:
                parts = (self._named(body), weight, "" if self._goes_elsewhere(body) else body.destination)
                return ", ".join(part for part in parts if part)

    @singledispatchmethod
    def say(self, body: e.Body) -> Saying | None:
        """Bodies that are not answered: the marks of a session's beginning and end."""
        return None

    @say.register
    def _(self, body: e.PieceEntered) -> Saying | None:
        weight = self._mass(body.mass_mg)
        unusual = self._manner.read_back is ReadBack.UNUSUAL and self._length is not Length.TONES
        if not body.cut:
            # A question about it follows when one is to be asked; the tone is enough.
            return Saying(
                Tone.UNNAMED, f"no name, {weight}" if unusual or self._length is Length.FULL else ""
            )
        sure = body.confidence >= SURE and not body.asked
        if unusual and sure and not self._goes_elsewhere(body):
            return Saying(Tone.ACCEPTED)
        return Saying(Tone.ACCEPTED, self._read_back(body, weight))

    @say.register
    def _(self, body: e.PieceRenamed) -> Saying | None:
        piece = self._books.piece(body.piece)
        weight = self._mass(piece.mass_mg)
        if not piece.entered.cut:
            return Saying(Tone.ACCEPTED, self._read_back(body, weight))
        return Saying(
            Tone.CORRECTED, "" if self._length is Length.TONES else f"now {self._named(body)}, {weight}"
        )

    @say.register
    def _(self, body: e.ButcherChanged) -> Saying | None:
        return Saying(Tone.NOTED, _at_the_bench(body.number, body.name))

    @say.register
    def _(self, body: e.EntryReversed) -> Saying | None:
        if self._books.is_about_butcher(self._seq):
            now = self._books.bench.butcher
            who = _at_the_bench(now.number, now.name) if now is not None else _at_the_bench(0, "")
            return Saying(Tone.CORRECTED, f"now {who}")
        replanned = self._books.plan_reversed_by(self._seq)
        if replanned is not None:
            return Saying(Tone.CORRECTED, f"now plan {replanned.plan}" if replanned.plan else "now no plan")
        piece = self._books.piece_reversed_by(self._seq)
        if piece is None:
            return Saying(Tone.CORRECTED)
        name = piece_words(piece.cut, piece.side, piece.count) if piece.named else "unnamed"
        done = "struck" if piece.struck else "put back"
        # What is taken out of the sum is said even when pieces are answered by tones alone.
        return Saying(Tone.CORRECTED, f"{done}, {name}, {self._mass(piece.mass_mg)}")

    @say.register
    def _(self, body: e.CallLeftUnweighed) -> Saying | None:
        return Saying(Tone.REFUSED, f"no weight for {piece_words(body.cut, body.side, body.count)}")

    @say.register
    def _(self, body: e.CarcassOpened) -> Saying | None:
        tag = f", {_tag(body.tag)}" if body.tag else ""
        return Saying(Tone.NOTED, f"new carcass{tag}")

    @say.register
    def _(self, body: e.CarcassDescribed) -> Saying | None:
        parts = [f"tag {digit_words(body.tag) or body.tag}"] if body.tag else []
        parts.append(" ".join(part for part in (body.species, body.sex) if part))
        parts += [f"skin {body.skin}"] if body.skin else []
        parts += [body.hot_or_cold] if body.hot_or_cold else []
        parts += [f"plan {body.plan}"] if body.plan else []
        return Saying(Tone.NOTED, ", ".join(part for part in parts if part))

    @say.register
    def _(self, body: e.PlanChanged) -> Saying | None:
        return Saying(Tone.NOTED, f"plan {body.plan}")

    @say.register
    def _(self, body: e.DressedWeightTaken) -> Saying | None:
        return Saying(Tone.NOTED, f"dressed weight, {self._mass(body.mass_mg)}")

    @say.register
    def _(self, body: e.ContainerSet) -> Saying | None:
        return Saying(Tone.NOTED, f"tray, {self._mass(body.mass_mg)}")

    @say.register
    def _(self, body: e.WeighingTurned) -> Saying | None:
        return Saying(Tone.NOTED, body.direction)

    @say.register
    def _(self, body: e.CarcassParked) -> Saying | None:
        return Saying(Tone.NOTED, f"{_name(self._books.carcasses.get(body.carcass))} parked")

    @say.register
    def _(self, body: e.CarcassResumed) -> Saying | None:
        return Saying(Tone.NOTED, f"{_name(self._books.carcasses.get(body.carcass))} again")

    @say.register
    def _(self, body: e.CarcassClosed) -> Saying | None:
        name = _name(self._books.carcasses.get(body.carcass))
        return Saying(Tone.CLOSED, f"{name} closed. {speakable(self._verdict or body.sentence)}".strip())

    @say.register
    def _(self, body: e.TemperatureNoted) -> Saying | None:
        return Saying(Tone.NOTED, f"{body.what} {speakable(body.celsius)}")

    @say.register
    def _(self, body: e.NoteMade) -> Saying | None:
        return Saying(Tone.NOTED, "" if self._length is Length.TONES else body.text)

    @say.register
    def _(self, body: e.TroubleNoted) -> Saying | None:
        return trouble(body)


def _at_the_bench(number: int, name: str) -> str:
    """Who works: "butcher two, Morag"."""
    if not name:
        return "nobody at the bench"
    return f"butcher {number_words(number)}, {name}" if number else f"{name} at the bench"


def _name(carcass: Carcass | None) -> str:
    return f"carcass {_tag(carcass.tag)}" if carcass is not None and carcass.tag else "carcass"


def _tag(tag: str) -> str:
    return digit_words(tag) if tag.isdigit() else tag
