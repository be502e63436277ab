"""Reading the ledger with clean hands, and correcting it: carcasses, sheets, amendments."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from types import TracebackType
from typing import Self

from handsfree import __version__
from handsfree.carcass_in_hand import PlanShelf
from handsfree.config import Config
from handsfree.errors import EntryError
from handsfree.experience import Experience
from handsfree.ledger.bookkeeper import Bookkeeper
from handsfree.ledger.books import Books, Carcass, Piece, open_books
from handsfree.ledger.digest import rfc3339
from handsfree.ledger.entries import Body, CarcassClosed, Entry, SessionBegan
from handsfree.ledger.ports import Verification
from handsfree.ledger.sqlite_store import open_ledger, read_ledger
from handsfree.reconciliation.reconcile import Reconciliation
from handsfree.reporting.files import write_text
from handsfree.reporting.making import sheet_of
from handsfree.reporting.reconciled import figures_of
from handsfree.reporting.sheet import Sheet
from handsfree.speech.vocabulary import Vocabulary
from handsfree.wiring import scales, words
from handsfree.wiring.schooling import schooling


class Shelf:
    """A ledger open to be read. Closed carcasses are looked up when asked for, so it opens at once.

    Args:
        ledger: The ledger file.

    Raises:
        LedgerError: It cannot be read, or an entry is not as it was written.
    """

    def __init__(self, ledger: Path) -> None:
        self._store = read_ledger(ledger)
        try:
            self.books = open_books(self._store)
            self.last_seq, self.digest = self._store.last()
        except BaseException:
            self._store.close()
            raise

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._store.close()

    def carcasses(self, closed: int) -> list[Carcass]:
        """The unfinished carcasses and the last `closed` closed ones, oldest first."""
        numbers = {*self.books.carcasses, *self._store.closed(closed)}
        found = (self.books.by_number(number) for number in sorted(numbers))
        return [carcass for carcass in found if carcass is not None]

    def find(self, which: str = "") -> Carcass:
        """A carcass by tag ("417") or by number ("#3"); the newest when nothing is given.

        Raises:
            EntryError: There is no such carcass.
        """
        if not which and not self.books.last_number:
            raise EntryError("there is no carcass in this ledger yet", next_step="record or replay one first")
        number = which.removeprefix("#") if which else str(self.books.last_number)
        if (which.startswith("#") or not which) and number.isdecimal():
            found = self.books.by_number(int(number))
        else:
            found = self.books.unfinished_by_tag(which) or self.books.by_tag(which)
        if found is None:
            raise EntryError(
                f"there is no carcass {which} in this ledger",
                next_step="give its tag, or its number with a # before it; `handsfree carcasses` lists them",
            )
        return found

    def piece(self, seq: int) -> tuple[Piece, list[Entry]]:
        """Piece `seq` as it stands, and every entry about its carcass.

        Raises:
            EntryError: Entry `seq` is no piece.
        """
        piece = self.books.piece(seq)
        return piece, list(self._store.entries_of(piece.entered.carcass))


def verify(ledger: Path) -> Verification:
    """Check the whole digest chain.

    Raises:
        LedgerTamperedError: Names the first bad entry.
        LedgerError: It cannot be read.
    """
    store = read_ledger(ledger)
    try:
        return store.verify()
    finally:
        store.close()


def reconciliation(books: Books, carcass: Carcass, config: Config) -> Reconciliation:
    """The balance of a carcass as the books stand, with what was believed at its close."""
    return experience(books, config).reconcile(carcass, scales.scale_data(config.scales))


def experience(books: Books, config: Config) -> Experience:
    """What the larder's closed carcasses have taught, by its settings."""
    vocabulary = words.vocabulary(config)
    plans = PlanShelf(vocabulary, config.speech.plan)
    return Experience(books, plans, schooling(config, vocabulary, plans.default))


def sheet(shelf: Shelf, carcass: Carcass, config: Config) -> Sheet:
    """The carcass sheet as the books stand, in this machine's time zone."""
    return sheet_of(
        carcass,
        figures_of(reconciliation(shelf.books, carcass, config)),
        larder=config.larder.name,
        zone=datetime.now(UTC).astimezone().tzinfo or UTC,
        last_seq=shelf.last_seq,
        digest=shelf.digest,
    )


def save(file: Path, text: str) -> Path:
    """Write a report whole or not at all; the absolute path written.

    Raises:
        ReportError: It cannot be written; an older file is still there.
    """
    return write_text(file, text)


Amendment = Callable[[Books, Vocabulary, Callable[[Carcass], CarcassClosed]], list[Body]]
"""Makes the bodies of a correction from the books, the vocabulary and the way to close a carcass."""


def amend(ledger: Path, config: Config, amendment: Amendment) -> list[Entry]:
    """Enter a typed correction; nothing already written changes.

    Raises:
        EntryError: It makes no sense as the books stand; nothing was entered.
        LedgerError: The ledger cannot be written; nothing was entered.
    """
    vocabulary = words.vocabulary(config)

    def closing_of(carcass: Carcass) -> CarcassClosed:
        learned = experience(books, config)
        found = learned.reconcile(carcass, scales.scale_data(config.scales), afresh=True)
        return learned.closing_of(carcass, found)

    read_ledger(ledger).close()  # a correction to a ledger that is not there is a slip of the path
    store = open_ledger(ledger)
    try:
        books = open_books(store)
        now = datetime.now(UTC)
        keeper = Bookkeeper(store, books, session=f"amend {rfc3339(now)}", started_at=now)
        began = SessionBegan(f"handsfree {__version__}", "amend", started_at=rfc3339(now))
        return keeper.write([began, *amendment(books, vocabulary, closing_of)], t_ns=0)[1:]
    finally:
        store.close()
