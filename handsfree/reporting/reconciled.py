"""Takes the sheet's figures out of a reconciliation."""

from __future__ import annotations

from handsfree.reconciliation.reconcile import Reconciliation
from handsfree.reporting.figures import BalanceFigures, BudgetLine, SuspectLine

#: Suspects less probable than this are not put on paper, and never more than this many.
LEAST_SHOWN = 0.02
MOST_SHOWN = 4


def figures_of(reconciliation: Reconciliation) -> BalanceFigures | None:
    """The figures for the sheet; None without a dressed weight: there is nothing to balance.

    Suspects are listed when the balance or the record gives something to look at.
    """
    balance, verdict = reconciliation.balance, reconciliation.verdict
    if balance.dressed_mg is None or balance.unaccounted_mg is None or verdict.expanded_u_mg is None:
        return None
    suspects = [one for one in reconciliation.suspects if one.is_fault and one.posterior >= LEAST_SHOWN]
    budget = balance.budget.by_kind() if balance.budget is not None else {}
    return BalanceFigures(
        dressed_mg=balance.dressed_mg,
        pieces_mg=balance.pieces_mg,
        process_loss_mg=balance.process_loss_mg,
        unaccounted_mg=balance.unaccounted_mg,
        expanded_u_mg=verdict.expanded_u_mg,
        coverage_factor=verdict.k,
        verdict=verdict.kind.value,
        sentence=verdict.sentence,
        suspects=tuple(
            SuspectLine(one.words, one.remedy, one.posterior)
            for one in (suspects[:MOST_SHOWN] if reconciliation.questioned else [])
        ),
        budget=tuple(BudgetLine(kind.value, u_mg) for kind, u_mg in budget.items() if u_mg > 0),
        notes=balance.notes,
        losses_from=reconciliation.belief.origin() if reconciliation.belief is not None else "",
    )
