"""Carries decisions into the ledger: what was decided becomes entries, or a refusal in words.

The outcome handed on holds the entries as they are on disk; answers are made from it and from
nothing earlier.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, replace

from handsfree.carcass_in_hand import CarcassFacts, PlanShelf
from handsfree.clock import from_seconds
from handsfree.errors import EntryError
from handsfree.experience import Experience, Schooling
from handsfree.ledger import amending
from handsfree.ledger import entries as e
from handsfree.ledger.bookkeeper import Bookkeeper
from handsfree.ledger.books import Books, Carcass
from handsfree.ledger.posting import Rules, post
from handsfree.pairing.messages import Decision, Instruction, LoadPassed, PieceWeighed, SpeechRefused
from handsfree.reconciliation.instruments import ScaleData
from handsfree.reconciliation.reconcile import Reconciliation
from handsfree.speech.meaning import Verb
from handsfree.speech.vocabulary import Vocabulary
from handsfree.weighing.messages import ScaleEvent


@dataclass(frozen=True, slots=True)
class DeviceTrouble:
    """A trouble of a device other than a scale, or its end."""

    t_ns: int
    device: str
    kind: str
    detail: str = ""


@dataclass(frozen=True, slots=True)
class Outcome:
    """What came of a decision or a trouble."""

    t_ns: int
    cause: Decision | ScaleEvent | DeviceTrouble
    entries: tuple[e.Entry, ...] = ()
    """On disk."""
    refused: str = ""
    """Why nothing was entered, fit to be said aloud; empty when nothing had to be."""
    reconciliation: Reconciliation | None = None
    """At the close of a carcass."""


#: Commands about a carcass that is only now put on the block.
_BEGINS_A_CARCASS = frozenset({Verb.TAG, Verb.DESCRIBE, Verb.DRESSED_WEIGHT, Verb.PLAN})


class Clerk:
    """Writes for one session, and keeps count of what was refused."""

    def __init__(
        self,
        bookkeeper: Bookkeeper,
        vocabulary: Vocabulary,
        plans: PlanShelf,
        *,
        scales: Mapping[str, ScaleData] | None = None,
        schooling: Schooling | None = None,
        butchers: Mapping[int, str] | None = None,
    ) -> None:
        self._bookkeeper = bookkeeper
        self._plans = plans
        self._scales = dict(scales or {})
        self.experience = Experience(bookkeeper.books, plans, schooling)
        self._reconciled: Reconciliation | None = None
        self._began = bookkeeper.books.last_seq + 1
        self._rules = Rules(vocabulary.destination_of, self._closing_of, dict(butchers or {}))
        self.counts: Counter[str] = Counter()
        """Refusals by reason: nothing is dropped without a trace."""

    @property
    def books(self) -> Books:
        """The state on disk."""
        return self._bookkeeper.books

    def begin(
        self,
        opening: e.SessionBegan,
        carcass: CarcassFacts | None = None,
        plan: str = "",
        butcher: e.ButcherChanged | None = None,
    ) -> None:
        """Note the session and who works, and open the carcass that it says was in hand.

        A carcass of the same tag that is still open or parked is taken up again instead.
        """
        self._bookkeeper.write([opening], t_ns=0)
        if butcher is not None and butcher.name != self.books.bench.name:
            self._bookkeeper.write([butcher], t_ns=0)
        if carcass is None:
            if plan and self.books.carcass is not None:
                self._bookkeeper.write(amending.describe(self.books, self._number(), plan=plan), t_ns=0)
            return
        known = self.books.unfinished_by_tag(carcass.tag) if carcass.tag else None
        if known is None:
            self._open(carcass, plan)
        elif known.number != self.books.current:
            self._bookkeeper.write([e.CarcassResumed(known.number)], t_ns=0)

    def _open(self, carcass: CarcassFacts, plan: str) -> None:
        number = self.books.next_number
        self._bookkeeper.write(
            [
                e.CarcassOpened(number, carcass.tag, plan or self._plans.default),
                e.CarcassDescribed(
                    number,
                    species=carcass.species or None,
                    sex=carcass.sex or None,
                    skin=carcass.skin or None,
                    hot_or_cold=carcass.hot_or_cold or None,
                ),
            ],
            t_ns=0,
        )
        if carcass.dressed_kg is not None:
            why = "given before the session began"
            bodies = amending.weigh_dressed(self.books, number, str(carcass.dressed_kg), why)
            self._bookkeeper.write(bodies, t_ns=0)

    def carry_out(self, decision: Decision) -> Outcome:
        """Enter what follows from a decision.

        Raises:
            LedgerError: The ledger cannot be written; nothing of this decision was.
        """
        match decision:
            case SpeechRefused():
                self.counts[decision.why] += 1
                return Outcome(decision.t_ns, decision)
            case LoadPassed():
                self.counts[decision.reason.value] += 1
                return Outcome(decision.t_ns, decision)
            case Instruction() if self._is_fresh(decision):
                return Outcome(decision.t_ns, decision)
        self._reconciled = None
        try:
            bodies = self._bodies(decision)
            entries = tuple(self._bookkeeper.write(bodies, t_ns=decision.t_ns)) if bodies else ()
        except EntryError as error:
            self.counts[error.what] += 1
            return Outcome(decision.t_ns, decision, refused=error.what)
        return Outcome(decision.t_ns, decision, entries, reconciliation=self._reconciled)

    def note_trouble(self, trouble: ScaleEvent | DeviceTrouble) -> Outcome:
        """Enter a device trouble or its end: weights or calls may be missing between the two."""
        device = trouble.scale if isinstance(trouble, ScaleEvent) else trouble.device
        kind = trouble.kind.value if isinstance(trouble, ScaleEvent) else trouble.kind
        body = e.TroubleNoted(device, kind, trouble.detail)
        return Outcome(trouble.t_ns, trouble, tuple(self._bookkeeper.write([body], t_ns=trouble.t_ns)))

    def end(self, t_ns: int, reason: str) -> None:
        """Note that the session ended in order, with the counts of what it refused."""
        self._bookkeeper.write([e.SessionEnded(reason, dict(sorted(self.counts.items())))], t_ns=t_ns)

    def reconciliation_of(self, carcass: Carcass) -> Reconciliation:
        """The balance of a carcass as it stands."""
        return self.experience.reconcile(carcass, self._scales)

    def _closing_of(self, carcass: Carcass) -> e.CarcassClosed:
        self._reconciled = found = self.reconciliation_of(carcass)
        return self.experience.closing_of(carcass, found)

    def _bodies(self, decision: Decision) -> list[e.Body]:
        in_hand = self.books.carcass is not None
        if isinstance(decision, Instruction) and decision.command.verb in _BEGINS_A_CARCASS and not in_hand:
            return self._begun_with(decision)
        bodies = [self._planned(body) for body in post(decision, self.books, self._rules)]
        if isinstance(decision, PieceWeighed):
            by = self.books.bench.name_at(_begun_ns(decision), began=self._began)
            bodies = [replace(body, by=by) if isinstance(body, e.PieceEntered) else body for body in bodies]
        return bodies

    def _begun_with(self, instruction: Instruction) -> list[e.Body]:
        """A tag, a species or a dressed weight with no carcass in hand begins one.

        "new carcass" was not heard, or not said.
        """
        plan = instruction.command.plan
        opened = e.CarcassOpened(self.books.next_number, plan=plan or self._plans.default)
        if plan:  # it is cut to this plan from the first
            return [opened]
        trial = self.books.fork()
        trial.apply(e.Entry(trial.last_seq + 1, "", "", instruction.t_ns, opened, "", ""))
        return [opened, *post(instruction, trial, self._rules)]

    def _planned(self, body: e.Body) -> e.Body:
        """A new carcass with its plan, which a later default must not change."""
        return replace(body, plan=self._plans.default) if isinstance(body, e.CarcassOpened) else body

    def _is_fresh(self, instruction: Instruction) -> bool:
        """Whether "new carcass" was said with an untouched carcass in hand: it is that one.

        So neither a command heard twice nor a carcass named in `session.toml` leaves an empty
        carcass behind.
        """
        carcass = self.books.carcass
        untouched = carcass is not None and not carcass.pieces and not carcass.unweighed
        return instruction.command.verb is Verb.NEW_CARCASS and untouched

    def _number(self) -> int:
        assert self.books.carcass is not None
        return self.books.carcass.number


def _begun_ns(weighed: PieceWeighed) -> int:
    """When the piece was called or laid, whichever came first: whoever was at the bench then cut it."""
    if weighed.change is None:
        return weighed.t_ns
    return weighed.change.onset_ns + from_seconds(min(0.0, weighed.lag_s or 0.0))
