"""What is answered to an outcome: sayings made from entries already on disk."""

from __future__ import annotations

import re
from collections import deque
from collections.abc import Callable

from handsfree.answering import enquiries
from handsfree.answering.messages import Length, Manner, Saying
from handsfree.answering.sayings import saying_of
from handsfree.carcass_in_hand import PlanShelf
from handsfree.clerk import Outcome
from handsfree.ledger.books import Books
from handsfree.pairing.messages import (
    NO_CARCASS,
    Instruction,
    LoadPassed,
    PassingReason,
    Question,
    SpeechRefused,
    TrayWithdrawn,
)
from handsfree.speech.meaning import Verb

_REMEMBERED = 8
"""Answers remembered for `words_said`: more than can wait to be spoken."""


class Replies:
    """Makes the sayings of one session.

    Args:
        books: The state on disk, kept level by the clerk.
        plans: For "what remains".
        manner: How much is said, and how.
    """

    def __init__(self, books: Books, plans: PlanShelf, manner: Manner | Length = Length.SHORT) -> None:
        self._books = books
        self._plans = plans
        self._said: deque[tuple[int, str]] = deque(maxlen=_REMEMBERED)
        self._manner = manner = Manner(manner) if isinstance(manner, Length) else manner
        self._enquiries: dict[Verb, Callable[[], Saying]] = {
            Verb.READ_BACK: lambda: enquiries.read_back(books, manner),
            Verb.TOTAL: lambda: enquiries.total(books, in_grams=manner.in_grams),
            Verb.WHAT_REMAINS: self._what_remains,
            Verb.REST: enquiries.resting,
            Verb.WAKE: enquiries.awake,
        }

    def to(self, outcome: Outcome) -> list[Saying]:
        """The sayings for one outcome, in order; often none. They count as said from then on."""
        sayings = self._to(outcome)
        self._said.extend((outcome.t_ns, saying.text) for saying in sayings)
        return sayings

    def words_said(self, since_ns: int) -> list[frozenset[str]]:
        """The words of each answer since then, as far back as the last few."""
        return [
            frozenset(re.findall(r"[a-z']+", text.lower())) for t_ns, text in self._said if t_ns >= since_ns
        ]

    def _to(self, outcome: Outcome) -> list[Saying]:
        if outcome.refused:
            return [enquiries.refused(outcome.refused)]
        if isinstance(outcome.cause, SpeechRefused) and outcome.cause.why == NO_CARCASS:
            return [enquiries.no_carcass()]
        if isinstance(outcome.cause, LoadPassed):
            known = outcome.cause.reason is PassingReason.KNOWN_TRAY
            return [enquiries.tray_put_back()] if known else []
        if isinstance(outcome.cause, TrayWithdrawn):
            return []  # the piece that it was is read back
        if isinstance(outcome.cause, Question):
            return [enquiries.question(outcome.cause, self._books, in_grams=self._manner.in_grams)]
        verdict = outcome.reconciliation.spoken() if outcome.reconciliation else ""
        sayings = [saying_of(entry, self._books, self._manner, verdict=verdict) for entry in outcome.entries]
        if isinstance(outcome.cause, Instruction) and not outcome.entries:
            enquiry = self._enquiries.get(outcome.cause.command.verb)
            sayings.append(enquiry() if enquiry else None)
        return [saying for saying in sayings if saying is not None]

    def _what_remains(self) -> Saying:
        carcass = self._books.carcass
        if carcass is None:
            return enquiries.no_carcass()
        if self._plans.plan_of(carcass) is None:
            return enquiries.what_remains(None)
        return enquiries.what_remains([item.words() for item in self._plans.remaining(carcass)])
