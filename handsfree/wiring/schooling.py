"""What a larder believes before its own carcasses teach it, by its settings."""

from __future__ import annotations

from datetime import UTC, date, datetime, time

from handsfree.carcass_in_hand import PlanShelf
from handsfree.config import Config
from handsfree.experience import Schooling
from handsfree.ledger.digest import rfc3339
from handsfree.reconciliation.shares import Prior
from handsfree.speech.vocabulary import Vocabulary
from handsfree.wiring import scales


def schooling(config: Config, vocabulary: Vocabulary, default_plan: str = "") -> Schooling:
    """What is believed before any carcass of the larder's own, and which of these teach."""
    return Schooling(
        scales.process_loss(config),
        priors(vocabulary, default_plan or config.speech.plan),
        config.larder.learn,
        moment(config.larder.learn_from),
    )


def moment(since: date | None) -> str:
    """A day or moment of the settings as the ledger writes times; empty for none. UTC unless told."""
    if since is None:
        return ""
    if not isinstance(since, datetime):
        since = datetime.combine(since, time())
    return rfc3339(since if since.tzinfo is not None else since.replace(tzinfo=UTC))


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
