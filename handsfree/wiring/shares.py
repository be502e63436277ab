"""What the larder's own ledger teaches about its shares and its cutting loss."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from handsfree.carcass_in_hand import PlanShelf
from handsfree.config import Config
from handsfree.ledger.books import Books
from handsfree.ledger.ports import LedgerStore
from handsfree.reconciliation.instruments import ProcessLoss
from handsfree.reconciliation.learning import Share, loss_after
from handsfree.reconciliation.shares import Kind, Prior, cutting_losses, shares_of, teaches
from handsfree.speech.vocabulary import Vocabulary
from handsfree.wiring import scales, words
from handsfree.wiring.bookshelf import Shelf

#: A session begins with the shares of this many carcasses closed last: reading more takes too long.
_CARCASSES_OF_SHARES = 40


@dataclass(frozen=True, slots=True)
class Learned:
    """What was learned, and from how many carcasses."""

    shares: dict[Kind, Share]
    process: ProcessLoss
    carcasses: int
    """Carcasses that were learned from."""
    passed_over: int
    """Closed carcasses that were not, because something about them is in doubt."""


def learned(ledger: Path, config: Config, *, since: str = "", last: int = 500) -> Learned:
    """Learn from the last closed carcasses of a ledger; nothing is written.

    Args:
        ledger: The ledger file.
        config: For the cut list and the way of cutting.
        since: RFC 3339 UTC time or date from which learning begins; empty for all.
        last: How many closed carcasses are looked at.

    Raises:
        LedgerError: The ledger cannot be read.
        GrammarError: The cut list has faults.
    """
    vocabulary, process = words.vocabulary(config), scales.process_loss(config)
    with Shelf(ledger) as shelf:
        closed = [carcass for carcass in shelf.carcasses(last) if carcass.closing is not None]
    teaching = [carcass for carcass in closed if teaches(carcass, since)]
    shares = shares_of(teaching, priors(vocabulary, config.speech.plan))
    losses = cutting_losses(teaching, process)
    return Learned(shares, loss_after(process, losses), len(teaching), len(closed) - len(teaching))


def of_history(
    books: Books, store: LedgerStore, vocabulary: Vocabulary, default_plan: str = ""
) -> dict[Kind, Share]:
    """The shares of the carcasses closed last, for a session that begins."""
    found = (books.by_number(number) for number in store.closed(_CARCASSES_OF_SHARES))
    closed = (carcass for carcass in found if carcass is not None)
    return shares_of(closed, priors(vocabulary, default_plan))


def priors(vocabulary: Vocabulary, default_plan: str = "") -> dict[tuple[str, str], Prior]:
    """Published or judged shares by plan and cut: the plan's own where it has one, else the cut's.

    A carcass without a plan takes the default's.
    """
    found: dict[tuple[str, str], Prior] = {}
    default = PlanShelf(vocabulary, default_plan).default
    for name in ["", *vocabulary.plan_names()]:
        for cut in vocabulary.cutlist.cuts:
            if cut.share is not None:
                found[name, cut.name] = Prior(cut.share, cut.spread, cut.source)
        if not (name or default):
            continue
        for piece in vocabulary.plan(name or default).pieces:
            if piece.share is not None:
                found[name, piece.cut] = Prior(piece.share / piece.count, piece.spread, piece.source)
    return found
