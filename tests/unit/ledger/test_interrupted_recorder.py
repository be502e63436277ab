from __future__ import annotations

import signal
import sys
from collections.abc import Callable
from contextlib import closing
from datetime import UTC, datetime
from itertools import count
from pathlib import Path
from random import Random
from types import FrameType
from typing import Any

from handsfree.ledger import entries as e
from handsfree.ledger.bookkeeper import Bookkeeper
from handsfree.ledger.books import Books
from handsfree.ledger.sqlite_store import open_ledger
from handsfree.testing.ledger_entries import piece

INTERRUPTS = 12


def test_an_interrupt_at_any_instant_leaves_ledger_and_books_level_and_the_next_entry_follows(
    tmp_path: Path,
) -> None:
    def interrupt(*_: object) -> None:
        raise KeyboardInterrupt

    random = Random(1)
    answered: list[e.Entry] = []
    # The timer counts this process's own time: it strikes inside the work, not inside the disk.
    before = signal.signal(signal.SIGVTALRM, interrupt)
    try:
        with closing(open_ledger(tmp_path / "ledger.db")) as store:
            started = datetime(2026, 1, 31, tzinfo=UTC)
            keeper = Bookkeeper(store, Books(), session="s", started_at=started)
            keeper.write([e.CarcassOpened(1)], t_ns=0)
            for _ in range(INTERRUPTS):
                try:
                    # Again after 50 ms: one that strikes inside a finaliser is swallowed there.
                    signal.setitimer(signal.ITIMER_VIRTUAL, random.uniform(0.0002, 0.004), 0.05)
                    while True:
                        answered += keeper.write([piece(1, "neck", 1000), e.NoteMade(1, "x")], t_ns=0)
                except KeyboardInterrupt:
                    signal.setitimer(signal.ITIMER_VIRTUAL, 0)
                answered += keeper.write([e.NoteMade(1, "after the interrupt")], t_ns=0)
                assert keeper.books.last_seq == store.last()[0]
            entries = list(store.entries())
            assert store.verify().count == len(entries)
    finally:
        signal.setitimer(signal.ITIMER_VIRTUAL, 0)
        signal.signal(signal.SIGVTALRM, before)
    by_seq = {entry.seq: entry for entry in entries}
    assert all(by_seq[entry.seq] == entry for entry in answered)
    assert Books(entries).carcasses == keeper.books.carcasses


def striking(after: int) -> Callable[[FrameType, str, Any], Any]:
    """A trace function that interrupts at the so-many-th line of the store or of what it runs on."""
    left = after

    def trace(frame: FrameType, event: str, _arg: Any) -> Any:
        nonlocal left
        if not frame.f_code.co_filename.endswith(
            ("sqlite_store.py", "contextlib.py", "sqlite_errors.py", "db.py")
        ):
            return None
        if event == "line":
            left -= 1
            if left == 0:
                sys.settrace(None)
                raise KeyboardInterrupt
        return trace

    return trace


def test_an_interrupt_at_every_single_line_of_an_append_leaves_it_whole_or_undone(tmp_path: Path) -> None:
    started = datetime(2026, 1, 31, tzinfo=UTC)
    before = sys.gettrace()
    struck = 0
    with closing(open_ledger(tmp_path / "ledger.db")) as store:
        keeper = Bookkeeper(store, Books(), session="s", started_at=started)
        keeper.write([e.CarcassOpened(1)], t_ns=0)
        for line in count(1):
            seq = store.last()[0]
            try:
                sys.settrace(striking(line))
                keeper.write([piece(1, "neck", 1000), e.NoteMade(1, "x")], t_ns=0)
                break  # it was over before the line was reached
            except KeyboardInterrupt:
                struck += 1
            finally:
                sys.settrace(before)
            assert store.last()[0] in {seq, seq + 2}
            keeper.write([e.NoteMade(1, f"after line {line}")], t_ns=0)
            assert keeper.books.last_seq == store.last()[0]
        assert struck > 20
        entries = list(store.entries())
        assert store.verify().count == len(entries)
    assert Books(entries).carcasses == keeper.books.carcasses
