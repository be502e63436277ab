"""The verb `amend`: corrections with washed hands, each a new entry."""

from __future__ import annotations

from pathlib import Path

import click

from handsfree.cli.common import config_option, example, ledger_option
from handsfree.config import load_config
from handsfree.errors import EntryError
from handsfree.ledger import amending
from handsfree.ledger.books import Books
from handsfree.ledger.entries import Body
from handsfree.speech.inspection import try_phrase
from handsfree.speech.meaning import Call
from handsfree.speech.vocabulary import Vocabulary
from handsfree.wiring import bookshelf, butchers

_REASON = click.option("--reason", required=True, help="Why, for whoever reads the ledger later.")


@click.group(epilog=example('handsfree amend rename 23 "left thick flank" --reason "mis-called"'))
def amend() -> None:
    """Correct the ledger from the keyboard; nothing written is changed.

    Pieces are named by their entry number (see `handsfree pieces`), carcasses by tag or # and number.
    """


def _enter(ledger_file: Path, config_file: Path | None, amendment: bookshelf.Amendment) -> None:
    entries = bookshelf.amend(ledger_file, load_config(config_file), amendment)
    for entry in entries:
        click.echo(f"Entered {entry.seq}: {type(entry.body).__name__}")


def _call(vocabulary: Vocabulary, text: str) -> Call:
    trial = try_phrase(vocabulary, text)
    call = next((meaning for meaning in trial.meanings if isinstance(meaning, Call)), None)
    if call is None or call.same_again:
        near = " or ".join(trial.suggestions)
        raise EntryError(f"{text!r} names no piece", next_step=f"did you mean {near}?" if near else "")
    return call


def _number(books: Books, which: str) -> int:
    number = which.removeprefix("#")
    if which.startswith("#") and number.isdecimal():
        return int(number)
    found = books.unfinished_by_tag(which) or books.by_tag(which)
    if found is None:
        raise EntryError(f"there is no carcass {which} in this ledger")
    return found.number


@amend.command(epilog=example('handsfree amend strike 23 --reason "weighed twice"'))
@click.argument("piece", type=int)
@_REASON
@ledger_option
@config_option
def strike(piece: int, reason: str, ledger_file: Path, config_file: Path | None) -> None:
    """Take PIECE out of the sum."""
    _enter(ledger_file, config_file, lambda books, _v, _c: amending.strike(books, piece, reason))


@amend.command(epilog=example('handsfree amend restore 23 --reason "it was right"'))
@click.argument("piece", type=int)
@_REASON
@ledger_option
@config_option
def restore(piece: int, reason: str, ledger_file: Path, config_file: Path | None) -> None:
    """Put the struck PIECE back."""
    _enter(ledger_file, config_file, lambda books, _v, _c: amending.restore(books, piece, reason))


@amend.command(epilog=example('handsfree amend rename 23 "left shank" --reason "was unnamed"'))
@click.argument("piece", type=int)
@click.argument("call")
@_REASON
@ledger_option
@config_option
def rename(piece: int, call: str, reason: str, ledger_file: Path, config_file: Path | None) -> None:
    """Name PIECE as CALL, in the words one would say."""

    def amendment(books: Books, vocabulary: Vocabulary, _closing: object) -> list[Body]:
        named = _call(vocabulary, call)
        return amending.rename(
            books,
            piece,
            reason=reason,
            destination_of=vocabulary.destination_of,
            cut=named.cut,
            side=named.side.value if named.side else "",
            count=named.count,
            destination=vocabulary.destination_of(named),
        )

    _enter(ledger_file, config_file, amendment)


@amend.command(epilog=example('handsfree amend add 417 "right shank" 0.655 --reason "found in the crate"'))
@click.argument("carcass")
@click.argument("call")
@click.argument("kilograms")
@_REASON
@ledger_option
@config_option
def add(
    carcass: str, call: str, kilograms: str, reason: str, ledger_file: Path, config_file: Path | None
) -> None:
    """Enter a piece of CARCASS that was not recorded: CALL and its weight in KILOGRAMS."""

    def amendment(books: Books, vocabulary: Vocabulary, _closing: object) -> list[Body]:
        named = _call(vocabulary, call)
        return amending.add_piece(
            books,
            _number(books, carcass),
            cut=named.cut,
            kg=kilograms,
            reason=reason,
            destination_of=vocabulary.destination_of,
            side=named.side.value if named.side else "",
            count=named.count,
            destination=named.destination,
        )

    _enter(ledger_file, config_file, amendment)


@amend.command(epilog=example('handsfree amend dressed 417 24.6 --reason "misheard"'))
@click.argument("carcass")
@click.argument("kilograms")
@_REASON
@ledger_option
@config_option
def dressed(carcass: str, kilograms: str, reason: str, ledger_file: Path, config_file: Path | None) -> None:
    """Set the dressed weight of CARCASS in KILOGRAMS."""
    _enter(
        ledger_file,
        config_file,
        lambda books, _v, _c: amending.weigh_dressed(books, _number(books, carcass), kilograms, reason),
    )


@amend.command(epilog=example("handsfree amend describe 417 --sex doe --skin off --cold"))
@click.argument("carcass")
@click.option("--tag", help="Its tag, digits only.")
@click.option("--species", help="Its species, as on the cut list.")
@click.option("--sex", help="Its sex in the words of the species: hind, doe, buck ...")
@click.option("--skin", type=click.Choice(["on", "off"]), help="Skin when the dressed weight was taken.")
@click.option("--hot/--cold", "hot", default=None, help="Hot or cold when the dressed weight was taken.")
@click.option("--plan", help="The cut plan it is cut to.")
@ledger_option
@config_option
def describe(
    carcass: str,
    tag: str | None,
    species: str | None,
    sex: str | None,
    skin: str | None,
    hot: bool | None,
    plan: str | None,
    ledger_file: Path,
    config_file: Path | None,
) -> None:
    """Set what is known about CARCASS."""

    def amendment(books: Books, vocabulary: Vocabulary, _closing: object) -> list[Body]:
        if plan is not None:
            vocabulary.plan(plan)
        return amending.describe(
            books,
            _number(books, carcass),
            tag=tag,
            species=species,
            sex=sex,
            skin=skin,
            hot_or_cold=None if hot is None else "hot" if hot else "cold",
            plan=plan,
        )

    _enter(ledger_file, config_file, amendment)


@amend.command(epilog=example('handsfree amend plan 417 primals --reason "sold whole"'))
@click.argument("carcass")
@click.argument("name", required=False)
@click.option("--back", is_flag=True, help="Take the last change of plan back instead.")
@_REASON
@ledger_option
@config_option
def plan(
    carcass: str, name: str | None, back: bool, reason: str, ledger_file: Path, config_file: Path | None
) -> None:
    """Cut CARCASS to the plan NAME from now on."""
    if (name is None) != back:
        raise click.UsageError("name a plan, or take the last change --back")

    def amendment(books: Books, vocabulary: Vocabulary, _closing: object) -> list[Body]:
        number = _number(books, carcass)
        if name is None:
            return amending.restore_plan(books, number, reason)
        return amending.change_plan(books, number, vocabulary.plan(name).name, reason)

    _enter(ledger_file, config_file, amendment)


@amend.command(epilog=example('handsfree amend butcher 2 --reason "nobody said so"'))
@click.argument("which", required=False)
@click.option("--back", is_flag=True, help="Take the last change of butcher back instead.")
@_REASON
@ledger_option
@config_option
def butcher(which: str | None, back: bool, reason: str, ledger_file: Path, config_file: Path | None) -> None:
    """Put the butcher WHICH, a number or name, at the bench from now on; "none" for nobody."""
    if (which is None) != back:
        raise click.UsageError("name a butcher, or take the last change --back")
    who = butchers.named(load_config(config_file), which) if which is not None else None

    def amendment(books: Books, _vocabulary: object, _closing: object) -> list[Body]:
        if who is None:
            return amending.restore_butcher(books, reason)
        return amending.change_butcher(books, who.number, who.name, reason)

    _enter(ledger_file, config_file, amendment)


@amend.command(epilog=example('handsfree amend note 417 "kept two days longer"'))
@click.argument("carcass")
@click.argument("text")
@ledger_option
@config_option
def note(carcass: str, text: str, ledger_file: Path, config_file: Path | None) -> None:
    """Note TEXT about CARCASS."""
    _enter(
        ledger_file,
        config_file,
        lambda books, _v, _c: amending.note(books, _number(books, carcass), text),
    )


@amend.command(epilog=example("handsfree amend close 417 --again"))
@click.argument("carcass")
@click.option("--again", is_flag=True, help="Also when it is closed: the balance is worked out anew.")
@ledger_option
@config_option
def close(carcass: str, again: bool, ledger_file: Path, config_file: Path | None) -> None:
    """Close CARCASS with the balance as it stands now."""
    _enter(
        ledger_file,
        config_file,
        lambda books, _v, closing: amending.close(books, _number(books, carcass), closing, again=again),
    )
