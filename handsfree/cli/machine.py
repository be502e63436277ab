"""Verbs of setting up: devices."""

from __future__ import annotations

import click

from handsfree.cli.common import example, json_option, print_json
from handsfree.wiring.devices import devices as find_devices


@click.command(epilog=example("handsfree devices"))
@json_option
def devices(as_json: bool) -> None:
    """List microphones and serial ports, and where settings and ledger lie."""
    found = find_devices()
    if as_json:
        print_json(found)
        return
    click.echo("Microphones")
    for each in found["microphones"]:
        mark = "*" if each["default"] else " "
        click.echo(f" {mark} {each['index']:3}  {each['name']}  ({each['rate_hz']:.0f} Hz)")
    if found["microphone_trouble"]:
        click.echo(f"   none: {found['microphone_trouble']}")
    click.echo("Serial ports")
    for each in found["serial_ports"]:
        click.echo(f"   {each['port']}  {each['description']}")
    if not found["serial_ports"]:
        click.echo("   none")
    click.echo(f"Settings file  {found['settings_file']}")
    click.echo(f"Ledger file    {found['ledger_file']}")


VERBS: tuple[click.Command, ...] = (devices,)
