"""The lists behind `carcasses` and `pieces`: tables for people, plain values for programs."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, tzinfo
from typing import Any

from rich import box
from rich.table import Table
from rich.text import Text

from handsfree.ledger.books import Carcass
from handsfree.mass import format_g
from handsfree.reporting.making import sheet_of
from handsfree.reporting.words import day, kg, kg_decimals, percent, plain, share

#: Two blanks between columns: one here, one is the box's own.
_PADDING = (0, 1, 0, 0)


def carcasses_json(carcasses: Iterable[Carcass]) -> list[dict[str, Any]]:
    """One object a carcass, as the books stand."""
    return [
        {
            "carcass": carcass.number,
            "tag": carcass.tag,
            "species": carcass.species,
            "sex": carcass.sex,
            "state": carcass.state.value,
            "opened_at": carcass.opened_at,
            "closed_at": carcass.closed_at if carcass.closing else "",
            "dressed_g": format_g(carcass.dressed.mass_mg) if carcass.dressed else None,
            "pieces": len(carcass.standing()),
            "pieces_g": format_g(carcass.total_mg()),
            "verdict": carcass.closing.verdict if carcass.closing else "",
            "unaccounted_g": _unaccounted_g(carcass),
        }
        for carcass in carcasses
    ]


def carcass_table(carcasses: Iterable[Carcass], *, zone: tzinfo = UTC) -> Table:
    """A line a carcass: tag, kind, state, dressed weight and sum of the pieces in kg and their ratio."""
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, padding=_PADDING)
    table.add_column("no.", justify="right", no_wrap=True)
    table.add_column("tag", no_wrap=True)
    table.add_column("kind", ratio=2)
    table.add_column("opened", no_wrap=True)
    table.add_column("state", ratio=2)
    table.add_column("dressed", justify="right", no_wrap=True)
    table.add_column("pieces", justify="right", no_wrap=True)
    table.add_column("sum", justify="right", no_wrap=True)
    table.add_column("%", justify="right", no_wrap=True)
    for carcass in carcasses:
        dressed_mg = carcass.dressed.mass_mg if carcass.dressed else None
        table.add_row(
            str(carcass.number),
            Text(plain(carcass.tag)),
            Text(plain(f"{carcass.species} {carcass.sex}")),
            day(carcass.opened_at, zone),
            _state(carcass),
            "" if dressed_mg is None else _exact(dressed_mg),
            str(len(carcass.standing())),
            _exact(carcass.total_mg()),
            percent(share(carcass.total_mg(), dressed_mg)),
        )
    return table


def piece_list_table(carcasses: Iterable[Carcass], *, zone: tzinfo = UTC) -> Table:
    """A line a piece with the entry number `amend` takes; struck ones are marked."""
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, padding=_PADDING)
    table.add_column("entry", justify="right", no_wrap=True)
    table.add_column("carcass", no_wrap=True)
    table.add_column("time", no_wrap=True)
    table.add_column("piece", ratio=3)
    table.add_column("to", ratio=1)
    table.add_column("net kg", justify="right", no_wrap=True)
    table.add_column("marks", ratio=2)
    for carcass in carcasses:
        sheet = sheet_of(carcass, zone=zone)
        name = sheet.heading.tag or f"no. {carcass.number}"
        for piece in sorted((*sheet.pieces, *sheet.struck), key=lambda piece: piece.seq):
            count = f"{piece.count} " if piece.count != 1 else ""
            table.add_row(
                str(piece.seq),
                Text(name),
                piece.time,
                Text(f"{count}{piece.name}"),
                Text(piece.destination),
                piece.net_kg,
                Text(", ".join(piece.marks)),
            )
    return table


def _exact(mass_mg: int) -> str:
    return kg(mass_mg, kg_decimals([mass_mg]))


def _state(carcass: Carcass) -> str:
    return f"closed, {plain(carcass.closing.verdict)}" if carcass.closing else carcass.state.value


def _unaccounted_g(carcass: Carcass) -> str | None:
    closing = carcass.closing
    return None if closing is None or closing.unaccounted_mg is None else format_g(closing.unaccounted_mg)
