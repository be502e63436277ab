"""The carcass sheet on a terminal: readable at 80 columns, without colour, and through a pipe."""

from __future__ import annotations

from collections.abc import Iterable

from rich import box
from rich.console import Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from handsfree.reporting.figures import SuspectLine
from handsfree.reporting.sheet import Heading, Sheet, SheetPiece, Total
from handsfree.reporting.words import chance, counted, kg, percent, sentence

#: Cells of the bar that stands for the whole dressed weight.
_BAR_CELLS = 28


def sheet_on_terminal(sheet: Sheet) -> RenderableType:
    """The sheet as something a rich console prints; all text is literal, never console markup."""
    return Group(*_blocks(sheet))


def _blocks(sheet: Sheet) -> Iterable[RenderableType]:
    yield from _heading(sheet.heading)
    yield Text()
    yield _pieces("Pieces", sheet.pieces)
    yield from _exceptions(sheet)
    yield _title("Where it went")
    yield _destinations(sheet)
    yield _title("By cut")
    yield _totals(sheet.cuts)
    if sheet.pairs:
        yield _title("Left and right")
        yield _pairs(sheet)
    if sheet.yields:
        yield _title("Yield of dressed weight")
        yield _totals(sheet.yields)
    yield _title("Balance")
    yield from _balance(sheet)
    yield from _records(sheet)
    yield Text()
    for caution in sheet.cautions:
        yield Text(caution, style="dim")
    if sheet.digest:
        yield Text(f"Ledger entry {sheet.last_seq}, digest", style="dim")
        yield Text(sheet.digest, style="dim")


def _title(text: str) -> Text:
    return Text(f"\n{text}", style="bold")


def _heading(heading: Heading) -> Iterable[Text]:
    if heading.larder:
        yield Text(heading.larder)
    yield Text(heading.title[:1].upper() + heading.title[1:], style="bold")
    how = ", ".join(part for part in (heading.skin, heading.hot_or_cold) if part)
    if how:
        yield Text(f"Weighed {how}")
    times = f"Opened {heading.opened}"
    times += f"; closed {heading.closed}" if heading.closed else f"; {heading.state}"
    yield Text(f"{times} ({heading.zone})")
    if heading.dressed_mg is None:
        yield Text("Dressed weight not taken", style="bold")
    else:
        yield Text(
            f"Dressed weight {kg(heading.dressed_mg)} kg at {heading.dressed_at} ({heading.instrument})",
            style="bold",
        )


def _pieces(title: str, pieces: Iterable[SheetPiece]) -> Table:
    table = Table(box=box.SIMPLE_HEAD, title=title, title_justify="left", title_style="bold", pad_edge=False)
    table.add_column("time", no_wrap=True)
    table.add_column("piece", ratio=3)
    table.add_column("to", ratio=1)
    table.add_column("net kg", justify="right", no_wrap=True)
    table.add_column("%", justify="right", no_wrap=True)
    table.add_column("marks", ratio=2)
    for piece in pieces:
        count = f"{piece.count} " if piece.count != 1 else ""
        table.add_row(
            piece.time,
            Text(f"{count}{piece.name}"),
            Text(piece.destination),
            piece.net_kg,
            percent(piece.share),
            Text(", ".join(piece.marks)),
        )
    return table


def _exceptions(sheet: Sheet) -> Iterable[RenderableType]:
    if sheet.unnamed:
        yield Text(f"{counted(len(sheet.unnamed), 'weight')} without a name, counted in the sum:")
        for piece in sheet.unnamed:
            yield Text(f"  {piece.time}  {piece.net_kg} kg")
    if sheet.unweighed:
        yield Text("Called, but no weight came:")
        for call in sheet.unweighed:
            yield Text(f"  {call}")
    if sheet.struck:
        yield _pieces("Struck, not counted", sheet.struck)


def _destinations(sheet: Sheet) -> Table:
    whole = sheet.heading.dressed_mg or sheet.total_mg
    table = Table(box=None, show_header=False, pad_edge=False)
    for column in ("name", "bar"):
        table.add_column(column)
    for column in ("kg", "%"):
        table.add_column(column, justify="right", no_wrap=True)
    rows = [(d.total.name, d.total.mass_mg, d.total.net_kg, d.total.share) for d in sheet.destinations]
    if sheet.balance and sheet.identity:
        dressed = sheet.balance.dressed_mg or 1
        for name, mass_mg, text in (
            ("process loss", sheet.balance.process_loss_mg, sheet.identity.process_loss_kg),
            ("unaccounted", sheet.balance.unaccounted_mg, sheet.identity.unaccounted_kg),
        ):
            rows.append((name, mass_mg, text, mass_mg / dressed))
    for name, mass_mg, text, fraction in rows:
        cells = round(_BAR_CELLS * max(mass_mg, 0) / whole) if whole > 0 else 0
        bar = "█" * min(cells, _BAR_CELLS) or ("▏" if mass_mg > 0 else "")
        table.add_row(Text(name), bar, f"{text} kg", f"{percent(fraction)} %" if fraction is not None else "")
    return table


def _totals(totals: Iterable[Total]) -> Table:
    table = Table(box=None, header_style="dim", pad_edge=False)
    table.add_column("", min_width=24)
    for column in ("count", "net kg", "%"):
        table.add_column(column, justify="right", no_wrap=True)
    for total in totals:
        table.add_row(Text(total.name), str(total.pieces), total.net_kg, percent(total.share))
    return table


def _pairs(sheet: Sheet) -> Table:
    table = Table(box=None, show_header=False, pad_edge=False)
    table.add_column("cut", min_width=24)
    for column in ("left", "right", "difference"):
        table.add_column(column, justify="right", no_wrap=True)
    for pair in sheet.pairs:
        table.add_row(
            Text(pair.cut), f"left {pair.left_kg}", f"right {pair.right_kg}", f"{percent(pair.difference)} %"
        )
    return table


def _balance(sheet: Sheet) -> Iterable[RenderableType]:
    balance, identity = sheet.balance, sheet.identity
    if balance is None or identity is None:
        yield Text(sentence(f"No balance: {sheet.no_balance}"))
        return
    table = Table(box=None, show_header=False, pad_edge=False)
    table.add_column("what", min_width=24)
    table.add_column("kg", justify="right", no_wrap=True)
    table.add_column("more")
    table.add_row("dressed weight", identity.dressed_kg, "kg")
    table.add_row("less pieces", identity.pieces_kg, "kg")
    table.add_row("less expected loss", identity.process_loss_kg, "kg (drip, saw dust, drying)")
    table.add_row(
        Text("unaccounted", style="bold"),
        Text(identity.unaccounted_kg, style="bold"),
        f"kg ± {identity.expanded_u_kg} kg (k = {balance.coverage_factor:.3g})",
    )
    yield table
    yield Text(sentence(balance.sentence), style="bold")
    if balance.suspects:
        yield Text("Probably:")
        for suspect in balance.suspects:
            yield Padding(_suspect(suspect), (0, 0, 0, 2))
    if balance.losses_from:
        yield Text(balance.losses_from)
    for note in balance.notes:
        yield Text(sentence(note))
    if balance.budget:
        sources = ", ".join(f"{line.source} {line.u_mg / 1000:.1f} g" for line in balance.budget)
        yield Text(f"Standard uncertainties: {sources}", style="dim")


def _suspect(suspect: SuspectLine) -> Text:
    odds = f"{chance(suspect.probability)} %  " if suspect.probability is not None else ""
    return Text(f"{odds}{sentence(suspect.text)} {suspect.remedy}".rstrip())


def _records(sheet: Sheet) -> Iterable[Text]:
    if sheet.temperatures:
        yield _title("Temperatures as spoken")
        for temperature in sheet.temperatures:
            yield Text(temperature)
    if sheet.notes:
        yield _title("Notes")
        for note in sheet.notes:
            yield Text(note)
