"""Options and printing that several verbs share."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any, TypeVar

import click

from handsfree.config import Config, default_ledger_file, load_config

F = TypeVar("F", bound=Callable[..., Any])

PATH = click.Path(path_type=Path)
"""A path that the wiring checks itself, with its own plain sentence."""


def config_option(function: F) -> F:
    """`--config FILE`."""
    return click.option(
        "--config", "config_file", type=PATH, help="Settings file (default: the user's handsfree.toml)."
    )(function)


def ledger_option(function: F) -> F:
    """`--ledger FILE`."""
    return click.option(
        "--ledger",
        "ledger_file",
        type=PATH,
        default=default_ledger_file,
        show_default="the larder's own",
        help="The ledger file.",
    )(function)


def voice_option(function: F) -> F:
    """`--voice NAME`."""
    return click.option(
        "--voice",
        default="",
        help='Whose voice is heard while no butcher is named: one of `voice list`, or "auto" to find out.',
    )(function)


def settings(config_file: Path | None, voice: str = "") -> Config:
    """The settings, with the voice asked for on the command line."""
    config = load_config(config_file)
    return replace(config, speech=replace(config.speech, voice=voice)) if voice else config


def json_option(function: F) -> F:
    """`--json`."""
    return click.option(
        "--json", "as_json", is_flag=True, help="Print JSON for a program, and nothing else."
    )(function)


def print_json(value: Any) -> None:
    """One JSON document on standard output."""
    click.echo(json.dumps(value, ensure_ascii=False, indent=2))


def print_json_line(value: Any) -> None:
    """One JSON object on one line, flushed, for streams."""
    click.echo(json.dumps(value, ensure_ascii=False))


def example(text: str) -> str:
    """The example at the end of a verb's help."""
    return f"\b\nExample: {text}"
