"""Joins the stages of one session to its ledger: the same for a live session and a replay."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime

from handsfree import __version__
from handsfree.answering.messages import Length, Manner, ReadBack
from handsfree.carcass_in_hand import BooksInHand, CarcassFacts, PlanShelf, lags_s
from handsfree.clerk import Clerk
from handsfree.config import Config, ScaleSettings
from handsfree.ledger.bookkeeper import Bookkeeper
from handsfree.ledger.books import Books, open_books
from handsfree.ledger.digest import rfc3339
from handsfree.ledger.entries import ButcherChanged, SessionBegan
from handsfree.ledger.ports import LedgerStore
from handsfree.pairing.pairing import Pairing
from handsfree.recorder import Recorder
from handsfree.replying import Replies
from handsfree.speech.hearing import Listener
from handsfree.speech.messages import Utterance
from handsfree.speech.vocabulary import Vocabulary
from handsfree.wiring import butchers
from handsfree.wiring import scales as scales_wiring
from handsfree.wiring.schooling import schooling

#: The butcher's rhythm is learned from this many carcasses closed last: a season's habits, not a lifetime's.
_CARCASSES_OF_HABIT = 10


@dataclass(frozen=True, slots=True)
class Workplace:
    """The stages of one session, joined."""

    books: Books
    plans: PlanShelf
    clerk: Clerk
    recorder: Recorder
    replies: Replies


@dataclass(frozen=True, slots=True)
class Occasion:
    """Which session it is."""

    source: str
    """"live", "replay" or "typed"."""
    started_at: datetime
    engine: str
    carcass: CarcassFacts | None = None
    plan: str = ""
    butcher: str = ""
    """Who works, by number or name; "none" for nobody, empty for whom the ledger has at the bench."""

    @property
    def session(self) -> str:
        """The session's identifier in the ledger."""
        return f"{self.source} {rfc3339(self.started_at)}"


def workplace(
    config: Config,
    store: LedgerStore,
    vocabulary: Vocabulary,
    occasion: Occasion,
    *,
    scales: Mapping[str, ScaleSettings],
    listener: Listener | None = None,
    overheard: Callable[[Utterance], None] = lambda _utterance: None,
) -> Workplace:
    """The stages over a ledger, with the session's beginning already entered.

    Raises:
        ConfigError: The plan of the settings is not on the cut list, or nobody has the butcher's number.
        LedgerError: The ledger cannot be read or written.
    """
    books = open_books(store)
    plans = PlanShelf(vocabulary, occasion.plan or config.speech.plan)
    clerk = Clerk(
        Bookkeeper(store, books, session=occasion.session, started_at=occasion.started_at),
        vocabulary,
        plans,
        scales=scales_wiring.scale_data(scales),
        schooling=schooling(config, vocabulary, plans.default),
        butchers=config.butchers,
    )
    pairing_settings = replace(
        scales_wiring.pairing_settings(scales),
        questions=config.answers.questions,
        go_over=config.answers.go_over,
    )
    lags = lags_s(books, store.closed(_CARCASSES_OF_HABIT))
    learned = clerk.experience.taught().shares
    replies = Replies(books, plans, manner(config, vocabulary))
    recorder = Recorder(
        clerk,
        Pairing(BooksInHand(books, plans, vocabulary, learned), pairing_settings, lags),
        vocabulary,
        listener=listener,
        weigher_for=scales_wiring.weigher_for(scales),
        carcass_scales=pairing_settings.carcass_scales,
        overheard=overheard,
        words_said=replies.words_said,
    )
    began = SessionBegan(
        program=f"handsfree {__version__}",
        source=occasion.source,
        engine=occasion.engine,
        started_at=rfc3339(occasion.started_at),
    )
    clerk.begin(began, occasion.carcass, occasion.plan, _butcher(config, occasion))
    recorder.tune()
    return Workplace(books, plans, clerk, recorder, replies)


def _butcher(config: Config, occasion: Occasion) -> ButcherChanged | None:
    if not occasion.butcher:
        return None
    who = butchers.named(config, occasion.butcher)
    return ButcherChanged(who.number, who.name, reason="named when the session began")


def manner(config: Config, vocabulary: Vocabulary) -> Manner:
    """How the recorder speaks, by the settings and the words of the trade."""
    answers, cuts = config.answers, vocabulary.cutlist.cuts
    return Manner(
        Length(answers.length),
        ReadBack(answers.read_back),
        in_grams=answers.numbers == "grams",
        usual_destinations={cut.name: cut.destination for cut in cuts},
    )
