"""The verb `shares`: what the larder's closed carcasses have taught."""

from __future__ import annotations

import csv
import io
from datetime import datetime
from pathlib import Path

import click
from rich.console import Console
from rich.table import Table

from handsfree.cli.common import PATH, config_option, example, json_option, ledger_option, print_json
from handsfree.config import load_config
from handsfree.reconciliation.shares import shares_json
from handsfree.wiring import bookshelf
from handsfree.wiring.shares import Learned, learned

_COLUMNS = ("plan", "species", "sex", "cut", "carcasses", "share", "low", "high", "spread", "prior")


@click.command(epilog=example("handsfree shares --since 2026-04-01"))
@ledger_option
@config_option
@click.option(
    "--since",
    type=click.DateTime(["%Y-%m-%d"]),
    help="Learn only from carcasses closed on this day or later: a fresh start, nothing is deleted.",
)
@click.option(
    "--last", type=click.IntRange(min=1), default=500, show_default=True, help="How many closed carcasses."
)
@click.option("--csv", "csv_file", type=PATH, help="Write the shares to a CSV file (- for standard output).")
@json_option
def shares(
    ledger_file: Path,
    config_file: Path | None,
    since: datetime | None,
    last: int,
    csv_file: Path | None,
    as_json: bool,
) -> None:
    """Show what each cut usually weighs here, and what cutting takes, as learned from closed carcasses.

    Shares are of the dressed weight. Carcasses with a suspect or a balance that did not come out, and
    pieces struck, renamed or asked about, teach nothing.
    """
    begin = f"{since:%Y-%m-%d}" if since else ""
    found = learned(ledger_file, load_config(config_file), since=begin, last=last)
    if as_json:
        print_json(
            {
                "format": 1,
                "since": begin or None,
                "carcasses": found.carcasses,
                "passed_over": found.passed_over,
                "cutting_loss": round(found.process.cutting, 6),
                "cutting_loss_sd": round(found.process.cutting_sd, 6),
                "shares": shares_json(found.shares),
            }
        )
    elif csv_file == Path("-"):
        click.echo(_csv(found), nl=False)
    elif csv_file is not None:
        click.echo(f"Wrote {bookshelf.save(csv_file, _csv(found))}")
    else:
        _print(found)


def _csv(found: Learned) -> str:
    text = io.StringIO()
    writer = csv.DictWriter(text, _COLUMNS, lineterminator="\n")
    writer.writeheader()
    writer.writerows(shares_json(found.shares))
    return text.getvalue()


def _print(found: Learned) -> None:
    click.echo(f"Learned from {found.carcasses} closed carcasses; {found.passed_over} passed over.")
    loss, sd = 100 * found.process.cutting, 100 * found.process.cutting_sd
    click.echo(f"Cutting takes {loss:.2f} % of the dressed weight, ± {sd:.2f} from carcass to carcass.")
    if not found.shares:
        click.echo("No share was learned yet: those of the cut list stand.")
        return
    table = Table("plan", "species", "cut", "share, %", "nine in ten, %", "carcasses")
    for row in shares_json(found.shares):
        what = f"{row['species']} {row['sex']}".strip()
        band = f"{100 * row['low']:.2f} to {100 * row['high']:.2f}"
        few = " (few)" if row["carcasses"] < 5 else ""
        table.add_row(
            row["plan"], what, row["cut"], f"{100 * row['share']:.2f}", band, f"{row['carcasses']}{few}"
        )
    Console().print(table)


VERBS: tuple[click.Command, ...] = (shares,)
