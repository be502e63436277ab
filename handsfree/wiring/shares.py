"""What the larder's own ledger teaches, shown and forgotten."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, timedelta
from pathlib import Path

from handsfree.carcass_in_hand import PlanShelf
from handsfree.config import Config
from handsfree.config_writing import write_setting
from handsfree.experience import Experience, Taught
from handsfree.wiring import words
from handsfree.wiring.bookshelf import Shelf
from handsfree.wiring.schooling import moment, schooling


def taught(ledger: Path, config: Config, *, since: date | None = None, last: int | None = None) -> Taught:
    """What the last closed carcasses of a ledger teach; nothing is written.

    Args:
        ledger: The ledger file.
        config: For the cut list, the way of cutting and from when on learning counts.
        since: Learn from this day on instead of the settings'.
        last: How many closed carcasses are looked at; None: as many as a session looks at.

    Raises:
        LedgerError: The ledger cannot be read.
        GrammarError: The cut list has faults.
    """
    vocabulary = words.vocabulary(config)
    begin = schooling(config, vocabulary)
    begin = replace(begin, since=moment(since) or begin.since, last=last or begin.last)
    with Shelf(ledger) as shelf:
        return Experience(shelf.books, PlanShelf(vocabulary, config.speech.plan), begin).taught()


def forget(file: Path, now: datetime) -> str:
    """Let learning begin at the next whole second: the settings' `learn_from`, as the ledger writes times.

    The ledger is not touched.

    Raises:
        ConfigError: The settings cannot be written; they are as they were.
    """
    begin = now.replace(microsecond=0) + timedelta(seconds=1)
    write_setting(file, "larder", "learn_from", begin)
    return moment(begin)
