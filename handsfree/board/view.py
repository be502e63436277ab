"""What the board shows, as plain values: made from the books on disk and what was answered. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from handsfree.ledger.books import Books
from handsfree.ledger.carcass import Carcass, Piece
from handsfree.mass import format_kg

#: Pieces shown, newest first: as many as can be read from 3 m.
LAST_PIECES = 5


@dataclass(frozen=True, slots=True)
class Asked:
    """The open question."""

    text: str
    options: tuple[str, ...] = ()
    """What answers it, each as it is said."""


@dataclass(frozen=True, slots=True)
class Sounded:
    """The last tone, so that the board can show its twin."""

    number: int
    """Counts up: the page shows each once."""
    tone: str
    text: str = ""
    """The words that were said, or would have been."""


@dataclass(frozen=True, slots=True)
class BoardView:
    """Everything the page shows."""

    recorder: str
    """"running", "stopped" or "unknown"."""
    title: str = ""
    """Empty when no carcass is in hand."""
    butcher: str = ""
    """Who is at the bench; empty for nobody."""
    dressed_kg: str = ""
    accounted_kg: str = ""
    to_go_kg: str = ""
    over: bool = False
    """Whether more was weighed than the dressed weight."""
    count: int = 0
    pieces: tuple[dict[str, Any], ...] = ()
    unnamed: tuple[str, ...] = ()
    remaining: tuple[str, ...] = ()
    asked: Asked | None = None
    troubles: tuple[str, ...] = ()
    sounded: Sounded | None = None
    entry: int = 0
    """Number of the last entry taken into account."""

    def values(self) -> dict[str, Any]:
        """As JSON values; the page writes them as text, never as markup."""
        return {
            "recorder": self.recorder,
            "title": self.title,
            "butcher": self.butcher,
            "dressed": self.dressed_kg,
            "accounted": self.accounted_kg,
            "to_go": self.to_go_kg,
            "over": self.over,
            "count": self.count,
            "pieces": list(self.pieces),
            "unnamed": list(self.unnamed),
            "remaining": list(self.remaining),
            "asked": {"text": self.asked.text, "options": list(self.asked.options)} if self.asked else None,
            "troubles": list(self.troubles),
            "sounded": {"number": self.sounded.number, "tone": self.sounded.tone, "text": self.sounded.text}
            if self.sounded
            else None,
            "entry": self.entry,
        }


@dataclass(slots=True)
class Happenings:
    """What the board remembers beside the books: the question, the troubles and the last tone."""

    asked: Asked | None = None
    troubles: dict[str, str] = field(default_factory=dict)
    """Sentence by device, while the trouble lasts."""
    sounded: Sounded | None = None

    def sound(self, tone: str, text: str = "") -> None:
        """Note one more tone."""
        self.sounded = Sounded(self.sounded.number + 1 if self.sounded else 1, tone, text)


def view_of(
    books: Books, happenings: Happenings, *, recorder: str, remaining: Sequence[str] = ()
) -> BoardView:
    """The board as things stand.

    Args:
        books: The state on disk.
        happenings: What was asked, answered and reported.
        recorder: "running", "stopped" or "unknown".
        remaining: What the plan still expects, in words.
    """
    asked, sounded, troubles = happenings.asked, happenings.sounded, tuple(happenings.troubles.values())
    carcass, now = books.carcass, books.bench.butcher
    butcher = now.words() if now is not None and now.name else ""
    if carcass is None:
        return BoardView(
            recorder, butcher=butcher, asked=asked, troubles=troubles, sounded=sounded, entry=books.last_seq
        )
    standing = carcass.standing()
    total_mg = sum(piece.mass_mg for piece in standing)
    rest_mg = carcass.dressed.mass_mg - total_mg if carcass.dressed else 0
    shown = list(reversed(list(carcass.pieces.values())))[:LAST_PIECES]
    return BoardView(
        recorder,
        title=_title(carcass),
        butcher=butcher,
        dressed_kg=format_kg(carcass.dressed.mass_mg, 3) if carcass.dressed else "",
        accounted_kg=format_kg(total_mg, 3),
        to_go_kg=format_kg(abs(rest_mg), 3) if carcass.dressed else "",
        over=rest_mg < 0,
        count=len(standing),
        pieces=tuple(_piece(piece) for piece in shown),
        unnamed=tuple(format_kg(piece.mass_mg, 3) for piece in standing if not piece.named),
        remaining=tuple(remaining),
        asked=asked,
        troubles=troubles,
        sounded=sounded,
        entry=books.last_seq,
    )


def _title(carcass: Carcass) -> str:
    what = " ".join(part for part in (carcass.species, carcass.sex) if part)
    tag = carcass.tag or f"no. {carcass.number}"
    return f"{tag} {what}".strip()


def _piece(piece: Piece) -> dict[str, Any]:
    return {
        "entry": piece.seq,
        "name": piece.words(),
        "kg": format_kg(piece.mass_mg, 3),
        "to": piece.destination,
        "named": piece.named,
        "struck": piece.struck,
    }
