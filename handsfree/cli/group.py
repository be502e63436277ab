"""The `handsfree` command: verbs that call the wiring and print. No traceback reaches the block."""

from __future__ import annotations

import sys

import click

from handsfree import __version__
from handsfree.cli import (
    board,
    books,
    machine,
    plumbing,
    rehearsals,
    scale,
    season,
    sessions,
    shares,
    voices,
    words,
)
from handsfree.errors import HandsfreeError


class Verbs(click.Group):
    """A group that prints the recorder's errors as sentences, and keeps its verbs in working order."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """The verbs in the order of the work, not of the alphabet."""
        return list(self.commands)


@click.group(cls=Verbs, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(__version__, prog_name="handsfree")
def group() -> None:
    """Offline voice-and-scale recorder for a game larder.

    Hears the cut, reads the scale, writes the entry, answers aloud, and at the end of the carcass
    holds the pieces against the dressed weight.

    Example: handsfree demo
    """


for _module in (sessions, board, books, season, shares, words, voices, rehearsals, plumbing, scale, machine):
    for _verb in _module.VERBS:
        group.add_command(_verb)


def main() -> None:
    """Run the command line; exit 0 when all is well, 1 when something failed, 2 on wrong usage."""
    try:
        code = group(standalone_mode=False)
    except click.exceptions.Abort:
        click.echo("Stopped.", err=True)
        sys.exit(1)
    except click.ClickException as error:
        error.show()
        sys.exit(error.exit_code)
    except HandsfreeError as error:
        click.echo(str(error), err=True)
        sys.exit(1)
    except BrokenPipeError:
        # The reader of our output (head, less) has gone; nothing is lost.
        sys.stderr.close()
        sys.exit(0)
    # Without standalone mode an early exit comes back as its code.
    if isinstance(code, int):
        sys.exit(code)
