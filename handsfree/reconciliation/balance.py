"""The mass balance of one carcass in exact milligrams; it closes by identity.

dressed = pieces by destination (bone and waste among them)
          + expected loss to cutting, drip, chilling and drying, each by itself + unaccounted

Nothing is normalised: pieces that sum to more than came in leave a negative rest, and it is shown.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from math import fsum, inf

from handsfree.ledger.books import Carcass
from handsfree.mass import format_kg
from handsfree.reconciliation.account import Account, Weighing, account_of
from handsfree.reconciliation.budget import Budget, Source, SourceKind
from handsfree.reconciliation.distributions import effective_degrees_of_freedom
from handsfree.reconciliation.instruments import ProcessLoss, ScaleData
from handsfree.reconciliation.losses import hours_before_cutting, losses_of
from handsfree.reconciliation.plan import Expected, Plan, remaining
from handsfree.reconciliation.weighings import scale_data, weighings_budget

UNNAMED = "unnamed"
NO_DESTINATION = "no destination"

#: The order in which destinations are shown; others follow by name, unnamed pieces come last.
DESTINATION_ORDER = ("prime", "dice", "mince", "pet", "stock", "waste", "condemned")


@dataclass(frozen=True, slots=True)
class Line:
    """One destination's part of the balance."""

    destination: str
    mass_mg: int
    weighings: int
    """How many weighings (pieces or counted lots) are in it."""


@dataclass(frozen=True, slots=True)
class Balance:
    """Where the dressed weight went. Masses in exact milligrams."""

    account: Account
    dressed_mg: int | None
    """None when no dressed weight was taken: then there is nothing to hold the pieces against."""
    lines: tuple[Line, ...]
    pieces_mg: int
    """Sum of all lines, unnamed pieces included."""
    cutting_loss_mg: int
    """Expected, not weighed; 0 without a dressed weight."""
    chill_loss_mg: int
    """Expected since a dressed weight taken hot; 0 for a cold one."""
    unaccounted_mg: int | None
    """What is left; negative when more came out than went in. None without a dressed weight."""
    pieces_budget: Budget
    """Uncertainty of `pieces_mg`."""
    budget: Budget | None
    """Uncertainty of `unaccounted_mg`."""
    remaining: tuple[Expected, ...]
    """What the plan expects and is not recorded; empty without a plan."""
    notes: tuple[str, ...]
    """What to know about these figures, in plain sentences."""
    drip_loss_mg: int = 0
    """Expected, where the drip is known by itself."""
    drying_loss_mg: int = 0
    """Expected while the carcass hung cold between the dressed weight and the cutting."""
    hours_before_cutting: float | None = None
    """Hours from the dressed weight to the pieces, None when not known."""
    degrees_of_freedom: float = inf
    """Effective degrees of freedom of `budget` (JCGM 100:2008 G.4.1)."""

    @property
    def process_loss_mg(self) -> int:
        """All that is expected to have gone where no scale sees it."""
        return self.cutting_loss_mg + self.drip_loss_mg + self.chill_loss_mg + self.drying_loss_mg

    @property
    def unnamed(self) -> list[Weighing]:
        """The standing weighings without a cut name; they are in the sum."""
        return [piece for piece in self.account.standing() if not piece.cut]

    def closes(self) -> bool:
        """Whether the parts add up to the whole; true of every balance made by `balance_of`."""
        if sum(line.mass_mg for line in self.lines) != self.pieces_mg:
            return False
        if self.dressed_mg is None or self.unaccounted_mg is None:
            return self.dressed_mg is None and self.unaccounted_mg is None
        return self.dressed_mg == self.pieces_mg + self.process_loss_mg + self.unaccounted_mg


def balance_of(
    carcass: Carcass, scales: Mapping[str, ScaleData], process: ProcessLoss, plan: Plan | None = None
) -> Balance:
    """The balance of a carcass as it stands in the ledger's books.

    Args:
        carcass: From `Books`; struck pieces do not count.
        scales: What is known of each instrument, by the name it has in the entries. An instrument
            that is not here gets the defaults for its scale interval, and a note says so.
        process: What cutting and chilling are expected to take.
        plan: The cut plan, for what remains.
    """
    return balance_account(account_of(carcass), scales, process, plan)


def balance_account(
    account: Account, scales: Mapping[str, ScaleData], process: ProcessLoss, plan: Plan | None = None
) -> Balance:
    """The balance of an account from any origin; as `balance_of`."""
    standing = account.standing()
    pieces_mg = sum(piece.mass_mg for piece in standing)
    pieces_budget = weighings_budget(account.pieces, scales)
    dressed_mg = account.dressed.mass_mg if account.dressed is not None else None
    losses = losses_of(account, process)
    losses_mg = {loss.cause: round(loss.fraction * (dressed_mg or 0)) for loss in losses}
    unaccounted_mg: int | None = None
    budget: Budget | None = None
    dof = inf
    if account.dressed is not None and dressed_mg is not None:
        unaccounted_mg = dressed_mg - pieces_mg - sum(losses_mg.values())
        # The expected losses are fractions of the dressed weight, so its error enters through
        # them too: the sensitivity to it is one less those fractions (JCGM 100:2008 5.1.3).
        dressed_budget = weighings_budget([account.dressed], scales, run="dressed")
        budget = (
            dressed_budget.scaled(1 - fsum(loss.fraction for loss in losses))
            - pieces_budget
            - Budget((Source(SourceKind.PROCESS, loss.cause), loss.sd * dressed_mg) for loss in losses)
        )
        dof = degrees_of_freedom(budget, scales, process)
    return Balance(
        account=account,
        dressed_mg=dressed_mg,
        lines=_lines(standing),
        pieces_mg=pieces_mg,
        cutting_loss_mg=losses_mg["cutting"],
        chill_loss_mg=losses_mg["chilling"],
        unaccounted_mg=unaccounted_mg,
        pieces_budget=pieces_budget,
        budget=budget,
        remaining=remaining(plan, standing) if plan is not None else (),
        notes=tuple(_notes(account, scales)),
        drip_loss_mg=losses_mg["drip"],
        drying_loss_mg=losses_mg["drying"],
        hours_before_cutting=hours_before_cutting(account),
        degrees_of_freedom=dof,
    )


def degrees_of_freedom(budget: Budget, scales: Mapping[str, ScaleData], process: ProcessLoss) -> float:
    """Effective degrees of freedom of a budget (JCGM 100:2008 G.4.1); `inf` when all is known.

    All readings of one scale share one estimate of its repeatability, so they enter the formula
    together and not one by one.
    """
    return effective_degrees_of_freedom(
        (u_mg, _dof(kind, of, scales, process)) for (kind, of), u_mg in budget.by_kind_and_scale().items()
    )


def _dof(kind: SourceKind, of: str, scales: Mapping[str, ScaleData], process: ProcessLoss) -> float:
    if kind is SourceKind.REPEATABILITY and of in scales:
        return scales[of].repeatability_dof
    if kind is SourceKind.PROCESS:
        return {"cutting": process.cutting_dof, "chilling": process.chill_dof}.get(of, inf)
    return inf


def _lines(standing: list[Weighing]) -> tuple[Line, ...]:
    masses: defaultdict[str, list[int]] = defaultdict(list)
    for piece in standing:
        name = (piece.destination or NO_DESTINATION) if piece.cut else UNNAMED
        masses[name].append(piece.mass_mg)

    def place(name: str) -> tuple[int, str]:
        if name in DESTINATION_ORDER:
            return DESTINATION_ORDER.index(name), name
        return len(DESTINATION_ORDER) + (name == NO_DESTINATION) + 2 * (name == UNNAMED), name

    return tuple(Line(name, sum(masses[name]), len(masses[name])) for name in sorted(masses, key=place))


def _notes(account: Account, scales: Mapping[str, ScaleData]) -> list[str]:
    notes = []
    if account.dressed is None:
        notes.append("No dressed weight was taken, so nothing can be said about what is missing.")
    elif account.hot_or_cold == "hot" and hours_before_cutting(account) is None:
        notes.append("When the hot dressed weight was taken is not known: chilling counts as finished.")
    unnamed = [piece.mass_mg for piece in account.standing() if not piece.cut]
    if unnamed:
        what = "1 unnamed weighing is" if len(unnamed) == 1 else f"{len(unnamed)} unnamed weighings are"
        notes.append(f"{what} in the sum: {format_kg(sum(unnamed))} kg.")
    if account.skin == "on":
        notes.append("The dressed weight was taken in skin: the skin has to be weighed as a piece.")
    weighed = [*account.standing(), *([account.dressed] if account.dressed is not None else [])]
    unknown = {one.scale: scale_data(one, scales) for one in weighed if one.scale not in scales}
    notes += [
        f"Of the scale {name!r} only the interval is known ({format_kg(data.d_mg)} kg): "
        "repeatability and span are the usual ones of its class."
        for name, data in sorted(unknown.items())
        if name != "spoken"
    ]
    if "spoken" in unknown:
        notes.append("Some weights were said, not read from a scale.")
    return notes
