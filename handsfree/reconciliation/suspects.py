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
from handsfree.reconciliation.circumstances import circumstance_hypotheses
from handsfree.reconciliation.combining import two_at_once
from handsfree.reconciliation.effects import densities, normal_density
from handsfree.reconciliation.hypotheses import Hypothesis, Odds, SuspectKind
from handsfree.reconciliation.instruments import ScaleData
from handsfree.reconciliation.misnamed import misnamed_hypotheses
from handsfree.reconciliation.missing import absent_pieces, missing_hypotheses
from handsfree.reconciliation.plan import Expected, Plan
from handsfree.reconciliation.scene import Scene
from handsfree.reconciliation.surplus import surplus_hypotheses
from handsfree.reconciliation.trays import tray_hypotheses
from handsfree.reconciliation.units import unit_hypotheses
from handsfree.reconciliation.words import phrases_for, remedy_for, words_for_suspect

#: "None of these" leaves a rest of either sign, of one of these parts of the dressed weight (standard
#: deviations, one as likely as the other; common practice, no source). The second is wider than all
#: else that is thought of, so that a rest far out is no evidence for what merely reaches further.
NONE_OF_THESE_SHARES = (0.10, 0.50)
#: Hypotheses less probable than this cannot add up to a suspect and are not looked at further.
NOTICED = 1e-7
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
    say: tuple[str, ...] = ()
    """The words to say by themselves: "ledger that was right shank", "right shank"."""
    moments: tuple[str, ...] = ()
    """When `entries` were made (RFC 3339), where it is known."""
    parts: tuple[SuspectKind, ...] = ()
    """The two kinds of which this one is made, when it is two things at once."""

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
    hypotheses = _hypotheses(scene)
    rest_mg = balance.unaccounted_mg
    u_mg = max(balance.budget.u_mg, 1.0) if balance.budget is not None else 1.0
    likelihoods = (
        densities([one.effect for one in hypotheses], rest_mg, u_mg).tolist()
        if rest_mg is not None
        else [1.0] * len(hypotheses)
    )
    weights = [one.odds * likelihood for one, likelihood in zip(hypotheses, likelihoods, strict=True)]
    other = odds.none_of_these * _none_of_these(rest_mg, scene.whole_mg, u_mg)
    total = fsum([*weights, other])
    if total <= 0.0:  # further out than a float can tell: nothing known fits
        weights, other, total = [0.0] * len(weights), 1.0, 1.0
    told = [(one, weight / total) for one, weight in zip(hypotheses, weights, strict=True)]
    grouped = _grouped(pair for pair in told if pair[1] >= NOTICED or pair[0].kind is SuspectKind.NOTHING)
    kept = [
        _suspect(one, posterior, rest_mg, u_mg, balance)
        for one, posterior in grouped
        if posterior >= LEAST_POSTERIOR or one.kind is SuspectKind.NOTHING
    ]
    rest = max(0.0, 1.0 - fsum(suspect.posterior for suspect in kept))
    kept.append(_suspect(Hypothesis(SuspectKind.NONE_OF_THESE, 0.0), rest, None, u_mg, balance))
    return tuple(sorted(kept, key=lambda suspect: -suspect.posterior))


def _hypotheses(scene: Scene) -> list[Hypothesis]:
    absent = absent_pieces(scene)
    single = [
        *missing_hypotheses(scene, absent),
        *misnamed_hypotheses(scene, absent),
        *surplus_hypotheses(scene),
        *tray_hypotheses(scene),
        *unit_hypotheses(scene),
        *circumstance_hypotheses(scene),
    ]
    return [Hypothesis(SuspectKind.NOTHING, 1.0), *single, *two_at_once(single)]


def probable(suspects: Iterable[Suspect], least: float = 0.5) -> Suspect | None:
    """The suspect to act on: the most probable of all, if a fault and at least this probable."""
    first = max(suspects, key=lambda suspect: suspect.posterior, default=None)
    return first if first is not None and first.is_fault and first.posterior >= least else None


def first_fault(suspects: Iterable[Suspect]) -> Suspect | None:
    """The most probable suspect that names something to put right, however probable."""
    faults = [suspect for suspect in suspects if suspect.is_fault]
    return max(faults, key=lambda suspect: suspect.posterior, default=None)


def _none_of_these(rest_mg: int | None, whole_mg: float, u_mg: float) -> float:
    """Density of the unaccounted mass when something happened that is not thought of."""
    if rest_mg is None:
        return 1.0
    wide = [normal_density(rest_mg, hypot(share * whole_mg, u_mg)) for share in NONE_OF_THESE_SHARES]
    return fsum(wide) / len(wide)


def _grouped(told: Iterable[tuple[Hypothesis, float]]) -> list[tuple[Hypothesis, float]]:
    """Hypotheses that tell the butcher the same thing, taken together."""
    groups: dict[tuple[object, ...], list[tuple[Hypothesis, float]]] = {}
    for one, posterior in told:
        groups.setdefault(_told(one), []).append((one, posterior))
    return [
        (max(group, key=lambda pair: pair[1])[0], fsum(posterior for _, posterior in group))
        for group in groups.values()
    ]


def _told(one: Hypothesis) -> tuple[object, ...]:
    parts = tuple(_told(part) for part in one.parts)
    # A scale or a unit makes another thing of it; how long a run was, does not.
    detail = "" if one.kind is SuspectKind.TRAY_LEFT_ON else one.detail
    return one.kind, one.missing, one.entries, detail, parts


def _suspect(
    one: Hypothesis, posterior: float, rest_mg: int | None, u_mg: float, balance: Balance
) -> Suspect:
    if rest_mg is None:
        effect = one.effect
        mass_mg, spread_mg = abs(effect.signed_median_mg()), effect.median_mg * effect.log_sd
    else:
        mass_mg, spread_mg = one.effect.estimate(rest_mg, u_mg)
    times = {piece.number: piece.posted_at for piece in balance.account.pieces}
    times |= {call.number: call.posted_at for call in balance.account.unweighed}
    if balance.account.dressed is not None and not one.entries and one.kind in _ABOUT_DRESSED:
        times[0] = balance.account.dressed.posted_at
    about = one.entries or ((0,) if 0 in times and one.kind in _ABOUT_DRESSED else ())
    return Suspect(
        kind=one.kind,
        posterior=posterior,
        missing=one.missing,
        entries=one.entries,
        mass_mg=round(mass_mg),
        u_mg=round(spread_mg),
        words=words_for_suspect(one, round(mass_mg), _part_masses(one, rest_mg, u_mg)),
        remedy=remedy_for(one, balance.account.tag),
        say=phrases_for(one),
        moments=tuple(times[number] for number in about if times.get(number)),
        parts=tuple(part.kind for part in one.parts),
    )


_ABOUT_DRESSED = (
    SuspectKind.IN_SKIN,
    SuspectKind.DRESSED_WITH_CONTAINER,
    SuspectKind.OTHER_CARCASS,
    SuspectKind.WRONG_UNIT,
)


def _part_masses(one: Hypothesis, rest_mg: int | None, u_mg: float) -> tuple[int, ...]:
    """Best estimate of the mass of each part of two things at once."""
    masses = []
    for part in one.parts:
        others = [other.effect for other in one.parts if other is not part]
        if rest_mg is None or part.effect.log_sd <= 0.0:
            masses.append(abs(part.effect.signed_median_mg()))
        else:
            rest = rest_mg - fsum(effect.signed_median_mg() for effect in others)
            masses.append(part.effect.estimate(rest, u_mg)[0])
    return tuple(round(mass) for mass in masses)
