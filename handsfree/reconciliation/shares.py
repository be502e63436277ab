"""Weight shares learned from closed carcasses that came out right, and shown with their prior. Pure."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from math import exp, log
from statistics import fmean
from typing import Any

from handsfree.ledger.carcass import Carcass, CarcassState, Piece
from handsfree.reconciliation.account import account_of
from handsfree.reconciliation.instruments import ProcessLoss
from handsfree.reconciliation.learning import Share, share_prior
from handsfree.reconciliation.losses import losses_of
from handsfree.reconciliation.student import student_quantile
from handsfree.reconciliation.verdict import VerdictKind

#: How the sentence of a closing begins to name a suspect.
_SUSPECTED = re.compile(r"\b(?:Probably|Perhaps) ")


@dataclass(frozen=True, slots=True, order=True)
class Kind:
    """Carcasses that are learned from together: a joint is cut longer or shorter by the plan."""

    plan: str
    species: str
    sex: str
    cut: str


@dataclass(frozen=True, slots=True)
class Prior:
    """Share of one piece of a cut before any carcass was seen."""

    share: float
    spread: float
    source: str = ""


def teaches(carcass: Carcass, since: str = "") -> bool:
    """Whether this carcass may be learned from.

    Closed with an explained balance and no suspect, nothing corrected since, every weight named,
    weighed without its skin.

    Args:
        carcass: As it stands now.
        since: RFC 3339 UTC time from which learning begins; empty for all there are.
    """
    closing = carcass.closing
    return (
        carcass.state is CarcassState.CLOSED
        and closing is not None
        and not carcass.changed_since_closing
        and closing.verdict == VerdictKind.EXPLAINED.value
        and not _SUSPECTED.search(closing.sentence)
        and carcass.closed_at >= since
        and carcass.dressed is not None
        and carcass.skin != "on"
        and not carcass.unweighed
        and all(piece.named for piece in carcass.standing())
    )


def shares_of(
    carcasses: Iterable[Carcass], priors: Mapping[tuple[str, str], Prior], since: str = ""
) -> dict[Kind, Share]:
    """The posterior share of each cut that was seen, by plan, species and sex.

    Each carcass counts once for a cut, with the mean of ln(share) of its pieces. Pieces that were
    struck, renamed or asked about teach nothing.

    Args:
        carcasses: Any; those that do not teach are passed over.
        priors: By plan and cut; a cut without one is not learned.
        since: As for `teaches`.
    """
    seen: defaultdict[Kind, list[float]] = defaultdict(list)
    for carcass in carcasses:
        if not teaches(carcass, since) or carcass.dressed is None:
            continue
        by_cut: defaultdict[str, list[float]] = defaultdict(list)
        for piece in carcass.standing():
            if _is_sure(piece):
                by_cut[piece.cut].append(log(piece.mass_mg / piece.count / carcass.dressed.mass_mg))
        for cut, logs in by_cut.items():
            if (carcass.plan, cut) in priors:
                seen[Kind(carcass.plan, carcass.species, carcass.sex, cut)].append(fmean(logs))
    return {
        kind: Share(
            kind.species,
            kind.sex,
            kind.cut,
            share_prior(prior.share, prior.spread).after(logs),
            prior.source,
        )
        for kind, logs in sorted(seen.items())
        if (prior := priors[kind.plan, kind.cut])
    }


def cutting_losses(carcasses: Iterable[Carcass], process: ProcessLoss, since: str = "") -> list[float]:
    """What each carcass that teaches lost in the cutting, as a fraction of its dressed weight.

    Drip, chilling and drying are taken off as expected. The scatter of the scales stays in: it makes
    the learned spread a little too wide, never too narrow.
    """
    found = []
    for carcass in carcasses:
        if not teaches(carcass, since) or carcass.dressed is None:
            continue
        other = sum(loss.fraction for loss in losses_of(account_of(carcass), process)[1:])
        found.append(1 - carcass.total_mg() / carcass.dressed.mass_mg - other)
    return found


def shares_json(shares: Mapping[Kind, Share]) -> list[dict[str, Any]]:
    """The shares as plain values: one row a cut; nine in ten of the next between `low` and `high`."""
    return [
        {
            "plan": kind.plan,
            "species": kind.species,
            "sex": kind.sex,
            "cut": kind.cut,
            "carcasses": share.log_share.seen,
            "share": round(share.median, 6),
            "low": round(share.median / _reach(share), 6),
            "high": round(share.median * _reach(share), 6),
            "spread": round(share.spread, 4),
            "prior": share.source,
        }
        for kind, share in shares.items()
    ]


def _reach(share: Share) -> float:
    """The factor either way within which nine in ten of the next carcasses' pieces lie."""
    learned = share.log_share
    return exp(student_quantile(0.95, learned.nu) * learned.predictive_scale)


def _is_sure(piece: Piece) -> bool:
    return piece.mass_mg > 0 and not piece.renamed and not piece.entered.asked
