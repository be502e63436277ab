"""Verbs of the voices that were read in: add, list, number, show, use, remove."""

from __future__ import annotations

from pathlib import Path

import click

from handsfree.cli.common import PATH, config_option, example, json_option, print_json
from handsfree.config import default_config_file, load_config
from handsfree.speech.enrolled_voice import EnrolledVoice, data_of
from handsfree.wiring import enrolling, reading_aloud
from handsfree.wiring.voices import choose, give_number, store


@click.group(epilog=example('handsfree voice add "Morag"'))
def voice() -> None:
    """Voices read in, so that their owners are understood better."""


@voice.command(epilog=example('handsfree voice add "Morag"'))
@click.argument("name")
@config_option
@json_option
@click.option(
    "--from",
    "folder",
    type=PATH,
    help="Take recordings from a folder (with phrases.csv: file,text) instead of the microphone.",
)
@click.option("--quiet", is_flag=True, help="Show the phrases, do not say them.")
def add(name: str, config_file: Path | None, as_json: bool, folder: Path | None, quiet: bool) -> None:
    """Read forty phrases, and keep a model of NAME's voice if it understands NAME better.

    Each phrase is shown and said; say it, and the next one comes by itself. Some phrases are kept back
    for the test, in which the new model must do better than the one that comes with the engine.
    """
    config = load_config(config_file)
    tell = (lambda _text: None) if as_json else click.echo
    known = store()
    if folder is None:
        folder = reading_aloud.read_phrases(name, config, known, tell, quiet=quiet)
    outcome = enrolling.VoiceWorkshop(config, known, tell).make(name, enrolling.recordings(folder))
    if as_json:
        print_json(
            {"name": name}
            | data_of(outcome.voice)
            | {"refused": [{"text": text, "why": fault.value} for text, fault in outcome.refused]}
        )
        return
    for text, fault in outcome.refused:
        click.echo(f"not used: {text} ({fault.value})")
    _tell_gain(outcome.voice)
    click.echo(f"with words never read before: {outcome.unseen_before} before, {outcome.unseen_after} after")
    if outcome.voice.adapted is not None:
        click.echo(f'Use it: handsfree voice use "{name}"')


@voice.command(name="list", epilog=example("handsfree voice list"))
@config_option
@json_option
def list_(config_file: Path | None, as_json: bool) -> None:
    """List the voices that were read in, and the butchers by number."""
    known, numbers = store(), {name: number for number, name in load_config(config_file).butchers.items()}
    voices = [known.voice(name) for name in known.names()]
    without = [name for name in numbers if name not in known.names()]
    if as_json:
        print_json(
            [{"name": each.name, "butcher": numbers.get(each.name)} | data_of(each) for each in voices]
            + [{"name": name, "butcher": numbers[name], "own_model": False} for name in without]
        )
        return
    for each in voices:
        kind = "own model" if each.adapted is not None else "the model as it comes, own gate"
        click.echo(f"{_numbered(each.name, numbers)}: {kind}, {each.made}")
    for name in without:
        click.echo(f"{_numbered(name, numbers)}: not read in, the model as it comes")
    if not voices and not without:
        click.echo("No voice was read in yet.")


def _numbered(name: str, numbers: dict[str, int]) -> str:
    return f"{name}, butcher {numbers[name]}" if name in numbers else name


@voice.command(epilog=example('handsfree voice number 2 "Morag"'))
@click.argument("number", type=click.IntRange(1, 20))
@click.argument("name", required=False)
@config_option
def number(number: int, name: str | None, config_file: Path | None) -> None:
    """Make NAME butcher NUMBER, for "ledger butcher two"; without NAME the number is free again.

    A voice need not be read in: the model as it comes is then used. One read in under the same name is
    used from the words on.
    """
    file = config_file or default_config_file()
    give_number(file, number, name)
    click.echo(f"{file}: {name} is butcher {number}" if name else f"{file}: nobody is butcher {number}")


@voice.command(epilog=example('handsfree voice show "Morag"'))
@click.argument("name")
@json_option
def show(name: str, as_json: bool) -> None:
    """Show what is known of NAME's voice and what it gained."""
    each = store().voice(name)
    if as_json:
        print_json({"name": each.name, "recordings": str(store().recordings_of(name))} | data_of(each))
        return
    _tell_gain(each)
    click.echo(f"rivals' distance times {each.rival_scale:.2f}")
    click.echo(f"recordings: {store().recordings_of(name)}")


@voice.command(epilog=example('handsfree voice use "Morag"'))
@click.argument("name")
@config_option
def use(name: str, config_file: Path | None) -> None:
    """Listen for NAME from the next session on; "auto" finds out who speaks, "none" is anybody."""
    file = config_file or default_config_file()
    choose(file, name)
    click.echo(f"{file}: voice = {name}")


@voice.command(epilog=example('handsfree voice remove "Morag"'))
@click.argument("name")
@click.option("--recordings", is_flag=True, help="Delete the recordings as well.")
def remove(name: str, recordings: bool) -> None:
    """Take NAME's voice out of use; the recordings stay unless told otherwise."""
    known = store()
    kept = known.recordings_of(name)
    known.remove(name, recordings=recordings)
    click.echo(f"{name} is removed." if recordings else f"{name} is removed; recordings kept in {kept}")


def _tell_gain(each: EnrolledVoice) -> None:
    for gain in each.gains:
        click.echo(f"{gain.condition}: {gain.before} of {gain.of} right before, {gain.after} after")
    kept = "the new model is kept" if each.adapted is not None else "no better: the model as it comes stays"
    click.echo(f"{each.name}: {kept}; taught with {each.teaching} phrases")


VERBS: tuple[click.Command, ...] = (voice,)
