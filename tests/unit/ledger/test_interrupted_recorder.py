from __future__ import annotations

import signal
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path
from random import Random

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
                    signal.setitimer(signal.ITIMER_VIRTUAL, random.uniform(0.0002, 0.004))
                    while True:
                        answered += keeper.write([piece(1, "neck", 1000), e.NoteMade(1, "x")], t_ns=0)
                except KeyboardInterrupt:
                    pass
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
