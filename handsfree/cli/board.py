"""The verb `board`: the ledger on a screen."""

from __future__ import annotations

import signal
import threading
from pathlib import Path
from types import FrameType

import click

from handsfree.cli.common import config_option, example, ledger_option
from handsfree.config import load_config
from handsfree.wiring import board as board_wiring


@click.command(epilog=example("handsfree board --port 8080"))
@ledger_option
@config_option
@click.option(
    "--port", type=click.IntRange(0, 65535), default=8080, show_default=True, help="Port; 0 takes a free one."
)
@click.option(
    "--host",
    default="127.0.0.1",
    show_default=True,
    help="Address of this machine to serve on; others on the network can read what is served there.",
)
def board(ledger_file: Path, config_file: Path | None, port: int, host: str) -> None:
    """Show the carcass in hand on a screen, to be read from the block. Ctrl-C ends it.

    It reads the ledger and changes nothing. Questions are seen only on the board of the session
    itself: `handsfree record --board 8080`.
    """
    stop = threading.Event()

    def end(_signal: int, _frame: FrameType | None) -> None:
        stop.set()

    for number in (signal.SIGINT, signal.SIGTERM):
        signal.signal(number, end)
    board_wiring.serve(
        ledger_file,
        load_config(config_file),
        host=host,
        port=port,
        stop=stop,
        ready=lambda address: click.echo(f"The board is at {address}"),
    )


VERBS: tuple[click.Command, ...] = (board,)
