"""Plumbing: files in, JSON out. The stages apart, for fault-finding and measurement."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import click

from handsfree.cli.common import (
    PATH,
    config_option,
    example,
    json_option,
    ledger_option,
    print_json,
    print_json_line,
)
from handsfree.cli.telling import utterance_json
from handsfree.config import ScaleSettings, load_config
from handsfree.errors import BalanceError
from handsfree.reconciliation.document import document_from_text
from handsfree.reconciliation.document_faults import schema
from handsfree.reconciliation.outcome import outcome_to_json
from handsfree.reconciliation.reconcile import Reconciliation
from handsfree.reporting.words import chance
from handsfree.wiring import bookshelf, hearing, scales


@click.command(epilog=example("handsfree hear demo_audio/session/audio.flac --json"))
@click.argument("wav", type=PATH)
@click.option("--phrases", type=PATH, help="Listen for the lines of this file instead of the larder's words.")
@config_option
@json_option
def hear(wav: Path, phrases: Path | None, config_file: Path | None, as_json: bool) -> None:
    """Recognise the sound file WAV; with --json one object an utterance, a line each."""
    for utterance in hearing.hear(wav, load_config(config_file), phrases):
        if as_json:
            print_json_line(utterance_json(utterance))
            continue
        what = utterance.text or "(nothing)"
        why = f"  refused: {utterance.refusal.value}" if utterance.refusal else ""
        click.echo(f"{utterance.start_ns / 1e9:8.2f} s  {what}  ({utterance.confidence:.2f}){why}")


@click.command(epilog=example("handsfree weigh demo_audio/session/scale.csv --json"))
@click.argument("capture", type=PATH)
@click.option("--shape", default="auto", show_default=True, help="Line shape, a shape file, or auto.")
@click.option("--d", "d_g", type=float, help="Scale interval in grams (default: from the decimals sent).")
@click.option("--rate", type=float, default=10.0, show_default=True, help="Lines a second of a raw capture.")
@click.option(
    "--unit", type=click.Choice(["kg", "g", "lb", "oz"]), default=None, help="Unit of lines that carry none."
)
@click.option("--address", default="", help="The scale's number, where several scales talk on one wire.")
@click.option("--max", "max_kg", type=float, help="Greatest load in kilograms: more is not believed.")
@json_option
def weigh(
    capture: Path,
    shape: str,
    d_g: float | None,
    rate: float,
    unit: str | None,
    address: str,
    max_kg: float | None,
    as_json: bool,
) -> None:
    """Find the weights in CAPTURE: a session's scale.csv, or raw bytes of one scale."""
    settings = ScaleSettings("", shape=shape, d_g=d_g, unit=unit or "", address=address, max_kg=max_kg)
    found = scales.weigh_capture(capture, settings, lines_per_s=rate)
    if as_json:
        print_json(found[0] if len(found) == 1 else {"scales": found})
        return
    for scale in found:
        click.echo(
            f"{scale['scale']}: shape {scale['shape'] or 'unknown'}, "
            f"{len(scale['indications'])} indications, {scale['torn']} torn lines"
        )
        for change in scale["load_changes"]:
            click.echo(f"{change['t_s']:8.1f} s  {change['delta_g']:+10.1f} g  to {change['after']}")
        for event in scale["events"]:
            click.echo(f"{event['t_s']:8.1f} s  {event['kind']} {event['detail']}".rstrip())


@click.command(epilog=example("handsfree reconcile 417"))
@click.argument("carcass", required=False, default="")
@click.option("--from", "source", type=PATH, help="Reconcile a JSON file (- for standard input) instead.")
@click.option("--schema", "show_schema", is_flag=True, help="Print the JSON Schema of that file, and stop.")
@ledger_option
@config_option
@json_option
def reconcile(
    carcass: str,
    source: Path | None,
    ledger_file: Path,
    config_file: Path | None,
    show_schema: bool,
    as_json: bool,
) -> None:
    """Hold the pieces against the dressed weight: of CARCASS in the ledger, or of a JSON file.

    Exit 1 when the balance does not come out.
    """
    if show_schema:
        print_json(schema())
        return
    if source is not None:
        text, name = _read(source)
        outcome = document_from_text(text, name).reconcile()
    else:
        with bookshelf.Shelf(ledger_file) as shelf:
            carcass_found = shelf.find(carcass)
            outcome = bookshelf.reconciliation(shelf.books, carcass_found, load_config(config_file))
    if as_json:
        print_json(outcome_to_json(outcome))
    else:
        for line in _in_words(outcome):
            click.echo(line)
    if outcome.verdict.questioned:
        raise click.exceptions.Exit(1)


def _read(source: Path) -> tuple[str, str]:
    if source == Path("-"):
        return sys.stdin.read(), "standard input"
    try:
        return source.read_text(encoding="utf-8"), str(source)
    except (OSError, UnicodeDecodeError) as error:
        raise BalanceError(f"{source} cannot be read: {error}", next_step="give a JSON file") from error


def _in_words(outcome: Reconciliation) -> list[str]:
    values: dict[str, Any] = outcome_to_json(outcome)
    lines = [values["sentence"]]
    lines.extend(
        f"{chance(suspect.posterior):>4} %  {suspect.words}. {suspect.remedy}"
        for suspect in outcome.suspects
        if suspect.is_fault and suspect.posterior >= 0.02 and outcome.questioned
    )
    return lines + list(values["notes"])


VERBS: tuple[click.Command, ...] = (hear, weigh, reconcile)
