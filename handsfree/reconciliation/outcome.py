"""The outcome of a reconciliation as plain JSON values: balance, budget, verdict, suspects."""

from __future__ import annotations

from math import isfinite
from typing import Any, Final

from handsfree.reconciliation.balance import Balance
from handsfree.reconciliation.belief import belief_json
from handsfree.reconciliation.budget import Budget
from handsfree.reconciliation.document_faults import grams_of
from handsfree.reconciliation.plan import Expected
from handsfree.reconciliation.reconcile import Reconciliation
from handsfree.reconciliation.suspects import Suspect
from handsfree.reconciliation.verdict import NOTICED_RATE

FORMAT: Final = 1


def outcome_to_json(outcome: Reconciliation) -> dict[str, Any]:
    """Plain JSON values of an outcome: masses in grams, exact; uncertainties in grams, to the mg.

    Keys: `format`, `carcass`, `balance` (closes by identity), `budget` (of the unaccounted mass,
    None without a dressed weight), `verdict` (with both its error rates: `false_alarm_rate`, and
    `noticed_g`, which is found missing at `noticed_rate`), `suspects` (most probable first), `believed`
    (where the expected losses and the usual shares came from; None where they were given), `remaining`,
    `sentence`, `spoken`, `notes`.
    """
    balance, verdict = outcome.balance, outcome.verdict
    z = verdict.z if verdict.z is not None and isfinite(verdict.z) else None
    return {
        "format": FORMAT,
        "carcass": balance.account.title,
        "balance": _balance(balance),
        "budget": _budget(balance.budget) if balance.budget is not None else None,
        "pieces_budget": _budget(balance.pieces_budget),
        "verdict": {
            "kind": str(verdict.kind),
            "z": z,
            "k": round(verdict.k, 6),
            "false_alarm_rate": verdict.false_alarm_rate,
            "degrees_of_freedom": _finite(verdict.degrees_of_freedom),
            "noticed_g": None if verdict.noticed_mg is None else grams_of(verdict.noticed_mg),
            "noticed_rate": NOTICED_RATE,
            "expanded_u_g": None if verdict.expanded_u_mg is None else grams_of(verdict.expanded_u_mg),
        },
        "questioned": outcome.questioned,
        "suspects": [_suspect(suspect) for suspect in outcome.suspects],
        "believed": belief_json(outcome.belief) if outcome.belief is not None else None,
        "remaining": [_expected(item) for item in balance.remaining],
        "sentence": outcome.sentence(),
        "spoken": outcome.spoken(),
        "notes": list(balance.notes),
    }


def _balance(balance: Balance) -> dict[str, Any]:
    known = balance.dressed_mg is not None and balance.unaccounted_mg is not None
    return {
        "dressed_g": grams_of(balance.dressed_mg) if balance.dressed_mg is not None else None,
        "dressed": _dressed(balance),
        "destinations": [
            {"destination": line.destination, "mass_g": grams_of(line.mass_mg), "weighings": line.weighings}
            for line in balance.lines
        ],
        "pieces_g": grams_of(balance.pieces_mg),
        "cutting_loss_g": grams_of(balance.cutting_loss_mg) if known else None,
        "drip_loss_g": grams_of(balance.drip_loss_mg) if known else None,
        "chill_loss_g": grams_of(balance.chill_loss_mg) if known else None,
        "drying_loss_g": grams_of(balance.drying_loss_mg) if known else None,
        "unaccounted_g": grams_of(balance.unaccounted_mg) if balance.unaccounted_mg is not None else None,
        "unnamed_entries": [piece.number for piece in balance.unnamed],
    }


def _dressed(balance: Balance) -> dict[str, Any] | None:
    """How the dressed weight was taken: without it the mass alone means little."""
    account = balance.account
    if account.dressed is None:
        return None
    return {
        "scale": account.dressed.scale,
        "posted_at": account.dressed.posted_at,
        "skin": account.skin,
        "hot_or_cold": account.hot_or_cold,
        "hours_before_cutting": _finite(balance.hours_before_cutting),
    }


def _finite(value: float | None) -> float | None:
    return None if value is None or not isfinite(value) else round(value, 3)


def _budget(budget: Budget) -> dict[str, Any]:
    return {
        "u_g": round(budget.u_mg / 1000, 3),
        "expanded_u_k2_g": round(budget.expanded_mg(2.0) / 1000, 3),
        "sources": [
            {"source": str(kind), "of": of, "u_g": round(u_mg / 1000, 3)}
            for (kind, of), u_mg in budget.by_kind_and_scale().items()
        ],
    }


def _suspect(suspect: Suspect) -> dict[str, Any]:
    return {
        "kind": str(suspect.kind),
        "posterior": suspect.posterior,
        "missing": [_expected(item) for item in suspect.missing],
        "entries": list(suspect.entries),
        "mass_g": grams_of(suspect.mass_mg),
        "u_g": grams_of(suspect.u_mg),
        "words": suspect.words,
        "remedy": suspect.remedy,
        "say": list(suspect.say),
        "moments": list(suspect.moments),
        "parts": [str(kind) for kind in suspect.parts],
    }


def _expected(item: Expected) -> dict[str, Any]:
    return {"cut": item.cut, "side": item.side, "count": item.count}
