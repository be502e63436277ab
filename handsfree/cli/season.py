"""The verb `season`: many carcasses side by side and in their order."""

from __future__ import annotations

from datetime import date, datetime
from pathlib import Path

import click
from rich.console import Console

from handsfree.cli.common import PATH, config_option, example, json_option, ledger_option, print_json
from handsfree.config import load_config
from handsfree.reconciliation.season import By
from handsfree.reporting.season_export import season_csv, season_json
from handsfree.reporting.season_page import season_html
from handsfree.reporting.season_terminal import season_on_terminal
from handsfree.wiring import bookshelf
from handsfree.wiring import season as seasons

_DAY = click.DateTime(["%Y-%m-%d"])


@click.command(epilog=example("handsfree season --species fallow --from 2026-04-01 --page season.html"))
@click.argument("ledger", required=False, type=PATH)
@ledger_option
@config_option
@click.option("--species", default="", help="Only carcasses of this species, as it is called.")
@click.option("--from", "since", type=_DAY, help="First day of closing; the limits then come from there on.")
@click.option("--to", "until", type=_DAY, help="Last day of closing.")
@click.option(
    "--by",
    type=click.Choice([each.value for each in By]),
    default=By.SPECIES.value,
    show_default=True,
    help="What the tables are divided by; by bench, the charts are too.",
)
@click.option("--prices", type=PATH, help="Price list (TOML), instead of that of the settings.")
@click.option(
    "--csv", "csv_file", type=PATH, help="Write a row a carcass to a CSV file (- for standard output)."
)
@click.option("--page", type=PATH, help="Write one HTML page with the charts.")
@click.option(
    "--pictures", type=PATH, help="Write a PNG picture of each chart into this folder (matplotlib)."
)
@json_option
def season(
    ledger: Path | None,
    ledger_file: Path,
    config_file: Path | None,
    species: str,
    since: datetime | None,
    until: datetime | None,
    by: str,
    prices: Path | None,
    csv_file: Path | None,
    page: Path | None,
    pictures: Path | None,
    as_json: bool,
) -> None:
    """Show loss, yield, use, portions and value over many closed carcasses, and what to do about it.

    The first carcasses in no doubt tell what is usual; each later one is held against it by four charts.
    Carcasses with an open suspect, or corrected after their closing, are shown but tell nothing usual.
    """
    config = load_config(config_file)
    told = seasons.season(
        ledger or ledger_file,
        config,
        species=species,
        since=_day(since),
        until=_day(until),
        by=By(by),
        prices=prices,
    )
    price_day = told.prices.day if told.prices else None
    if as_json:
        print_json(
            season_json(told.season, since=told.since, until=told.until, zone=told.zone, price_day=price_day)
        )
    elif csv_file == Path("-"):
        click.echo(season_csv(told.season), nl=False)
    elif csv_file or page or pictures:
        for written in _written(told, csv_file, page, pictures):
            click.echo(f"Wrote {written}")
    else:
        Console().print(
            season_on_terminal(
                told.season,
                since=told.since,
                until=told.until,
                zone=told.zone,
                price_day=f"{price_day}" if price_day else "",
            )
        )


def _written(
    told: seasons.Told, csv_file: Path | None, page: Path | None, pictures: Path | None
) -> list[Path]:
    written = []
    if csv_file:
        written.append(bookshelf.save(csv_file, season_csv(told.season)))
    if page:
        html = season_html(
            told.season,
            larder=told.larder,
            since=told.since,
            until=told.until,
            zone=told.zone,
            price_day=f"{told.prices.day}" if told.prices else "",
        )
        written.append(bookshelf.save(page, html))
    if pictures:
        written += seasons.draw(told, pictures)
    return written


def _day(moment: datetime | None) -> date | None:
    return moment.date() if moment else None


VERBS: tuple[click.Command, ...] = (season,)
"""In working order."""
