"""Weight shares learned from closed carcasses that came out right, and shown with their prior. Pure."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from math import exp, log
from statistics import fmean
from typing import Any

from handsfree.ledger.carcass import Carcass, CarcassState, Piece
from handsfree.ledger.entries import CarcassClosed
from handsfree.reconciliation.account import account_of
from handsfree.reconciliation.hypotheses import SKIN_LOG_SD, SKIN_SHARE
from handsfree.reconciliation.instruments import ProcessLoss
from handsfree.reconciliation.learning import LEAST_CARCASSES, Share, share_prior
from handsfree.reconciliation.losses import chilled_share, hours_before_cutting, losses_of
from handsfree.reconciliation.student import student_quantile
from handsfree.reconciliation.verdict import VerdictKind

#: How the sentence of a closing begins to name a suspect. Closings older than the field `suspect`
#: tell it nowhere else.
_SUSPECTED = re.compile(r"\b(?:Probably|Perhaps) ")

#: Stands for all species, or all sexes of one, where carcasses are learned from together.
ANY = "any"

#: A dressed skin's share is hardly ever less than this: the log-normal of an in-skin dressed weight at
#: 2.33 standard deviations (one in a hundred) below its median.
_LEAST_SKIN = SKIN_SHARE * exp(-2.33 * SKIN_LOG_SD)

#: A hot carcass teaches the chilling when this much of it was done at the cutting.
_CHILLED_ENOUGH = 0.9


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
        and not is_suspected(closing)
        and carcass.closed_at >= since
        and _without_skin(carcass, closing)
        and not carcass.unweighed
        and all(piece.named for piece in carcass.standing())
    )


def is_suspected(closing: CarcassClosed) -> bool:
    """Whether a suspect was named at the close."""
    if closing.suspect is None:
        return bool(_SUSPECTED.search(closing.sentence))
    return bool(closing.suspect)


def _without_skin(carcass: Carcass, closing: CarcassClosed) -> bool:
    """Whether the dressed weight was certainly taken without the skin.

    Where nobody said, the balance tells: with a skin in the dressed weight and none among the pieces,
    more would be missing than is.
    """
    if carcass.dressed is None or carcass.skin == "on":
        return False
    if carcass.skin == "off":
        return True
    if closing.unaccounted_mg is None or closing.expanded_u_mg is None:
        return False
    at_most_mg = closing.unaccounted_mg + closing.expanded_u_mg
    weighed = any(piece.cut == "skin" for piece in carcass.standing())
    return not weighed and at_most_mg < _LEAST_SKIN * carcass.dressed.mass_mg


def shares_of(
    carcasses: Iterable[Carcass], priors: Mapping[tuple[str, str], Prior], since: str = ""
) -> dict[Kind, Share]:
    """The posterior share of each cut that was seen: by plan, species and sex, and pooled.

    Pooled are all sexes of a species (sex `ANY`; what a carcass of unknown sex is held against) and
    all species of the list (both `ANY`). Each carcass counts once for a cut, with the mean of
    ln(share) of its pieces. Pieces that were struck, renamed or asked about teach nothing.

    What the others taught takes the place of the published share, and counts as much as that: other
    species of the list first, then the other sexes of the species, each worth two carcasses (partial
    pooling by a discounted prior: Ibrahim & Chen 2000, Statist. Sci. 15:46, the others' data at no
    more than the weight of the prior). They move the place only; the spread stays as wide as
    published until the kind's own carcasses narrow it.

    Args:
        carcasses: Any; those that do not teach are passed over.
        priors: By plan and cut; a cut without one is not learned.
        since: As for `teaches`.
    """
    seen: defaultdict[tuple[str, str], dict[tuple[str, str], list[float]]] = defaultdict(dict)
    for carcass in carcasses:
        if not teaches(carcass, since) or carcass.dressed is None:
            continue
        by_cut: defaultdict[str, list[float]] = defaultdict(list)
        for piece in carcass.standing():
            if _is_sure(piece):
                by_cut[piece.cut].append(log(piece.mass_mg / piece.count / carcass.dressed.mass_mg))
        for cut, logs in by_cut.items():
            if (carcass.plan, cut) in priors:
                groups = seen[carcass.plan, cut]
                groups.setdefault((carcass.species, carcass.sex), []).append(fmean(logs))
    found: dict[Kind, Share] = {}
    for (plan, cut), groups in seen.items():
        for (species, sex), share in _pooled(groups, priors[plan, cut], cut).items():
            found[Kind(plan, species, sex, cut)] = share
    return dict(sorted(found.items()))


def _pooled(
    groups: Mapping[tuple[str, str], list[float]], prior: Prior, cut: str
) -> dict[tuple[str, str], Share]:
    """The share of one cut for each species and sex, each species, and all."""

    def place_after(place: float, values: list[float]) -> float:
        return exp(share_prior(place, prior.spread).after(values).mean)

    def share(place: float, species: str, sex: str, values: list[float]) -> Share:
        return Share(species, sex, cut, share_prior(place, prior.spread).after(values), prior.source)

    every = sorted(groups.items())
    found = {(ANY, ANY): share(prior.share, ANY, ANY, [value for _, logs in every for value in logs])}
    for species in dict.fromkeys(species for (species, _), _ in every):
        own = {sex: logs for (other, sex), logs in every if other == species}
        place = place_after(
            prior.share, [value for (other, _), logs in every if other != species for value in logs]
        )
        found[species, ANY] = share(place, species, ANY, [value for logs in own.values() for value in logs])
        for sex, logs in own.items():
            if sex:
                rest = [value for other, more in own.items() if other != sex for value in more]
                found[species, sex] = share(place_after(place, rest), species, sex, logs)
    return found


def usual_share(shares: Mapping[Kind, Share], plan: str, species: str, sex: str, cut: str) -> Share | None:
    """The learned share nearest to this kind that enough carcasses taught; None: the published stands.

    Its own sex first, then all sexes of the species, then all species of the list.
    """
    for kind in (Kind(plan, species, sex, cut), Kind(plan, species, ANY, cut), Kind(plan, ANY, ANY, cut)):
        found = shares.get(kind)
        if found is not None and found.log_share.seen >= LEAST_CARCASSES:
            return found
    return None


def cutting_losses(carcasses: Iterable[Carcass], process: ProcessLoss, since: str = "") -> list[float]:
    """What each carcass that teaches and was weighed cold lost in the cutting.

    As a fraction of its dressed weight; drip and drying are taken off as expected. One weighed hot
    lost more to chilling, and less certainly, than to the knife: see `chilling_losses`. The scatter of
    the scales stays in: it makes the learned spread a little too wide, never too narrow.
    """
    return [
        lost - sum(loss.fraction for loss in losses_of(account_of(carcass), process)[1:])
        for carcass, lost in _losses(carcasses, since)
        if carcass.hot_or_cold != "hot"
    ]


def chilling_losses(carcasses: Iterable[Carcass], process: ProcessLoss, since: str = "") -> list[float]:
    """What each carcass that teaches and was weighed hot lost from hot to cold, when that was done.

    Args:
        carcasses: Any.
        process: With the cutting loss already learned, which is taken off.
        since: As for `teaches`.
    """
    found = []
    for carcass, lost in _losses(carcasses, since):
        account = account_of(carcass)
        done = chilled_share(hours_before_cutting(account))
        if carcass.hot_or_cold == "hot" and done >= _CHILLED_ENOUGH:
            others = [loss.fraction for loss in losses_of(account, process) if loss.cause != "chilling"]
            found.append((lost - sum(others)) / done)
    return found


def _losses(carcasses: Iterable[Carcass], since: str) -> Iterator[tuple[Carcass, float]]:
    """Carcasses that teach, and the part of each that did not come out in its pieces."""
    for carcass in carcasses:
        if teaches(carcass, since) and carcass.dressed is not None:
            yield carcass, 1 - carcass.total_mg() / carcass.dressed.mass_mg


def shares_json(shares: Mapping[Kind, Share]) -> list[dict[str, Any]]:
    """The shares as plain values: one row a cut; nine in ten of the next between `low` and `high`.

    A pooled row is left out where it holds no more carcasses than a row of its own.
    """
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
        if not _says_nothing_new(kind, share, shares)
    ]


def _says_nothing_new(kind: Kind, share: Share, shares: Mapping[Kind, Share]) -> bool:
    """Whether a pooled row holds the same carcasses as one of the rows it is pooled from."""
    return kind.sex == ANY and any(
        (other.plan, other.cut) == (kind.plan, kind.cut)
        and other != kind
        and kind.species in (ANY, other.species)
        and each.log_share.seen == share.log_share.seen
        for other, each in shares.items()
    )


def _reach(share: Share) -> float:
    """The factor either way within which nine in ten of the next carcasses' pieces lie."""
    learned = share.log_share
    return exp(student_quantile(0.95, learned.nu) * learned.predictive_scale)


def _is_sure(piece: Piece) -> bool:
    return piece.mass_mg > 0 and not piece.renamed and not piece.entered.asked
