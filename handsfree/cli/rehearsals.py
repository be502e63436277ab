"""Verbs of rehearsal: rehearse, score."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import click

from handsfree.answering.messages import Saying
from handsfree.cli.common import PATH, config_option, example, json_option, ledger_option, print_json
from handsfree.config import load_config
from handsfree.testing.rehearsal.scenario import Scenario
from handsfree.testing.rehearsal.score import Outcome, Score
from handsfree.testing.rehearsal.telling import Faults, Habits
from handsfree.wiring import rehearsing
from handsfree.wiring.replaying import Watch

_SHARE = click.FloatRange(0.0, 1.0)


@click.command(epilog=example("handsfree rehearse try/one --snr 10 --seed 7"))
@click.argument("folder", type=PATH)
@config_option
@click.option(
    "--seed", type=click.IntRange(0), default=1, show_default=True, help="Another seed, another carcass."
)
@click.option("--plan", default="", help="The cut plan it is cut to.")
@click.option("--dressed", "dressed_kg", type=click.FloatRange(1, 400), default=25.0, show_default=True,
              help="Usual dressed weight in kilograms.")  # fmt: skip
@click.option(
    "--pieces", type=PATH, help="A CSV of pieces instead: cut, side, count, net_g, destination, said."
)
@click.option(
    "--voice", default="", help="The butcher's voice, PROGRAM:NAME (flite:rms, espeak-ng:en-gb ...)."
)
@click.option(
    "--other", "others", multiple=True, help="A voice of someone else in the room; may be repeated."
)
@click.option("--noise", type=PATH, help="A recording of noise, or a folder of them.")
@click.option("--snr", "snr_db", type=click.FloatRange(-10, 80), default=20.0, show_default=True,
              help="The voice over the noise, in decibels.")  # fmt: skip
@click.option("--talk", type=PATH, help="A folder of recorded talk laid in between.")
@click.option(
    "--chatter", type=_SHARE, default=0.1, show_default=True, help="Talk that is no call, per piece."
)
@click.option("--bangs", type=_SHARE, default=0.1, show_default=True, help="Loud single sounds, per piece.")
@click.option(
    "--calls-first", type=_SHARE, default=0.55, show_default=True, help="Share called before it lies."
)
@click.option(
    "--batches", type=_SHARE, default=0.0, show_default=True, help="Share laid in twos, then named."
)
@click.option("--missing", type=_SHARE, default=0.0, show_default=True, help="Share never called or weighed.")
@click.option(
    "--dropouts", type=_SHARE, default=0.01, show_default=True, help="Scale falls silent, per piece."
)
@click.option("--shape", default="status_comma", show_default=True, help="Line shape of the bench scale.")
@click.option("--ledger", "ledger_file", type=PATH,
              help="Play it to the recorder, into this ledger: the butcher hears the answers.")  # fmt: skip
@json_option
def rehearse(
    folder: Path,
    config_file: Path | None,
    ledger_file: Path | None,
    calls_first: float,
    batches: float,
    missing: float,
    dropouts: float,
    as_json: bool,
    **wish: Any,
) -> None:
    """Make a session FOLDER with truth, to try your words, your noise and your scale on no meat at all.

    Synthetic voices play an invented butcher who cuts an invented carcass; `replay` works through it
    and `score` tells what was right. With --ledger it is played to the recorder as it is told, and the
    butcher listens: says again what was not taken, answers what is asked, puts right what is read back
    wrong. Synthetic voices are clearer than people: the figures are no promise.
    """
    habits = Habits(calls_first=calls_first, in_batches=batches)
    asked = rehearsing.Wish(habits=habits, faults=Faults(dropouts=dropouts, missing=missing), **wish)
    config = load_config(config_file)
    if ledger_file is None:
        _tell_made(rehearsing.make(asked, folder, config), folder, as_json=as_json)
        return
    watch = Watch(outcome=lambda _outcome, sayings: None if as_json else _tell_sayings(sayings))
    _tell_played(rehearsing.play(asked, folder, ledger_file, config, watch), folder, ledger_file, as_json)


def _tell_made(scenario: Scenario, folder: Path, *, as_json: bool) -> None:
    pieces = sum(row.event == "piece" for row in scenario.truth)
    if as_json:
        print_json(
            {"folder": str(folder), "seconds": scenario.duration_s, "pieces": pieces, "seed": scenario.seed}
        )
        return
    click.echo(f"{scenario.title}: {pieces} pieces in {scenario.duration_s:.0f} s, in {folder}")
    click.echo(
        f"Next: handsfree replay {folder} --ledger try.ledger && handsfree score {folder} --ledger try.ledger"
    )


def _tell_sayings(sayings: Sequence[Saying]) -> None:
    for saying in sayings:
        click.echo(f"  {saying.tone.value}: {saying.text}" if saying.text else f"  {saying.tone.value}")


def _tell_played(played: rehearsing.Played, folder: Path, ledger_file: Path, as_json: bool) -> None:
    scenario = played.scenario
    pieces = sum(row.event == "piece" for row in scenario.truth)
    if as_json:
        print_json(
            {
                "folder": str(folder),
                "seconds": scenario.duration_s,
                "pieces": pieces,
                "seed": scenario.seed,
                "said_again": played.repeated,
                "questions": played.questions,
            }
        )
        return
    click.echo(
        f"{scenario.title}: {pieces} pieces in {scenario.duration_s:.0f} s, said again {played.repeated} "
        f"times, {played.questions} questions, in {folder}"
    )
    click.echo(f"Next: handsfree score {folder} --ledger {ledger_file}")


@click.command(epilog=example("handsfree score try/one --ledger try.ledger"))
@click.argument("folder", type=PATH)
@ledger_option
@json_option
def score(folder: Path, ledger_file: Path, as_json: bool) -> None:
    """Hold a ledger against the truth of the rehearsal FOLDER that was replayed into it.

    Exit status 1 when anything went in wrong and unasked, was lost, or was invented.
    """
    found = rehearsing.score_ledger(folder, ledger_file)
    if as_json:
        print_json(score_json(found))
    else:
        for line in found.lines():
            click.echo(line)
    if any(found.count(bad) for bad in (Outcome.WRONG, Outcome.LOST, Outcome.INVENTED)):
        raise click.exceptions.Exit(1)


def score_json(found: Score) -> dict[str, Any]:
    """The score as plain values."""
    return {
        **{outcome.value: found.count(outcome) for outcome in Outcome},
        "pieces": sum(finding.truth is not None for finding in found.findings),
        "questions": found.questions,
        "findings": [
            {
                "outcome": finding.outcome.value,
                "seconds": finding.truth.seconds if finding.truth else None,
                "entry": finding.piece.seq if finding.piece else None,
                "reason": finding.reason,
            }
            for finding in found.findings
            if finding.outcome is not Outcome.RIGHT
        ],
    }


VERBS: tuple[click.Command, ...] = (rehearse, score)
