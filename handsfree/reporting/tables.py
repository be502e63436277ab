"""The tables of the page."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from handsfree.reporting.markup import Markup, element, join
from handsfree.reporting.sheet import Sheet, Total
from handsfree.reporting.words import kg, percent

_Row = Sequence[str]


def piece_table(sheet: Sheet, *, struck: bool = False) -> Markup:
    """All standing (or all struck) pieces in order."""
    pieces = sheet.struck if struck else sheet.pieces
    rows = [
        element(
            "tr",
            element("td", piece.time),
            element("td", f"{piece.count} {piece.name}" if piece.count != 1 else piece.name),
            element("td", piece.destination),
            element("td", piece.net_kg, class_="n"),
            element("td", percent(piece.share), class_="n"),
            element("td", ", ".join(piece.marks), class_="mark"),
            class_="struck" if struck else None,
        )
        for piece in pieces
    ]
    head = _head("time", "piece", "to", "net kg", "% of dressed", "marks", numbers=(3, 4))
    foot = join(())
    if not struck:
        cells = (element("td"), element("td", "in all"), element("td"))
        share = sheet.total_mg / sheet.heading.dressed_mg if sheet.heading.dressed_mg else None
        total = element("td", kg(sheet.total_mg, sheet.decimals), class_="n")
        percentage = element("td", percent(share), class_="n")
        foot = element("tfoot", element("tr", *cells, total, percentage, element("td")))
    return element("div", element("table", head, element("tbody", *rows), foot), class_="wide")


def destination_table(sheet: Sheet) -> Markup:
    """Totals by destination, with process loss and what is unaccounted when there is a balance."""
    rows = [_total_row(destination.total) for destination in sheet.destinations]
    if sheet.balance and sheet.identity:
        for name, text, mass_mg in (
            ("process loss, expected", sheet.identity.process_loss_kg, sheet.balance.process_loss_mg),
            ("unaccounted", sheet.identity.unaccounted_kg, sheet.balance.unaccounted_mg),
        ):
            rows.append((name, "", text, percent(mass_mg / sheet.balance.dressed_mg)))
    return _table("By destination", ("to", "count", "kg", "%"), rows)


def cut_table(sheet: Sheet) -> Markup:
    """Totals by cut, heaviest first."""
    return _table("By cut", ("cut", "count", "kg", "%"), [_total_row(total) for total in sheet.cuts])


def yield_table(sheet: Sheet) -> Markup:
    """Shares of the dressed weight; nothing without one."""
    if not sheet.yields:
        return join(())
    rows = [_total_row(total) for total in sheet.yields]
    return _table("Yield of dressed weight", ("", "count", "kg", "%"), rows)


def pair_table(sheet: Sheet) -> Markup:
    """Cuts weighed from both sides; nothing when there are none."""
    if not sheet.pairs:
        return join(())
    rows = [(p.cut, p.left_kg, p.right_kg, f"{percent(p.difference)} %") for p in sheet.pairs]
    return _table("Left and right", ("cut", "left kg", "right kg", "differ by"), rows)


def _total_row(total: Total) -> _Row:
    return (total.name, str(total.pieces), total.net_kg, percent(total.share))


def _table(title: str, heads: _Row, rows: Iterable[_Row]) -> Markup:
    body = [
        element("tr", *(element("td", cell, class_="n" if at else None) for at, cell in enumerate(row)))
        for row in rows
    ]
    head = _head(*heads, numbers=tuple(range(1, len(heads))))
    return element("section", element("h2", title), element("table", head, element("tbody", *body)))


def _head(*names: str, numbers: Sequence[int]) -> Markup:
    cells = (
        element("th", name, scope="col", class_="n" if at in numbers else None)
        for at, name in enumerate(names)
    )
    return element("thead", element("tr", *cells))
