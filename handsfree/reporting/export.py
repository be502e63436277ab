"""The pieces of carcasses as CSV and as JSON for other programs.

Masses are exact decimal text in grams. Struck pieces are exported with `status` "struck"; the sum of
a carcass is the sum over "standing". JSON carries `format`, raised when a name changes its meaning.
"""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable
from typing import Any

from handsfree.ledger.books import Carcass, Piece
from handsfree.mass import format_g

FORMAT = 1

#: The columns of the CSV, in order, which are also the names in the JSON, with their meaning.
COLUMNS: dict[str, str] = {
    "entry": "number of the ledger entry that made the piece",
    "posted_at": "RFC 3339 wall time (UTC) of the entry",
    "carcass": "number of the carcass in the ledger",
    "tag": "tag of the carcass",
    "species": "species of the carcass",
    "sex": "sex of the carcass",
    "cut": "cut as it is called now; empty while unnamed",
    "side": "left, right or empty",
    "count": "pieces in this weighing",
    "destination": "where it went; empty while unnamed",
    "mass_g": "net mass in grams, exact decimal text",
    "u_g": "standard uncertainty of this weighing alone in grams (rounding and spread)",
    "interval_g": "scale interval d in grams; 0 for a spoken weight",
    "scale": "instrument: bench, rail ... or spoken",
    "method": "cleared pan, tray building, taking off or spoken",
    "indication": "settled indication as the scale sent it",
    "indication_before": "settled indication before the piece",
    "heard": "what was heard",
    "confidence": "0 to 1",
    "by": "who cut it; empty when nobody was named",
    "status": "standing or struck",
    "renamed": "yes or no",
    "entered_as": "the name it was entered under, when it was renamed",
}

_NUMBERS = frozenset({"entry", "carcass", "count", "mass_g", "u_g", "interval_g", "confidence"})

# A spreadsheet takes a cell that begins like this for a formula (OWASP, "CSV Injection"). Blanks
# before it are skipped by some, and the full-width forms are taken for the plain ones by others.
_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠", "'")


def pieces_json(carcasses: Iterable[Carcass]) -> list[dict[str, Any]]:
    """One object a piece, struck ones included, in the order of the ledger entries."""
    rows = [(piece, carcass) for carcass in carcasses for piece in carcass.pieces.values()]
    rows.sort(key=lambda row: row[0].seq)
    return [_row(piece, carcass) for piece, carcass in rows]


def json_text(carcasses: Iterable[Carcass]) -> str:
    """A JSON document with the pieces of these carcasses."""
    document = {"format": FORMAT, "columns": COLUMNS, "pieces": pieces_json(carcasses)}
    return json.dumps(document, indent=1) + "\n"


def csv_text(carcasses: Iterable[Carcass]) -> str:
    """RFC 4180 text with a header line and CRLF line ends.

    A text cell that a spreadsheet might take for a formula gets an apostrophe before it, and so
    does one that begins with an apostrophe: `unguarded` takes it off again.
    """
    out = io.StringIO(newline="")
    writer = csv.writer(out, dialect="excel")
    writer.writerow(COLUMNS)
    for row in pieces_json(carcasses):
        writer.writerow([row[name] if name in _NUMBERS else guarded(_cell(row[name])) for name in COLUMNS])
    return out.getvalue()


def guarded(text: str) -> str:
    """The text made safe to be opened in a spreadsheet."""
    return f"'{text}" if text.lstrip(" ").startswith(_FORMULA_STARTS) else text


def unguarded(text: str) -> str:
    """The text as it was before `guarded`."""
    return text.removeprefix("'")


def _cell(value: Any) -> str:
    return ("yes" if value else "no") if isinstance(value, bool) else str(value)


def _row(piece: Piece, carcass: Carcass) -> dict[str, Any]:
    entered = piece.entered
    count = f"{entered.count} " if entered.count != 1 else ""
    side = f"{entered.side} " if entered.side else ""
    return {
        "entry": piece.seq,
        "posted_at": piece.posted_at,
        "carcass": carcass.number,
        "tag": carcass.tag,
        "species": carcass.species,
        "sex": carcass.sex,
        "cut": piece.cut,
        "side": piece.side,
        "count": piece.count,
        "destination": piece.destination,
        "mass_g": format_g(piece.mass_mg),
        "u_g": round(entered.u_mg / 1000, 6),
        "interval_g": format_g(entered.d_mg),
        "scale": entered.scale,
        "method": entered.method,
        "indication": entered.indication,
        "indication_before": entered.indication_before,
        "heard": entered.heard,
        "confidence": entered.confidence,
        "by": entered.by,
        "status": "struck" if piece.struck else "standing",
        "renamed": piece.renamed,
        "entered_as": f"{count}{side}{entered.cut}" if piece.renamed else "",
    }
