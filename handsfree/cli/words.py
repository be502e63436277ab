"""Verbs of the words: grammar (list, check, try), word (propose)."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click
from rich import box
from rich.console import Console
from rich.table import Table

from handsfree.cli.common import PATH, config_option, example, json_option, print_json
from handsfree.config import load_config
from handsfree.speech.inspection import Trial, check, confusion_findings, list_phrases, try_phrase
from handsfree.speech.jsgf import to_jsgf
from handsfree.speech.meaning import Answer, Call, Command, Meaning
from handsfree.speech.proposing import Proposal
from handsfree.wiring import words as wiring
from handsfree.wiring.listening_check import play


@click.group(epilog=example('handsfree grammar try "left haunch for dice"'))
def grammar() -> None:
    """The words that are heard: list them, check them, try a phrase."""


@grammar.command(name="list", epilog=example("handsfree grammar list"))
@config_option
@json_option
@click.option("--jsgf", is_flag=True, help="Print the grammar of calls and commands in JSGF.")
def list_(config_file: Path | None, as_json: bool, jsgf: bool) -> None:
    """List everything that may be said."""
    vocabulary = wiring.vocabulary(load_config(config_file))
    if jsgf:
        click.echo(to_jsgf(vocabulary.listening()))
        return
    phrases = list_phrases(vocabulary)
    if as_json:
        print_json(
            [{"kind": p.kind, "phrase": p.phrase, "means": p.means, "detail": p.detail} for p in phrases]
        )
        return
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False)
    for name in ("kind", "say", "means", ""):
        table.add_column(name)
    for p in phrases:
        table.add_row(p.kind, p.phrase, p.means, p.detail)
    Console().print(table)


@grammar.command(name="check", epilog=example("handsfree grammar check"))
@config_option
@json_option
@click.option("--listen", is_flag=True, help="Play names that come near each other to the engine (minutes).")
@click.option("--noise", is_flag=True, help="With --listen: also in noise at 10 dB.")
def check_(config_file: Path | None, as_json: bool, listen: bool, noise: bool) -> None:
    """Find words that cannot be pronounced, and names that sound too alike.

    With --listen the installed synthetic voices say each name that has a near rival, and what the
    engine takes for another thing is listed, with a clearer name where there is one.
    """
    if noise and not listen:
        raise click.UsageError("--noise goes with --listen")
    config = load_config(config_file)
    vocabulary, lexicon = wiring.vocabulary(config), wiring.lexicon(config)
    findings = check(vocabulary, lexicon)
    if listen:
        findings += confusion_findings(vocabulary, lexicon, play(vocabulary, lexicon, noise=noise))
        findings.sort(key=lambda finding: finding.severity != "error")
    if as_json:
        print_json(
            [
                {
                    "severity": f.severity,
                    "what": f.what,
                    "suggestion": f.suggestion,
                    "phrases": list(f.phrases),
                    "distance": f.distance,
                }
                for f in findings
            ]
        )
    else:
        for finding in findings:
            click.echo(f"{finding.severity}: {finding.what}; {finding.suggestion}")
        errors = sum(finding.severity == "error" for finding in findings)
        click.echo(f"{errors} errors, {len(findings) - errors} warnings.")
    if any(finding.severity == "error" for finding in findings):
        raise click.exceptions.Exit(1)


@grammar.command(name="try", epilog=example('handsfree grammar try "four double chops for prime"'))
@click.argument("phrase")
@config_option
@json_option
def try_(phrase: str, config_file: Path | None, as_json: bool) -> None:
    """Show what PHRASE would mean; exit 1 when it is not a phrase."""
    trial = try_phrase(wiring.vocabulary(load_config(config_file)), phrase)
    if as_json:
        print_json(trial_json(trial))
    else:
        click.echo(trial_text(trial))
    if not trial.accepted:
        raise click.exceptions.Exit(1)


def meaning_json(meaning: Meaning | None) -> dict[str, Any] | None:
    """A meaning as plain values."""
    match meaning:
        case None:
            return None
        case Call():
            return {
                "call": meaning.cut,
                "side": meaning.side.value if meaning.side else "",
                "count": meaning.count,
                "destination": meaning.destination,
                "same_again": meaning.same_again,
            }
        case Command():
            values = {
                "number": None if meaning.number is None else str(meaning.number),
                "digits": meaning.digits,
                "call": meaning_json(meaning.call),
                "species": meaning.species,
                "sex": meaning.sex,
                "note": meaning.note,
                "plan": meaning.plan,
                "butcher": meaning.butcher,
            }
            return {"command": meaning.verb.value} | {k: v for k, v in values.items() if v}
        case Answer():
            return {"answer": meaning.value}


def trial_json(trial: Trial) -> dict[str, Any]:
    """A trial as plain values."""
    return {
        "text": trial.text,
        "accepted": trial.accepted,
        "meanings": [meaning_json(meaning) for meaning in trial.meanings],
        "suggestions": list(trial.suggestions),
    }


def trial_text(trial: Trial) -> str:
    """A trial as a line for people."""
    if not trial.accepted:
        near = f" Did you mean: {', '.join(trial.suggestions)}?" if trial.suggestions else ""
        return f"{trial.text}: not a phrase.{near}"
    return f"{trial.text}: " + "; or ".join(meaning_text(meaning) for meaning in trial.meanings)


def meaning_text(meaning: Meaning) -> str:
    """A meaning in words."""
    match meaning:
        case Call():
            return f"call {meaning.words()}"
        case Command():
            given = [meaning.digits, meaning.species, meaning.sex, meaning.note, meaning.plan]
            given += [meaning.call.words() if meaning.call else "", str(meaning.number or "")]
            given.append(str(meaning.butcher or ""))
            return " ".join(["command", meaning.verb.value, *(part for part in given if part)])
        case Answer():
            return f"answer {meaning.value}"


@click.group(epilog=example("handsfree word propose gralloch"))
def word() -> None:
    """How words are said: a proposal for one that is not known."""


@word.command(name="propose", epilog=example("handsfree word propose gralloch --add"))
@click.argument("words", nargs=-1, required=True)
@config_option
@json_option
@click.option("--add", is_flag=True, help="Write the lines into your own words file.")
@click.option("--file", "own_file", type=PATH, help="Your own words file (default: as in the settings).")
def propose_(
    words: tuple[str, ...], config_file: Path | None, as_json: bool, add: bool, own_file: Path | None
) -> None:
    """Propose how WORDS are said, by eSpeak NG; nothing is used until it stands in your words file.

    Read each line aloud in its phones and take out the forms nobody uses before you keep it.
    """
    config = load_config(config_file)
    proposed = wiring.proposals(config, words)
    if as_json:
        print_json(
            [
                {
                    "word": one.word,
                    "known": [" ".join(phones) for phones in one.known],
                    "proposed": [
                        {"phones": " ".join(f.phones), "voice": f.voice, "ipa": f.ipa} for f in one.forms
                    ],
                }
                for one in proposed
            ]
        )
    else:
        for one in proposed:
            click.echo(_proposal_text(one))
    unsaid = [one.word for one in proposed if not one.forms]
    if add and len(unsaid) < len(proposed):
        target = wiring.confirm(config, proposed, own_file)
        click.echo(f"Written to {target}.", err=as_json)
    if unsaid:
        raise click.exceptions.Exit(1)


def _proposal_text(one: Proposal) -> str:
    if not one.forms:
        return f"# {one.word}: no proposal; write it as words of letters, figures spelled out"
    lines = [f"# {form.voice}: {' '.join(form.phones)}" for form in one.forms]
    if one.known:
        lines.append(f"# known already: {', '.join(' '.join(phones) for phones in one.known)}")
    return "\n".join([*lines, "[pronunciation]", one.line()])


VERBS: tuple[click.Command, ...] = (grammar, word)
