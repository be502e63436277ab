"""The figures of a mass balance as the sheet needs them: plain values, nothing to compute.

The sheet depends on these values only, not on how they were worked out.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class SuspectLine:
    """One thing that may explain the unaccounted mass, and what to say about it."""

    text: str
    """What probably happened, as a clause: "the right shank was not logged (about 0.60 kg)"."""
    remedy: str = ""
    """What to look at and the words to say to put it right, as sentences; empty when there are none."""
    probability: float | None = None
    """0 to 1, after looking at the figures; None when it was not worked out."""


@dataclass(frozen=True, slots=True)
class BudgetLine:
    """One named source of uncertainty in the unaccounted mass."""

    source: str
    u_mg: float
    """Standard uncertainty it adds."""


@dataclass(frozen=True, slots=True)
class BalanceFigures:
    """`dressed = pieces + process loss + unaccounted`, in whole milligrams, and what it means."""

    dressed_mg: int
    pieces_mg: int
    process_loss_mg: int
    """Expected process loss (drip, saw dust, drying); a prior, not a weighing."""
    unaccounted_mg: int
    """What is left over; negative when more came out than went in."""
    expanded_u_mg: int
    """Expanded uncertainty U of `unaccounted_mg`."""
    verdict: str
    """"explained", "not explained", "more than came in" ... as the balance words it."""
    sentence: str
    """The verdict as one sentence for people."""
    coverage_factor: float = 2.0
    """k of the expanded uncertainty (JCGM 100:2008, 6.2.1)."""
    suspects: tuple[SuspectLine, ...] = ()
    """Most probable first."""
    budget: tuple[BudgetLine, ...] = ()
    losses_from: str = ""
    """Where the expected loss came from, as a sentence; empty where it is not known any more."""
    notes: tuple[str, ...] = ()
    """What to know about the figures, in plain sentences."""
