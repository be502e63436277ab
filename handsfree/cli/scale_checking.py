"""The verb that checks a scale with known masses."""

from __future__ import annotations

from pathlib import Path

import click

from handsfree.cli.common import PATH, config_option, example, json_option, print_json
from handsfree.config import load_config
from handsfree.weighing.checking_words import result_json, sentences
from handsfree.wiring import scale_checking


@click.command(epilog=example("handsfree scale check bench --mass 0.5kg --mass 1kg --mass 2kg --class M1"))
@click.argument("name", default="bench")
@click.option(
    "--mass", "masses", multiple=True, required=True, help="A known mass, 2.000kg; three or more are best."
)
@click.option(
    "--class", "mass_class", default="M1", show_default=True,
    help="Class of the masses (OIML R 111): F2, M1, M2; or water, for bottles as bought.",
)  # fmt: skip
@click.option("--corners", is_flag=True, help="Weigh the heaviest mass at the corners of the pan too.")
@click.option("--from", "capture", type=PATH, help="A capture of the check, instead of the port.")
@click.option(
    "--keep/--no-keep", default=True, show_default=True, help="Keep the result and use it from now on."
)
@config_option
@json_option
def check(
    name: str,
    masses: tuple[str, ...],
    mass_class: str,
    corners: bool,
    capture: Path | None,
    keep: bool,
    config_file: Path | None,
    as_json: bool,
) -> None:
    """Check the scale NAME: each mass once, the heaviest ten times. It is told aloud what to do.

    The result is how far the scale's readings spread and how far its span is off; both go into the
    settings, and from there into every balance. Exit 1 when the scale fails.
    """
    known = [scale_checking.known_mass(each, mass_class) for each in masses]
    found = scale_checking.check(
        name,
        known,
        load_config(config_file),
        lambda text: click.echo(text, err=True),
        corners=corners,
        capture=capture,
    )
    if as_json:
        print_json({"scale": name} | result_json(found))
    else:
        for line in sentences(found):
            click.echo(line)
    if keep:
        file, settings = scale_checking.keep(name, found, config_file)
        click.echo(f"Kept in {file}; {settings} uses it from now on.", err=as_json)
    if found.passed is False:
        raise click.exceptions.Exit(1)
