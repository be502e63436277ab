"""A simulated carcass as the record that the recorder would hold: the one place where formats meet."""

from __future__ import annotations

from dataclasses import dataclass

from carcasses import CONTAINERS_G, HOOK_G, posted
from faults import Case

from handsfree.carcass_in_hand import expected_pieces
from handsfree.pairing.messages import Method
from handsfree.reconciliation.account import Account, Called, Weighing
from handsfree.reconciliation.instruments import PROCESS_BANDSAW, PROCESS_BY_HAND, ProcessLoss, ScaleData
from handsfree.reconciliation.plan import Plan
from handsfree.reconciliation.suspects import Suspect
from handsfree.testing.shipped_words import shipped_vocabulary

PRESETS = {"by hand": PROCESS_BY_HAND, "bandsaw": PROCESS_BANDSAW}
#: What a larder knows of its scales from a check: the spans within 0.05 and 0.08 % are 0.029 and
#: 0.046 % standard uncertainty, told a little wider.
SCALES = {
    "bench": ScaleData(
        "bench", 5_000, 2_000.0, 0.0003, containers_mg=tuple(round(1000 * grams) for grams in CONTAINERS_G)
    ),
    "rail": ScaleData("rail", 20_000, 10_000.0, 0.0005, containers_mg=(round(1000 * HOOK_G),)),
}


@dataclass(frozen=True)
class Knowledge:
    """What the reconciling side is told besides the record."""

    process: ProcessLoss | None = None
    """None: the shipped preset for the way this larder cuts."""
    plan: bool = True
    shares: float = 1.0
    """All shares of the plan multiplied by this: a larder that cuts otherwise than the list says."""

    def process_for(self, case: Case) -> ProcessLoss:
        """The losses that are expected of this carcass."""
        return self.process or PRESETS[case.carcass.way_of_cutting]


def block_plan() -> Plan:
    """The shipped plan for venison on the block, with the shipped shares."""
    return expected_pieces(shipped_vocabulary().plan("block"))


def account_of(case: Case) -> Account:
    """The record of a case, as the books would give it."""
    carcass = case.carcass
    shown_g = (carcass.dressed_g + case.dressed_more_g) * case.dressed_factor
    dressed = Weighing(
        0, round(shown_g / 20) * 20_000, "rail", 20_000,
        indication=f"{round(shown_g / 20) * 0.02:.2f} kg", posted_at=posted(carcass.begun, 0, 0),
    )  # fmt: skip
    pieces = []
    for number, one in enumerate(carcass.weighings, 1):
        named = not any(one is each for each in case.unnamed)
        pieces.append(
            Weighing(
                number, round(1000 * one.net_g), "bench", 5_000, method=Method(one.way),
                indication=f"{one.after_g / 1000:.3f} kg", indication_before=f"{one.before_g / 1000:.3f} kg",
                tare=one.tare, cut=one.part.cut if named else "", side=one.part.side if named else "",
                count=one.part.count if named else 1,
                destination=one.part.destination if named else "",
                posted_at=posted(carcass.begun, carcass.hours, number),
            )
        )  # fmt: skip
    called = (Called(cut, side, number=900 + n) for n, (cut, side) in enumerate(case.called))
    return Account(
        "invented", skin="", hot_or_cold="hot" if carcass.hot else "cold", dressed=dressed,
        pieces=tuple(pieces), unweighed=tuple(called),
    )  # fmt: skip


def tells(case: Case, suspect: Suspect) -> bool:
    """Whether a suspect tells what was really done to a case, and points at the right place."""
    if str(suspect.kind) not in case.kinds:
        return False
    if case.names and str(suspect.kind) in ("not logged", "called, not weighed", "called by another name"):
        told = sorted((item.cut, item.side) for item in suspect.missing)
        if [cut for cut, _ in told] != sorted(cut for cut, _ in case.names):
            return False
        # A side is not known where a piece was called without one; a wrong one is wrong.
        sides = zip(told, sorted(case.names), strict=True)
        if any(side not in ("", true) for (_, side), (_, true) in sides):
            return False
    if case.fault == "two at once" and suspect.parts:
        return set(case.names) <= {(item.cut, item.side) for item in suspect.missing}
    if not case.culprits or not suspect.entries:
        return True
    numbers = {
        n for n, one in enumerate(case.carcass.weighings, 1) if any(one is each for each in case.culprits)
    }
    return bool(numbers & set(suspect.entries)) or not numbers
