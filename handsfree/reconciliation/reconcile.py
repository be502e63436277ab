"""All that is said of a carcass at its close: balance, verdict and suspects in one."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from handsfree.ledger.books import Carcass
from handsfree.reconciliation.account import Account, account_of
from handsfree.reconciliation.balance import Balance, balance_account
from handsfree.reconciliation.belief import Belief
from handsfree.reconciliation.instruments import PROCESS_UNKNOWN, ProcessLoss, ScaleData
from handsfree.reconciliation.plan import Plan
from handsfree.reconciliation.suspects import Suspect, first_fault, probable, suspects_of
from handsfree.reconciliation.verdict import FALSE_ALARM_RATE, Verdict, verdict_of


@dataclass(frozen=True, slots=True)
class Reconciliation:
    """The outcome for one carcass."""

    balance: Balance
    verdict: Verdict
    suspects: tuple[Suspect, ...]
    """Most probable first; posteriors sum to 1."""
    belief: Belief | None = None
    """What the expected losses and shares rest on; None where they were given from outside."""

    @property
    def suspect(self) -> Suspect | None:
        """The one to name: probable, or the likeliest fault when the balance does not come out."""
        found = probable(self.suspects)
        if found is None and self.verdict.questioned:
            return first_fault(self.suspects)
        return found

    @property
    def questioned(self) -> bool:
        """Whether there is something to look at: by the balance or by the record."""
        return self.verdict.questioned or self.suspect is not None

    def headline(self) -> str:
        """What probably happened, as one sentence; empty when nothing is to be looked at."""
        if self.suspect is None:
            return ""
        how = "Probably" if self.suspect.posterior >= 0.5 else "Perhaps"
        return f"{how} {self.suspect.words}."

    def sentence(self) -> str:
        """The verdict, and what probably happened."""
        return " ".join(part for part in (self.verdict.sentence, self.headline()) if part)

    def spoken(self) -> str:
        """The short form to be said aloud."""
        said = " ".join(part for part in (self.verdict.spoken, self.headline()) if part)
        return said.replace(" kg", " kilograms")


def reconcile(
    carcass: Carcass,
    scales: Mapping[str, ScaleData] | None = None,
    process: ProcessLoss = PROCESS_UNKNOWN,
    plan: Plan | None = None,
    *,
    false_alarm_rate: float = FALSE_ALARM_RATE,
    belief: Belief | None = None,
) -> Reconciliation:
    """Reconcile a carcass as it stands in the ledger's books.

    Args:
        carcass: From `Books`.
        scales: What is known of each instrument by name; defaults stand in for the others.
        process: What cutting and chilling are expected to take.
        plan: The cut plan, None when there is none.
        false_alarm_rate: Share of complete carcasses that the verdict may question.
        belief: What `process` and the plan's shares rest on, to be told with the outcome.
    """
    outcome = reconcile_account(account_of(carcass), scales, process, plan, false_alarm_rate=false_alarm_rate)
    return replace(outcome, belief=belief)


def reconcile_account(
    account: Account,
    scales: Mapping[str, ScaleData] | None = None,
    process: ProcessLoss = PROCESS_UNKNOWN,
    plan: Plan | None = None,
    *,
    false_alarm_rate: float = FALSE_ALARM_RATE,
) -> Reconciliation:
    """Reconcile an account from any origin; as `reconcile`."""
    known = scales if scales is not None else {}
    balance = balance_account(account, known, process, plan)
    verdict = verdict_of(balance, false_alarm_rate)
    return Reconciliation(balance, verdict, suspects_of(balance, known, plan))
