"""Compares a ledger's pieces with what a rehearsal says is true. Pure.

A weighing is right when cut, side, count and destination are those of the truth and the mass is
within one scale interval (two rounded indications and their difference: OIML R 76-1:2006 allows a
digital indication to be half an interval off at each end).
"""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum

from handsfree.errors import SessionError
from handsfree.ledger.books import Piece
from handsfree.mass import MG_PER_G
from handsfree.testing.rehearsal.scenario import TruthRow

HEADER = ["seconds", "event", "cut", "side", "count", "net_g", "destination"]


class Outcome(StrEnum):
    """What became of one true weighing, or of one entry."""

    RIGHT = "right"
    WRONG = "wrong"
    """Entered unasked, with another name or mass: the worst, nobody is told."""
    QUESTIONED = "questioned"
    """Not as it should be, but it was asked about aloud."""
    UNNAMED = "unnamed"
    """Weighed, not asked about, and listed at the close as a weight without a name."""
    LOST = "lost"
    """Not in the ledger at all."""
    INVENTED = "invented"
    """In the ledger, and never weighed."""


@dataclass(frozen=True, slots=True)
class Finding:
    """One weighing or entry with its outcome and why."""

    outcome: Outcome
    truth: TruthRow | None
    piece: Piece | None
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Score:
    """All findings of one session, in the order of the truth, invented ones last."""

    findings: tuple[Finding, ...]

    def count(self, outcome: Outcome) -> int:
        """How many came out like this."""
        return sum(finding.outcome is outcome for finding in self.findings)

    @property
    def questions(self) -> int:
        """How many pieces were asked about, right in the end or not."""
        return sum(
            finding.piece is not None and bool(finding.piece.entered.asked) for finding in self.findings
        )

    @property
    def perfect(self) -> bool:
        """Whether everything is right and nothing invented."""
        return all(finding.outcome is Outcome.RIGHT for finding in self.findings)

    def lines(self) -> list[str]:
        """The counts, then a line for each that is not right."""
        counts = ", ".join(f"{self.count(outcome)} {outcome}" for outcome in Outcome)
        return [
            counts,
            *(f"{f.outcome}: {f.reason}" for f in self.findings if f.outcome is not Outcome.RIGHT),
        ]


def truth_from_csv(text: str) -> list[TruthRow]:
    """The rows of a `truth.csv`.

    Raises:
        SessionError: The header or a row is not that of a truth file; names the line.
    """
    rows = list(csv.reader(io.StringIO(text)))
    if not rows or rows[0] != HEADER:
        raise SessionError(f"truth.csv line 1: the header is not {','.join(HEADER)}")
    truth = []
    for number, row in enumerate(rows[1:], start=2):
        try:
            seconds, event, cut, side, count, net_g, destination = row
            truth.append(
                TruthRow(
                    float(seconds),
                    event,
                    cut,
                    side,
                    int(count or 0),
                    int(net_g) if net_g else None,
                    destination,
                )
            )
        except ValueError as error:
            raise SessionError(f"truth.csv line {number}: {','.join(row)!r} is no row of truth") from error
    return truth


def score(truth: Iterable[TruthRow], pieces: Sequence[Piece], *, d_g: int) -> Score:
    """Match each true piece with an entry, best matches first, and say what became of it.

    Args:
        truth: Rows of a truth file; only "piece" rows count.
        pieces: The standing pieces of the carcass, in ledger order.
        d_g: Scale interval of the bench scale in grams.
    """
    left = list(pieces)
    found: dict[int, Finding] = {}
    rows = [row for row in truth if row.event == "piece"]

    def same_mass(row: TruthRow, piece: Piece) -> bool:
        return _off_g(row, piece) <= d_g

    def match(outcome: Outcome, fits: Callable[[TruthRow, Piece], bool]) -> None:
        for index, row in enumerate(rows):
            if index in found:
                continue
            piece = next((piece for piece in left if fits(row, piece)), None)
            if piece is not None:
                left.remove(piece)
                found[index] = Finding(outcome, row, piece, _reason(row, piece))

    match(Outcome.RIGHT, lambda row, piece: same_mass(row, piece) and _name(row) == _piece_name(piece))
    match(Outcome.QUESTIONED, lambda row, piece: same_mass(row, piece) and bool(piece.entered.asked))
    match(Outcome.UNNAMED, lambda row, piece: same_mass(row, piece) and not piece.named)
    match(Outcome.WRONG, same_mass)
    match(Outcome.WRONG, lambda row, piece: _name(row) == _piece_name(piece))
    for index, row in enumerate(rows):
        if index not in found:
            found[index] = Finding(Outcome.LOST, row, None, f"{_words(row)} is not in the ledger")
    invented = [
        Finding(Outcome.INVENTED, None, piece, f"{piece.words()} of {piece.mass_mg / MG_PER_G:g} g")
        for piece in left
    ]
    return Score((*(found[index] for index in range(len(rows))), *invented))


Name = tuple[str, str, int, str]


def _name(row: TruthRow) -> Name:
    return row.cut, row.side, row.count, row.destination


def _piece_name(piece: Piece) -> Name:
    return piece.cut, piece.side, piece.count, piece.destination


def _off_g(row: TruthRow, piece: Piece) -> float:
    return abs(piece.mass_mg / MG_PER_G - (row.net_g or 0))


def _words(row: TruthRow) -> str:
    count = str(row.count) if row.count > 1 else ""
    name = " ".join(part for part in (count, row.side, row.cut) if part)
    return f"{name} of {row.net_g} g at {row.seconds:.1f} s"


def _reason(row: TruthRow, piece: Piece) -> str:
    said = f"{_words(row)} for {row.destination}"
    entered = f"{piece.words()} of {piece.mass_mg / MG_PER_G:g} g for {piece.destination or 'nothing'}"
    return f"{said} was entered as {entered}, heard {piece.entered.heard!r}"
