"""Suspects: what probably happened to a carcass, with posterior probabilities that sum to 1.

posterior ∝ odds of the hypothesis x density of the unaccounted mass under it (Bayes), the noise
being that of the budget. "None of these" has a wide density of its own, so that a rest that fits
nothing is said to fit nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from math import fsum, hypot

from handsfree.reconciliation.balance import Balance
from handsfree.reconciliation.effects import Effect, normal_density
from handsfree.reconciliation.hypotheses import Hypothesis, Odds, Scene, SuspectKind
from handsfree.reconciliation.instruments import ScaleData
from handsfree.reconciliation.missing import missing_hypotheses
from handsfree.reconciliation.plan import Expected, Plan
from handsfree.reconciliation.surplus import surplus_hypotheses
from handsfree.reconciliation.words import remedy_for, words_for_suspect

#: "None of these" leaves a rest of either sign, of this part of the dressed weight (one standard
#: deviation; common practice, no source).
NONE_OF_THESE_SHARE = 0.10
#: Suspects less probable than this are counted into "none of these".
LEAST_POSTERIOR = 0.002

_FINE = (SuspectKind.NOTHING, SuspectKind.NONE_OF_THESE)


@dataclass(frozen=True, slots=True)
class Suspect:
    """One thing that may have happened, and what to do about it."""

    kind: SuspectKind
    posterior: float
    """Probability, given the record and the unaccounted mass."""
    missing: tuple[Expected, ...]
    """The pieces it is about, when it is about absent ones."""
    entries: tuple[int, ...]
    """Entries to look at; the one to put right comes last."""
    mass_mg: int
    """Best estimate of the mass that is missing or too much; 0 when none is."""
    u_mg: int
    """Standard uncertainty of that estimate."""
    words: str
    """What probably happened, as a clause: "the left shank was not logged (about 0.62 kg)"."""
    remedy: str
    """What to look at, and the words to say to put it right."""

    @property
    def is_fault(self) -> bool:
        """Whether it names something to put right."""
        return self.kind not in _FINE


def suspects_of(
    balance: Balance,
    scales: Mapping[str, ScaleData],
    plan: Plan | None = None,
    odds: Odds | None = None,
) -> tuple[Suspect, ...]:
    """The ranked suspects of a balance, the most probable first.

    Without a dressed weight the record alone decides. "Nothing wrong" and "none of these" are
    always among them, and the posteriors sum to 1.
    """
    odds = odds if odds is not None else Odds()
    scene = Scene(balance, scales, plan, odds)
    hypotheses = [
        Hypothesis(SuspectKind.NOTHING, 1.0),
        *missing_hypotheses(scene),
        *surplus_hypotheses(scene),
    ]
    rest_mg = balance.unaccounted_mg
    u_mg = max(balance.budget.u_mg, 1.0) if balance.budget is not None else 1.0
    weights = [one.odds * _density(one.effect, rest_mg, u_mg) for one in hypotheses]
    wide_mg = hypot(NONE_OF_THESE_SHARE * scene.whole_mg, u_mg)
    other = odds.none_of_these * (normal_density(rest_mg, wide_mg) if rest_mg is not None else 1.0)
    total = fsum([*weights, other])
    if total <= 0.0:  # further out than a float can tell: nothing known fits
        weights, other, total = [0.0] * len(weights), 1.0, 1.0
    grouped = _grouped(hypotheses, [weight / total for weight in weights])
    kept = [
        _suspect(one, posterior, rest_mg, u_mg, balance.account.tag)
        for one, posterior in grouped
        if posterior >= LEAST_POSTERIOR or one.kind is SuspectKind.NOTHING
    ]
    rest = max(0.0, 1.0 - fsum(suspect.posterior for suspect in kept))
    kept.append(_suspect(Hypothesis(SuspectKind.NONE_OF_THESE, 0.0), rest, None, u_mg, ""))
    return tuple(sorted(kept, key=lambda suspect: -suspect.posterior))


def probable(suspects: Iterable[Suspect], least: float = 0.5) -> Suspect | None:
    """The suspect to act on: the most probable of all, if a fault and at least this probable."""
    first = max(suspects, key=lambda suspect: suspect.posterior, default=None)
    return first if first is not None and first.is_fault and first.posterior >= least else None


def first_fault(suspects: Iterable[Suspect]) -> Suspect | None:
    """The most probable suspect that names something to put right, however probable."""
    faults = [suspect for suspect in suspects if suspect.is_fault]
    return max(faults, key=lambda suspect: suspect.posterior, default=None)


def _density(effect: Effect, rest_mg: int | None, u_mg: float) -> float:
    return effect.density(rest_mg, u_mg) if rest_mg is not None else 1.0


def _grouped(hypotheses: list[Hypothesis], posteriors: list[float]) -> list[tuple[Hypothesis, float]]:
    """Hypotheses that tell the butcher the same thing, taken together."""
    groups: dict[tuple[object, ...], list[tuple[Hypothesis, float]]] = {}
    for one, posterior in zip(hypotheses, posteriors, strict=True):
        groups.setdefault((one.kind, one.missing, one.entries), []).append((one, posterior))
    return [
        (max(group, key=lambda pair: pair[1])[0], fsum(posterior for _, posterior in group))
        for group in groups.values()
    ]


def _suspect(one: Hypothesis, posterior: float, rest_mg: int | None, u_mg: float, tag: str) -> Suspect:
    if rest_mg is None:
        mass_mg, spread_mg = one.effect.median_mg, one.effect.median_mg * one.effect.log_sd
    else:
        mass_mg, spread_mg = one.effect.estimate(rest_mg, u_mg)
    return Suspect(
        kind=one.kind,
        posterior=posterior,
        missing=one.missing,
        entries=one.entries,
        mass_mg=round(mass_mg),
        u_mg=round(spread_mg),
        words=words_for_suspect(one, round(mass_mg)),
        remedy=remedy_for(one, tag),
    )
