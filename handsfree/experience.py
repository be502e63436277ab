"""What the larder's own carcasses have taught, and the one way to reconcile a carcass with it.

The close, the sheet and every other place that tells of a balance go through `Experience.reconcile`:
a closed carcass is held against what was believed at its close, an open one against what is now.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from handsfree.carcass_in_hand import PlanShelf, with_containers
from handsfree.ledger.books import Books
from handsfree.ledger.carcass import Carcass, CarcassState
from handsfree.ledger.entries import CarcassClosed
from handsfree.reconciliation.belief import Belief, UsualShare, belief_from_records, belief_to_records
from handsfree.reconciliation.instruments import PROCESS_UNKNOWN, ProcessLoss, ScaleData
from handsfree.reconciliation.learning import LEAST_LEARNED_SPREAD, Share, loss_after
from handsfree.reconciliation.reconcile import Reconciliation, reconcile
from handsfree.reconciliation.shares import (
    ANY,
    Kind,
    Prior,
    chilling_losses,
    cutting_losses,
    shares_of,
    teaches,
    usual_share,
)

#: Learned from are the carcasses closed last, so many: a season's habits, and a ledger of ten years
#: opens as fast as a new one.
CARCASSES_LOOKED_AT = 40


@dataclass(frozen=True, slots=True)
class Schooling:
    """What is believed before any carcass of the larder's own, and from when on these teach."""

    process: ProcessLoss = PROCESS_UNKNOWN
    priors: Mapping[tuple[str, str], Prior] = field(default_factory=dict)
    """Shares by plan and cut."""
    learn: bool = True
    since: str = ""
    """RFC 3339 UTC time from which learning begins; empty for all there are."""
    last: int = CARCASSES_LOOKED_AT


@dataclass(frozen=True, slots=True)
class Taught:
    """What carcasses closed so far have taught."""

    shares: Mapping[Kind, Share]
    process: ProcessLoss
    carcasses: int
    """Carcasses that were learned from."""
    passed_over: int
    """Closed carcasses that were not, because something about them is in doubt."""


class Experience:
    """The larder's experience over its books.

    Args:
        books: The state on disk; closed carcasses are looked up in their history.
        plans: The cut plans.
        schooling: What it begins with.
    """

    def __init__(self, books: Books, plans: PlanShelf, schooling: Schooling | None = None) -> None:
        self._books = books
        self._plans = plans
        self._schooling = schooling if schooling is not None else Schooling()

    def taught(self, but_not: int | None = None) -> Taught:
        """What the carcasses closed last have taught, as the ledger stands now.

        Args:
            but_not: Number of a carcass that is not to teach about itself.
        """
        schooling = self._schooling
        closed = self._closed(but_not) if schooling.learn else []
        teaching = [carcass for carcass in closed if teaches(carcass, schooling.since)]
        process = loss_after(schooling.process, cutting_losses(teaching, schooling.process))
        process = loss_after(process, (), chilling_losses(teaching, process))
        shares = shares_of(teaching, schooling.priors)
        return Taught(shares, process, len(teaching), len(closed) - len(teaching))

    def belief_about(self, carcass: Carcass, *, afresh: bool = False) -> Belief:
        """What this carcass is held against: kept at its close, else as the ledger stands now.

        Args:
            carcass: From the books.
            afresh: It is being closed again: what was kept does not count.
        """
        if carcass.closing is not None and not afresh:
            # Closings older than the field rested on the figures that came with the recorder.
            return belief_from_records(carcass.closing.believed) or Belief(self._schooling.process)
        taught = self.taught(but_not=carcass.number)
        cuts = dict.fromkeys(kind.cut for kind in taught.shares)
        kind = (carcass.plan, carcass.species, carcass.sex)
        found = {cut: usual_share(taught.shares, *kind, cut) for cut in cuts}
        return Belief(
            taught.process, {cut: _usual(share) for cut, share in found.items() if share is not None}
        )

    def reconcile(
        self, carcass: Carcass, scales: Mapping[str, ScaleData], *, afresh: bool = False
    ) -> Reconciliation:
        """The balance of a carcass as the books stand; `afresh` as for `belief_about`.

        Args:
            carcass: From the books.
            scales: What is known of each instrument, by name.
            afresh: It is being closed again.
        """
        belief = self.belief_about(carcass, afresh=afresh)
        plan = self._plans.plan_of(carcass)
        known = with_containers(scales, self._books, carcass)
        told = carcass.closing is None or afresh or bool(carcass.closing.believed)
        return reconcile(
            carcass,
            known,
            belief.process,
            belief.planned(plan) if plan is not None else None,
            belief=belief if told else None,
        )

    def closing_of(self, carcass: Carcass, outcome: Reconciliation) -> CarcassClosed:
        """The closing entry of a carcass just reconciled, with its suspect and what was believed."""
        belief = outcome.belief
        return CarcassClosed(
            carcass=carcass.number,
            verdict=outcome.verdict.kind.value,
            sentence=outcome.sentence(),
            unaccounted_mg=outcome.balance.unaccounted_mg,
            expanded_u_mg=outcome.verdict.expanded_u_mg,
            suspect=outcome.suspect.kind.value if outcome.suspect is not None else "",
            believed=belief_to_records(belief) if belief is not None else (),
        )

    def _closed(self, but_not: int | None) -> list[Carcass]:
        """The carcasses closed last, the oldest first."""
        history = self._books.history
        numbers = (
            history.closed(self._schooling.last + 1)
            if history is not None
            else sorted(self._books.carcasses, reverse=True)
        )
        found = (self._books.by_number(number) for number in numbers if number != but_not)
        closed = [each for each in found if each is not None and each.state is CarcassState.CLOSED]
        return closed[: self._schooling.last][::-1]


def _usual(share: Share) -> UsualShare:
    of = "any species" if share.species == ANY else share.species
    of += f" {share.sex}" if share.sex not in ("", ANY) else ""
    spread = max(share.spread, LEAST_LEARNED_SPREAD)
    return UsualShare(share.median, spread, share.log_share.seen, of)
