"""What a carcass is expected to lose between its dressed weight and its pieces, cause by cause."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from math import exp, fsum, hypot
from typing import Final

from handsfree.reconciliation.account import SPOKEN, Account
from handsfree.reconciliation.instruments import ProcessLoss

#: Hours in which the loss from hot to cold falls off by e: of 72 h of loss 92 % came in the first
#: 36 h (Smith & Carpenter 1973, J. Anim. Sci. 36(5):862), so 1/(1 + exp(-36/τ)) = 0.92.
CHILLING_TIME_H: Final = 14.7
#: The published losses from hot to cold are those of about a day.
CHILLED_AFTER_H: Final = 24.0
#: How well the share of chilling done half way is known, relatively (common practice, no source).
_PROGRESS_SD: Final = 0.25
#: A hide keeps about half of the drying back (0.1 to 0.4 against 0.3 to 0.8 % a day; from memory).
_IN_SKIN: Final = 0.5


@dataclass(frozen=True, slots=True)
class Loss:
    """One expected loss, as a fraction of the dressed weight."""

    cause: str
    """"cutting", "drip", "chilling" or "drying"."""
    fraction: float
    sd: float
    """Standard uncertainty of the fraction for this carcass."""


def losses_of(account: Account, process: ProcessLoss) -> tuple[Loss, ...]:
    """The expected losses of a carcass: cutting, drip, chilling, drying, in this order.

    Chilling is that of a dressed weight taken hot, as far as it went before the cutting; a time that
    is not known counts as a day or more. Drying is that of the time hung cold; none if not known.
    """
    hours = hours_before_cutting(account)
    hot = account.hot_or_cold == "hot"
    done = chilled_share(hours) if hot else 0.0
    chill_sd = hypot(process.chill_sd * done, process.chill * _PROGRESS_SD * done * (1 - done))
    days = max(0.0, (hours or 0.0) - (CHILLED_AFTER_H if hot else 0.0)) / 24
    days *= _IN_SKIN if account.skin == "on" else 1.0
    return (
        Loss("cutting", process.cutting, process.cutting_sd),
        Loss("drip", process.drip, process.drip_sd),
        Loss("chilling", process.chill * done, chill_sd),
        Loss("drying", process.drying_per_day * days, process.drying_sd_per_day * days),
    )


def chilled_share(hours: float | None) -> float:
    """The part of the loss from hot to cold that is done after this time; all when it is not known."""
    if hours is None or hours >= CHILLED_AFTER_H:
        return 1.0
    return (1 - exp(-hours / CHILLING_TIME_H)) / (1 - exp(-CHILLED_AFTER_H / CHILLING_TIME_H))


def hours_before_cutting(account: Account) -> float | None:
    """Hours from the dressed weight to the pieces (their mean, by mass); None when not known.

    A dressed weight that was said or typed in may be of any time: its entry's time tells nothing.
    """
    if account.hours_before_cutting is not None:
        return account.hours_before_cutting
    dressed = account.dressed
    if dressed is None or dressed.scale == SPOKEN:
        return None
    begun = moment_of(dressed.posted_at)
    cut = [
        (at, piece.mass_mg) for piece in account.standing() if (at := moment_of(piece.posted_at)) is not None
    ]
    whole_mg = sum(mass_mg for _, mass_mg in cut)
    if begun is None or whole_mg <= 0:
        return None
    hours = fsum((at - begun).total_seconds() * mass_mg for at, mass_mg in cut) / whole_mg / 3600
    return hours if hours >= 0 else None


def moment_of(text: str) -> datetime | None:
    """The moment in an RFC 3339 text, UTC where it names no zone; None when it is no such text."""
    try:
        found = datetime.fromisoformat(text)
    except ValueError:
        return None
    return found if found.tzinfo is not None else found.replace(tzinfo=UTC)
