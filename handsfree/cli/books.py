"""Verbs of the ledger: carcasses, pieces, sheet, why, amend, verify."""

from __future__ import annotations

from pathlib import Path

import click
from rich.console import Console

from handsfree.cli.amending import amend
from handsfree.cli.common import PATH, config_option, example, json_option, ledger_option, print_json
from handsfree.config import load_config
from handsfree.reporting.export import csv_text, pieces_json
from handsfree.reporting.listing import carcass_table, carcasses_json, piece_list_table
from handsfree.reporting.page import page_html
from handsfree.reporting.sheetjson import sheet_json
from handsfree.reporting.terminal import sheet_on_terminal
from handsfree.reporting.why import why_in_words, why_json
from handsfree.wiring import bookshelf

_last_option = click.option(
    "--last", type=click.IntRange(min=0), default=200, show_default=True, help="How many closed carcasses."
)


@click.command(epilog=example("handsfree carcasses"))
@ledger_option
@_last_option
@json_option
def carcasses(ledger_file: Path, last: int, as_json: bool) -> None:
    """List the carcasses in the ledger: the unfinished and the last closed ones."""
    with bookshelf.Shelf(ledger_file) as shelf:
        found = shelf.carcasses(last)
    if as_json:
        print_json(carcasses_json(found))
    elif found:
        Console().print(carcass_table(found))
    else:
        click.echo("No carcass is in this ledger yet.")


@click.command(epilog=example("handsfree pieces 417 --csv pieces.csv"))
@click.argument("carcass", required=False, default="")
@ledger_option
@click.option("--csv", "csv_file", type=PATH, help="Write the pieces to a CSV file (- for standard output).")
@_last_option
@json_option
def pieces(carcass: str, ledger_file: Path, csv_file: Path | None, last: int, as_json: bool) -> None:
    """List the pieces of CARCASS (its tag, or # and its number), or of all."""
    with bookshelf.Shelf(ledger_file) as shelf:
        wanted = [shelf.find(carcass)] if carcass else shelf.carcasses(last)
    if as_json:
        print_json(pieces_json(wanted))
    elif csv_file == Path("-"):
        click.echo(csv_text(wanted), nl=False)
    elif csv_file is not None:
        click.echo(f"Wrote {bookshelf.save(csv_file, csv_text(wanted))}")
    else:
        Console().print(piece_list_table(wanted))


@click.command(epilog=example("handsfree sheet 417 --html sheet.html"))
@click.argument("carcass", required=False, default="")
@ledger_option
@config_option
@click.option("--html", "html_file", type=PATH, help="Write the sheet as one HTML file instead.")
@json_option
def sheet(
    carcass: str, ledger_file: Path, config_file: Path | None, html_file: Path | None, as_json: bool
) -> None:
    """Show the sheet of CARCASS (its tag, or # and its number), or of the newest."""
    with bookshelf.Shelf(ledger_file) as shelf:
        made = bookshelf.sheet(shelf, shelf.find(carcass), load_config(config_file))
    if as_json:
        print_json(sheet_json(made))
    elif html_file is not None:
        click.echo(f"Wrote {bookshelf.save(html_file, page_html(made))}")
    else:
        Console().print(sheet_on_terminal(made))


@click.command(epilog=example("handsfree verify"))
@ledger_option
@json_option
def verify(ledger_file: Path, as_json: bool) -> None:
    """Check that no entry of the ledger was changed, removed or put in."""
    found = bookshelf.verify(ledger_file)
    if as_json:
        print_json({"entries": found.count, "digest": found.last_digest, "anchored": found.anchored})
        return
    click.echo(f"{found.count} entries, every one as it was written.")
    click.echo(f"Last digest {found.last_digest}")
    if found.anchored is None:
        click.echo("No note of the end was found beside the ledger: a cut-off end would not be seen.")


@click.command(epilog=example("handsfree why 23"))
@click.argument("entry", type=int)
@ledger_option
@json_option
def why(entry: int, ledger_file: Path, as_json: bool) -> None:
    """Show what the name of piece ENTRY was chosen from: sound, plan, weight, timing."""
    with bookshelf.Shelf(ledger_file) as shelf:
        piece, later = shelf.piece(entry)
    if as_json:
        print_json(why_json(piece, later))
    else:
        Console().print(why_in_words(piece, later))


VERBS: tuple[click.Command, ...] = (sheet, carcasses, pieces, why, amend, verify)
