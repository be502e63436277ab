"""The verb that learns a scale's lines from a known mass."""

from __future__ import annotations

import tempfile
from pathlib import Path

import click

from handsfree.cli.common import PATH, config_option, example, json_option, print_json
from handsfree.config import load_config
from handsfree.wiring import scale_checking, scale_learning


@click.command(epilog=example("handsfree scale learn bench --port /dev/ttyUSB0 --mass 2.000kg"))
@click.argument("name", default="bench")
@click.option("--mass", required=True, help="A known mass, 2.000kg; a sealed bottle of water will do.")
@click.option("--port", default="", help="Device path or URL (default: the one in the settings).")
@click.option("--from", "capture", type=PATH, help="A capture instead of the port: empty, mass on, mass off.")
@click.option("--write/--no-write", default=True, show_default=True, help="Write the settings.")
@config_option
@json_option
def learn(
    name: str,
    mass: str,
    port: str,
    capture: Path | None,
    write: bool,
    config_file: Path | None,
    as_json: bool,
) -> None:
    """Learn how the scale NAME writes its lines: shape, unit, decimals, interval and stable flag.

    The pan empty, the mass on, the mass off: it is told aloud when. A shape that is not known is learned
    from the lines and kept in a file beside the settings. What could not be told is said.
    """
    known = scale_checking.known_mass(mass, "M1")
    with tempfile.TemporaryDirectory(prefix="handsfree-learn-") as scratch:
        found = scale_learning.learn(
            name,
            known.mass_mg,
            load_config(config_file),
            lambda text: click.echo(text, err=True),
            port=port,
            capture=capture,
            scratch=Path(scratch),
        )
    if as_json:
        values = {key: value for key, value in found.values.items() if value is not None}
        print_json(
            {
                "scale": name,
                "settings": values,
                "said": found.said,
                "could_not_tell": found.could_not_tell,
                "learned_shape": found.shape_file or None,
            }
        )
    else:
        for line in found.said:
            click.echo(line)
        for doubt in found.could_not_tell:
            click.echo(f"Could not tell: {doubt}.")
    if write:
        written = scale_learning.write(name, found, config_file)
        click.echo(f"Written to {' and '.join(map(str, written))}.", err=as_json)
