"""The verb `shares`: what the larder's closed carcasses have taught."""

from __future__ import annotations

import csv
import io
from datetime import UTC, datetime
from pathlib import Path

import click
from rich.console import Console
from rich.table import Table

from handsfree.cli.common import PATH, config_option, example, json_option, ledger_option, print_json
from handsfree.config import default_config_file, load_config
from handsfree.experience import CARCASSES_LOOKED_AT, Taught
from handsfree.reconciliation.belief import Belief, belief_json
from handsfree.reconciliation.learning import LEAST_CARCASSES
from handsfree.reconciliation.shares import shares_json
from handsfree.wiring import bookshelf
from handsfree.wiring.schooling import moment
from handsfree.wiring.shares import forget, taught

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
    "--last",
    type=click.IntRange(min=1),
    default=CARCASSES_LOOKED_AT,
    show_default=True,
    help="How many closed carcasses; a session looks at as many as the default.",
)
@click.option("--csv", "csv_file", type=PATH, help="Write the shares to a CSV file (- for standard output).")
@click.option(
    "--forget",
    "start_afresh",
    is_flag=True,
    help="Start afresh: carcasses closed until now teach nothing more (the settings' learn_from).",
)
@json_option
def shares(
    ledger_file: Path,
    config_file: Path | None,
    since: datetime | None,
    last: int,
    csv_file: Path | None,
    start_afresh: bool,
    as_json: bool,
) -> None:
    """Show what each cut usually weighs here, and what cutting takes, as learned from closed carcasses.

    Shares are of the dressed weight. Carcasses with a suspect or a balance that did not come out, and
    pieces struck, renamed or asked about, teach nothing. From five carcasses on what they taught is used;
    a closed carcass keeps what was believed at its close.
    """
    if start_afresh:
        _forget(config_file or default_config_file())
        return
    config = load_config(config_file)
    begin = since.date() if since else config.larder.learn_from
    found = taught(ledger_file, config, since=begin, last=last)
    if as_json:
        print_json(
            {
                "format": 1,
                "learn": config.larder.learn,
                "since": moment(begin) or None,
                "carcasses": found.carcasses,
                "passed_over": found.passed_over,
                "cutting_loss": round(found.process.cutting, 6),
                "cutting_loss_sd": round(found.process.cutting_sd, 6),
                "chilling_loss": round(found.process.chill, 6),
                "chilling_loss_sd": round(found.process.chill_sd, 6),
                "losses": belief_json(Belief(found.process)),
                "shares": shares_json(found.shares),
            }
        )
    elif csv_file == Path("-"):
        click.echo(_csv(found), nl=False)
    elif csv_file is not None:
        click.echo(f"Wrote {bookshelf.save(csv_file, _csv(found))}")
    else:
        if not config.larder.learn:
            click.echo("Learning is off (learn = false in [larder]): the usual figures stand.")
        _print(found)


def _forget(file: Path) -> None:
    begin = forget(file, datetime.now(UTC))
    click.echo(f"Carcasses closed before {begin} teach nothing more: learn_from in {file.absolute()}.")
    click.echo("The ledger is as it was, and closed carcasses keep the figures of their close.")
    click.echo("To undo it, take the line learn_from out of [larder] again.")


def _csv(found: Taught) -> str:
    text = io.StringIO()
    writer = csv.DictWriter(text, _COLUMNS, lineterminator="\n")
    writer.writeheader()
    writer.writerows(shares_json(found.shares))
    return text.getvalue()


def _print(found: Taught) -> None:
    click.echo(f"Learned from {found.carcasses} closed carcasses; {found.passed_over} passed over.")
    process = found.process
    for what, loss, sd in (
        ("Cutting", process.cutting, process.cutting_sd),
        ("Chilling a hot carcass", process.chill, process.chill_sd),
    ):
        spread = f"± {100 * sd:.2f} from carcass to carcass"
        click.echo(f"{what} takes {100 * loss:.2f} % of the dressed weight, {spread}.")
    click.echo(Belief(process).origin())
    if not found.shares:
        click.echo("No share was learned yet: those of the cut list stand.")
        return
    table = Table("plan", "species", "cut", "share, %", "nine in ten, %", "carcasses")
    for row in shares_json(found.shares):
        what = f"{row['species']} {row['sex']}".strip()
        band = f"{100 * row['low']:.2f} to {100 * row['high']:.2f}"
        few = " (few)" if row["carcasses"] < LEAST_CARCASSES else ""
        table.add_row(
            row["plan"], what, row["cut"], f"{100 * row['share']:.2f}", band, f"{row['carcasses']}{few}"
        )
    Console().print(table)


VERBS: tuple[click.Command, ...] = (shares,)
