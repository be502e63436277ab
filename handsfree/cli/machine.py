"""Verbs of setting up: devices, models (list, fetch, select)."""

from __future__ import annotations

import click
from rich.console import Console
from rich.progress import BarColumn, DownloadColumn, Progress, TextColumn, TransferSpeedColumn

from handsfree.cli.common import example, json_option, print_json
from handsfree.wiring import models as models_wiring
from handsfree.wiring.devices import devices as find_devices


@click.command(epilog=example("handsfree devices"))
@json_option
def devices(as_json: bool) -> None:
    """List microphones, serial ports and USB scales, and where settings, ledger and captures lie."""
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
    click.echo("USB scales")
    for each in found["usb_scales"]:
        click.echo(f"   {each['port']}  {each['description']}")
    if not found["usb_scales"]:
        click.echo(f"   none{': ' if found['usb_trouble'] else ''}{found['usb_trouble']}")
    click.echo(f"Settings file  {found['settings_file']}")
    click.echo(f"Ledger file    {found['ledger_file']}")
    click.echo(f"Captures       {found['captures_folder']}")


@click.group(epilog=example("handsfree models list"))
def models() -> None:
    """Speech models: what is installed, what can be fetched, which one is used."""


@models.command(name="list", epilog=example("handsfree models list"))
@json_option
def list_(as_json: bool) -> None:
    """List installed models and those that can be fetched by name."""
    found = models_wiring.listing()
    if as_json:
        print_json(found)
        return
    click.echo("Installed")
    for each in found["installed"]:
        mark = "*" if each["selected"] else " "
        click.echo(
            f" {mark} {each['name']}  ({each['language'] or 'language unknown'}, {each['size_mb']} MB)"
        )
    click.echo("Can be fetched")
    for each in found["known"]:
        click.echo(f"   {each['name']}  ({each['language']}, {each['size_mb']} MB download)  {each['note']}")


@models.command(epilog=example("handsfree models fetch vosk-model-small-en-us-0.15"))
@click.argument("name")
def fetch(name: str) -> None:
    """Download and unpack the model NAME; goes on where an earlier try stopped."""
    columns = (TextColumn("{task.description}"), BarColumn(), DownloadColumn(), TransferSpeedColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True) as progress:
        task = progress.add_task(name, total=None)
        folder = models_wiring.fetch(
            name,
            lambda done, whole: progress.update(task, completed=done, total=whole or None),
            progress.console.print,
        )
    click.echo(f"{name} is in {folder}")


@models.command(epilog=example("handsfree models select embedded"))
@click.argument("name")
def select(name: str) -> None:
    """Use the installed model NAME from now on ("embedded" is the one that came along)."""
    models_wiring.select(name)
    click.echo(f"{name} is used from now on.")


VERBS: tuple[click.Command, ...] = (devices, models)
