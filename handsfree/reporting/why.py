"""Why an entry has the name it has: the readings its name was chosen from, and what became of it. Pure."""

from __future__ import annotations

from collections.abc import Iterable
from math import exp
from typing import Any

from rich import box
from rich.console import Group
from rich.table import Table
from rich.text import Text

from handsfree.ledger import entries as e
from handsfree.ledger.books import Piece
from handsfree.mass import format_g
from handsfree.reporting.words import kg, kg_decimals, plain


def why_json(piece: Piece, later: Iterable[e.Entry]) -> dict[str, Any]:
    """The grounds of a piece's name as plain values.

    Args:
        piece: As it stands.
        later: Entries about the same carcass; those about this piece are told.
    """
    entered = piece.entered
    return {
        "entry": piece.seq,
        "carcass": entered.carcass,
        "name": piece.words(),
        "net_g": format_g(piece.mass_mg),
        "scale": entered.scale,
        "method": entered.method,
        "indication": entered.indication,
        "indication_before": entered.indication_before,
        "heard": entered.heard,
        "alternatives": list(entered.alternatives),
        "lag_ms": entered.lag_ms,
        "asked": entered.asked,
        "by": entered.by,
        "readings": [
            {
                "name": reading["name"],
                "heard": reading["heard"],
                "sound": _factor(reading["sound"]),
                "plan": _factor(reading["plan"]),
                "weight": _factor(reading["weight"]),
                "probability": reading["probability"],
                "against": reading.get("against", ""),
            }
            for reading in entered.readings
        ],
        "later": _later(piece, later),
    }


def why_in_words(piece: Piece, later: Iterable[e.Entry]) -> Group:
    """The same for people: a sentence, the readings as a table, and what came after."""
    told = why_json(piece, later)
    entered = piece.entered
    weight = kg(piece.mass_mg, kg_decimals([piece.mass_mg]))
    what = f"Entry {piece.seq} of carcass number {entered.carcass}: {piece.words()}, {weight} kg"
    lines = [f"{what}, {plain(entered.scale)}, {entered.method}.", _heard(entered)]
    if entered.indication_before and entered.scale != "spoken":
        lines.append(
            f"The scale went from {plain(entered.indication_before)} to {plain(entered.indication)}."
        )
    if entered.asked:
        lines.append(f'It was asked about: "{plain(entered.asked)}".')
    if _offered_unheard(entered):
        lines.append("Its name was not heard: it was offered by weight and plan, and taken on a yes.")
    if entered.by:
        lines.append(f"Cut by {plain(entered.by)}.")
    parts: list[Text | Table] = [Text(line) for line in lines]
    if told["readings"]:
        parts += [_table(told["readings"]), Text(_EXPLANATION)]
        held = dict.fromkeys(str(each["against"]) for each in told["readings"] if each["against"])
        if held:
            parts.append(Text(f"Usual weights rest on: {plain(', '.join(held))}."))
    parts += [Text(line) for line in told["later"]]
    return Group(*parts)


def _offered_unheard(entered: e.PieceEntered) -> bool:
    """Whether the name came from the recorder's own question: the other side, or the cut that weighs this."""
    call = f"{entered.side} {entered.cut}".strip()
    heard = [str(reading["name"]) for reading in entered.readings]
    return entered.asked == "confirm" and bool(heard) and not any(call in name for name in heard)


_EXPLANATION = (
    "Sound is the recogniser's own probability. Plan and weight are factors: how well such a piece goes "
    "with what was still to be cut, and with what it usually weighs. Unasked only what was heard is chosen."
)


def _heard(entered: e.PieceEntered) -> str:
    if not entered.heard:
        return "No call was heard for it."
    said = f'Heard "{plain(entered.heard)}"'
    if entered.lag_ms is None:
        return said + "."
    if entered.lag_ms < 0:
        return f"{said}, {-entered.lag_ms / 1000:.1f} s before the load moved."
    if entered.lag_ms > 0:
        return f"{said}, {entered.lag_ms / 1000:.1f} s after the scale had settled."
    return f"{said} while the load moved."


def _table(readings: list[dict[str, Any]]) -> Table:
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, padding=(0, 1, 0, 0))
    table.add_column("reading")
    for name in ("sound", "plan", "weight", "together"):
        table.add_column(name, justify="right", no_wrap=True)
    for reading in readings:
        table.add_row(
            Text(plain(reading["name"])),
            f"{reading['sound']:.1%}",
            f"x {reading['plan']:.3g}",
            f"x {reading['weight']:.3g}",
            f"{reading['probability']:.1%}",
        )
    none = max(0.0, 1.0 - sum(reading["probability"] for reading in readings))
    table.add_row(Text("no call"), f"{_none_by_sound(readings):.1%}", "", "", f"{none:.1%}")
    return table


def _none_by_sound(readings: list[dict[str, Any]]) -> float:
    return max(0.0, 1.0 - sum(float(reading["sound"]) for reading in readings))


def _factor(logarithm: str | float) -> float:
    return round(exp(float(logarithm)), 4)


def _later(piece: Piece, entries: Iterable[e.Entry]) -> list[str]:
    told = []
    about = {piece.seq}
    for entry in entries:
        match entry.body:
            case e.PieceRenamed(piece=seq) as body if seq == piece.seq:
                side, count = f"{body.side} ".lstrip(), f"{body.count} " if body.count != 1 else ""
                name = f"{count}{side}{body.cut}"
                told.append(f"Entry {entry.seq} named it {name}: {plain(body.reason)}.")
            case e.EntryReversed(reverses=seq) as body if seq in about:
                about.add(entry.seq)
                done = "struck it" if seq == piece.seq else "put it back"
                told.append(f"Entry {entry.seq} {done}: {plain(body.reason)}.")
    return told
