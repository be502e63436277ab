"""What a balance takes for the expected losses and the usual shares, and how a closing keeps it. Pure.

A carcass that is closed keeps what was believed then: carcasses closed later sharpen the next ones
and never change an old sheet.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from math import inf, isfinite
from typing import Any, Final

from handsfree.reconciliation.instruments import ProcessLoss
from handsfree.reconciliation.plan import Plan

Record = Mapping[str, str | float]

_CAUSES: Final = {
    "cutting": ("cutting", "cutting_sd"),
    "drip": ("drip", "drip_sd"),
    "chilling": ("chill", "chill_sd"),
    "drying": ("drying_per_day", "drying_sd_per_day"),
}
"""The fields of a `ProcessLoss` for each cause; drying is for each day."""
_LEARNED: Final = {"cutting": ("cutting_dof", "carcasses"), "chilling": ("chill_dof", "hot_carcasses")}
"""Degrees of freedom, and own carcasses, of the causes that are learned."""


@dataclass(frozen=True, slots=True)
class UsualShare:
    """What one piece of a cut usually weighs here, once it was learned."""

    share: float
    """Median, as a fraction of the dressed weight."""
    spread: float
    """Standard deviation of ln(share) of the next piece."""
    carcasses: int
    of: str = ""
    """Whose carcasses they were: "fallow doe", "fallow" (either sex), "any species"."""


@dataclass(frozen=True, slots=True)
class Belief:
    """Expected losses, and the shares that were learned; other shares are the plan's own."""

    process: ProcessLoss
    shares: Mapping[str, UsualShare] = field(default_factory=dict)
    """By cut."""

    def origin(self) -> str:
        """Where the expected loss came from, as a sentence for the sheet."""
        own, hot = self.process.carcasses, self.process.hot_carcasses
        learned = [f"cutting from {_counted(own)}"] if own else []
        learned += [f"chilling from {_counted(hot)} weighed hot"] if hot else []
        if not learned:
            return "Expected losses: the usual figures, with wide bands; none learned here yet."
        return f"Expected losses: {' and '.join(learned)} of this larder."

    def planned(self, plan: Plan) -> Plan:
        """The plan with the shares that were learned in place of its own."""
        expected = []
        for item in plan.expected:
            own = self.shares.get(item.cut)
            expected.append(replace(item, share=own.share, spread=own.spread) if own else item)
        return replace(plan, expected=tuple(expected))


def belief_to_records(belief: Belief) -> tuple[dict[str, str | float], ...]:
    """As the closing entry keeps it: one flat record a cause of loss, and one a learned share."""
    found: list[dict[str, str | float]] = []
    for cause, (mean, sd) in _CAUSES.items():
        record: dict[str, str | float] = {"what": cause}
        record |= {"fraction": getattr(belief.process, mean), "sd": getattr(belief.process, sd)}
        if cause in _LEARNED:
            dof, seen = (getattr(belief.process, name) for name in _LEARNED[cause])
            record["carcasses"] = seen
            if isfinite(dof):
                record["degrees_of_freedom"] = dof
        found.append(record)
    found.append({"what": "source", "text": belief.process.source})
    found += [
        {
            "what": "share",
            "cut": cut,
            "share": own.share,
            "spread": own.spread,
            "carcasses": own.carcasses,
            "of": own.of,
        }
        for cut, own in belief.shares.items()
    ]
    return tuple(found)


def belief_from_records(records: Iterable[Record]) -> Belief | None:
    """What a closing kept; None when it kept nothing, as those older than the field."""
    given: dict[str, Any] = {}
    shares: dict[str, UsualShare] = {}
    kept = False
    for record in records:
        kept, what = True, str(record.get("what", ""))
        if what in _CAUSES:
            mean, sd = _CAUSES[what]
            given |= {mean: float(record["fraction"]), sd: float(record["sd"])}
        if what in _LEARNED:
            dof, seen = _LEARNED[what]
            given |= {dof: float(record.get("degrees_of_freedom", inf)), seen: int(record["carcasses"])}
        if what == "source":
            given["source"] = str(record["text"])
        if what == "share":
            shares[str(record["cut"])] = UsualShare(
                float(record["share"]),
                float(record["spread"]),
                int(record["carcasses"]),
                str(record.get("of", "")),
            )
    return Belief(ProcessLoss(**given), shares) if kept else None


def belief_json(belief: Belief) -> dict[str, Any]:
    """As `--json` tells it: where the figures came from, and the figures."""
    return {
        "origin": belief.origin(),
        "cutting_carcasses": belief.process.carcasses,
        "chilling_carcasses": belief.process.hot_carcasses,
        "records": [dict(record) for record in belief_to_records(belief)],
    }


def _counted(carcasses: int) -> str:
    return "1 closed carcass" if carcasses == 1 else f"{carcasses} closed carcasses"
