"""Verbs of a session: demo, record, replay, say."""

from __future__ import annotations

import signal
import sys
import threading
from dataclasses import replace
from pathlib import Path
from types import FrameType

import click
from rich.console import Console
from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn

from handsfree.answering.messages import Saying
from handsfree.clerk import Outcome
from handsfree.cli.common import (
    PATH,
    config_option,
    example,
    json_option,
    ledger_option,
    print_json,
    print_json_line,
    settings,
    voice_option,
)
from handsfree.cli.telling import SessionLog, session_json
from handsfree.cli.words import trial_json, trial_text
from handsfree.config import load_config
from handsfree.reporting.page import page_html
from handsfree.reporting.terminal import sheet_on_terminal
from handsfree.resources import demo_folder
from handsfree.wiring import bookshelf, recording, replaying, typing

#: No such larder exists.
DEMO_LARDER = "Nettlebeck larder (invented)"


@click.command(epilog=example("handsfree demo"))
@click.option(
    "--out",
    type=PATH,
    default=Path("demo_output"),
    show_default=True,
    help="Folder for the demo's ledger and sheet.",
)
@config_option
def demo(out: Path, config_file: Path | None) -> None:
    """Recognise and weigh the packaged session, and print the carcass sheet.

    The larder, the animal and the people in it are invented; the sound and the scale lines are
    worked through as a live session is, with the embedded engine.
    """
    settings = load_config(config_file)
    config = replace(settings, larder=replace(settings.larder, name=DEMO_LARDER))
    folder = demo_folder()
    ledger = out / "demo.ledger"
    for old in out.glob("demo.ledger*"):
        old.unlink()
    console = Console()
    console.print(f"An invented larder, one fallow doe: {folder}")
    done = _with_bar(console, lambda watch: replaying.replay(folder, ledger, config, watch))
    with bookshelf.Shelf(ledger) as shelf:
        made = bookshelf.sheet(shelf, shelf.find(), config)
    console.print(sheet_on_terminal(made))
    page = bookshelf.save(out / "demo_sheet.html", page_html(made))
    console.print(f"Heard with {done.engine}.")
    console.print(f"Ledger: {ledger.absolute()}", soft_wrap=True)
    console.print(f"Sheet as a page: {page}", soft_wrap=True)


@click.command(epilog=example("handsfree replay fixtures/sessions/short --ledger try.ledger"))
@click.argument("folder", type=PATH)
@ledger_option
@config_option
@voice_option
@click.option("--again", is_flag=True, help="Enter the session even when it is in the ledger already.")
@json_option
def replay(
    folder: Path, ledger_file: Path, config_file: Path | None, voice: str, again: bool, as_json: bool
) -> None:
    """Work through the session FOLDER into the ledger, as the live session would have."""
    config = settings(config_file, voice)
    log = SessionLog()
    if as_json:
        watch = replaying.Watch(utterance=log.utterance, outcome=log.outcome)
        done = replaying.replay(folder, ledger_file, config, watch, again=again)
        print_json(session_json(done, log))
        return
    console = Console()
    done = _with_bar(console, lambda watch: replaying.replay(folder, ledger_file, config, watch, again=again))
    for warning in done.warnings:
        console.print(f"Note: {warning}")
    with bookshelf.Shelf(ledger_file) as shelf:
        for number in sorted(done.carcasses):
            carcass = shelf.find(f"#{number}")
            console.print(sheet_on_terminal(bookshelf.sheet(shelf, carcass, config)))
    if not done.carcasses:
        console.print("No carcass was opened in this session.")


@click.command(epilog=example("handsfree record --keep sessions/monday"))
@ledger_option
@config_option
@voice_option
@click.option("--keep", type=PATH, help="Keep sound and scale lines in this folder, for `replay`.")
@click.option("--plan", default="", help="The cut plan carcasses are cut to.")
@click.option("--butcher", default="", help="Who works, by number or name: entered with every piece.")
@click.option("--quiet", is_flag=True, help="No tones and no voice.")
@click.option("--no-sound", is_flag=True, help="Scales only: no microphone.")
@click.option("--board", type=click.IntRange(0, 65535), help="Serve the board at this port (0: a free one).")
@click.option("--host", default="127.0.0.1", show_default=True, help="Address to serve the board on.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object a happening, and nothing else.")
def record(
    ledger_file: Path,
    config_file: Path | None,
    voice: str,
    keep: Path | None,
    plan: str,
    butcher: str,
    quiet: bool,
    no_sound: bool,
    board: int | None,
    host: str,
    as_json: bool,
) -> None:
    """Record live: hear the calls, read the scales, answer aloud. Ctrl-C ends it in order.

    Knives, saws and wet floors: keep both eyes on the work; the recorder waits for you, never you
    for it. Selling by weight needs a verified scale under local law.
    """
    log = SessionLog(echo=print_json_line if as_json else None)

    def happened(outcome: Outcome, sayings: list[Saying]) -> None:
        log.outcome(outcome, sayings)
        if not as_json:
            for line in log.lines(outcome, sayings):
                click.echo(line)

    options = recording.LiveOptions(
        ledger=ledger_file,
        keep=keep,
        quiet=quiet,
        sound=not no_sound,
        plan=plan,
        butcher=butcher,
        board_port=board,
        board_host=host,
        ready=(lambda text: print_json_line({"ready": text})) if as_json else click.echo,
        tell=lambda text: click.echo(text, err=True),
    )
    _stop_on_signals(options.stop)
    recording.record(
        settings(config_file, voice), options, replaying.Watch(utterance=log.utterance, outcome=happened)
    )
    if not as_json:
        click.echo("Ended in order; the ledger is complete.")


@click.command(epilog=example('handsfree say "ledger new carcass" "left haunch" "ledger weight 4.135"'))
@click.argument("phrases", nargs=-1)
@click.option("--ledger", "ledger_file", type=PATH, help="Carry the phrases out in this ledger.")
@config_option
@json_option
def say(phrases: tuple[str, ...], ledger_file: Path | None, config_file: Path | None, as_json: bool) -> None:
    """Type what one would say: PHRASES, or lines of standard input when none is given.

    Without --ledger the meaning is shown; with it the phrases are carried out, two seconds apart.
    """
    lines = list(phrases) or [line.strip() for line in sys.stdin if line.strip()]
    config = load_config(config_file)
    log = SessionLog()
    typed = typing.say(
        lines, config, ledger_file, replaying.Watch(utterance=log.utterance, outcome=log.outcome)
    )
    if as_json:
        print_json({"phrases": [trial_json(trial) for trial in typed], "happenings": log.happenings})
    else:
        for trial in typed:
            click.echo(trial_text(trial))
        for happening in log.happenings:
            if happening.get("answer"):
                click.echo(f"  {happening['answer']}")
    if not all(trial.accepted for trial in typed):
        raise click.exceptions.Exit(1)


def _with_bar(console: Console, work: replaying.Work) -> replaying.Replayed:
    columns = (
        TextColumn("{task.description}"),
        BarColumn(),
        TextColumn("{task.completed:.0f} of {task.total:.0f} s"),
        TimeRemainingColumn(),
    )
    with Progress(*columns, console=console, transient=True) as progress:
        task = progress.add_task("listening and weighing", total=1.0)
        watch = replaying.Watch(
            progress=lambda done_s, whole_s: progress.update(task, completed=done_s, total=whole_s)
        )
        return work(watch)


def _stop_on_signals(stop: threading.Event) -> None:
    def end(_signal: int, _frame: FrameType | None) -> None:
        stop.set()

    for number in (signal.SIGINT, signal.SIGTERM):
        signal.signal(number, end)


VERBS: tuple[click.Command, ...] = (demo, record, replay, say)
