"""The verb that finds how a scale talks."""

from __future__ import annotations

from pathlib import Path

import click

from handsfree.cli.common import config_option, example, json_option, print_json
from handsfree.errors import ScaleError
from handsfree.wiring import scale_finding


@click.command(epilog=example("handsfree scale find /dev/ttyUSB0 --name bench --write"))
@click.argument("port", default="")
@click.option("--name", default="bench", show_default=True, help="Name of the scale in the settings.")
@click.option("--write", is_flag=True, help="Write what was found into the settings file.")
@config_option
@json_option
def find(port: str, name: str, write: bool, config_file: Path | None, as_json: bool) -> None:
    """Find the scale on PORT (or on every port): its rate, parity, line shape and request.

    Leave something on the pan and do not touch it. A scale that sends only when its key is pressed is not
    found by itself: press the key again and again meanwhile, and set only_on_key = true.
    """
    found = scale_finding.find(port, lambda text: click.echo(text, err=True))
    if as_json:
        print_json([{"said": each.said, "settings": _set(each)} for each in found])
    if not found:
        where = f"on {port}" if port else "on any port"
        raise ScaleError(
            f"no scale was understood {where}",
            next_step="see that it is switched on and set to send; learn its lines with `handsfree scale "
            "learn`, or keep a capture with spy+ before its port and send it in",
        )
    for each in [] if as_json else found:
        click.echo(f"Found {each.said}.")
        click.echo(each.lines(name))
        if each.unit_missing:
            click.echo("Its lines carry no unit: set unit as its display shows it.")
    if not write:
        return
    if len(found) > 1:
        ports = ", ".join(each.port for each in found)
        raise ScaleError(
            f"{len(found)} scales were found", kept="nothing was written", next_step=f"name one port: {ports}"
        )
    file = scale_finding.write(found[0], name, config_file)
    click.echo(f"Written to {file}.", err=as_json)


def _set(found: scale_finding.ScaleFound) -> dict[str, object]:
    return {key: value for key, value in found.values.items() if value is not None}
