"""What a season's charts say, and what to do about it, in plain sentences. Pure.

What to look at for each kind of change is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, tzinfo
from statistics import NormalDist
from typing import Final

from handsfree.reconciliation.control_charts import D2_OF_TWO, D4_OF_TWO
from handsfree.reconciliation.season import By, Figure, Season, Watched
from handsfree.reconciliation.season_figures import CarcassFigures, Doubt
from handsfree.reconciliation.watch import LEAST_CARCASSES, Change, Watch
from handsfree.reporting.words import counted, fine_percent, kg, long_day, percent, plain

CAUTIONS: Final = (
    "Internal figures of yield. Selling by weight needs an instrument verified for trade under local law.",
    "Values are weights times the larder's own price list: neither a valuation nor a price label.",
    "Charts point at what changed, not at who. This page judges no meat and no person.",
)

#: What is charted, as it is called.
TITLES: Final = {Figure.LOSS: "Not accounted for", Figure.MEAT: "Meat, without bone and waste"}

_TODO: Final = {
    (Figure.LOSS, True): "Look for meat or trim put away unweighed, at saw and drip, and check the scales "
    "(handsfree scale check).",
    (Figure.LOSS, False): "Look for pieces entered twice and trays counted as meat, and whether the dressed "
    "weight is taken before the carcass is trimmed; check the scales (handsfree scale check).",
    (Figure.MEAT, True): "Look whether bone, sinew or trays go with the meat. If it is better knife work, "
    "take new limits from here with --from.",
    (Figure.MEAT, False): "Look at what goes to bone and waste, at shot damage and at the knives. If the "
    "carcasses or the cuts have changed, take new limits from here with --from.",
}


#: Of carcasses in order, how many lie beyond three standard deviations (the normal distribution), and how
#: many differ from the one before by more than 3.267 mean ranges: 3.685 standard deviations of one value.
_BEYOND_BY_CHANCE: Final = 2 * NormalDist().cdf(-3.0)
_JUMPS_BY_CHANCE: Final = 2 * NormalDist(sigma=2**0.5).cdf(-D4_OF_TWO * D2_OF_TWO)


@dataclass(frozen=True, slots=True)
class Caption:
    """What one watched figure says."""

    state: str
    """"too few", "in order", "look back" (it was off and came back) or "act" (it is off now)."""
    headline: str
    """What is the case now, one sentence."""
    action: str
    """What to do; empty when nothing is."""
    details: tuple[str, ...]
    """Where the limits come from, single carcasses, what was before."""


def name_of(watched: Watched) -> str:
    """Which carcasses: "fallow", "fallow, bench one"."""
    species = plain(watched.species) or "species not said"
    return f"{species}, {plain(watched.bench)}" if watched.bench else species


def caption_of(season: Season, watched: Watched, zone: tzinfo) -> Caption:
    """The words to one watched figure."""
    watch = watched.watch
    if watch is None:
        told = f"Too few to judge: {counted(watched.usable, 'carcass', 'carcasses')} in no doubt, "
        told += f"{LEAST_CARCASSES} are needed."
        return Caption("too few", told, "Go on recording; the table shows what there is.", ())
    carcasses = [season.figures.carcasses[place] for place in watched.places]
    teller = _Teller(watched.figure, watch, carcasses, zone)
    lasting = [change for change in watch.changes if change.lasting]
    newest = watch.order[-1] if watch.order else -1
    if lasting:
        change = lasting[-1]
        return Caption(
            "act", teller.change(change), _TODO[watched.figure, change.above], tuple(teller.details(change))
        )
    if newest in watch.beyond:
        above = watch.values[newest] > watch.usual.centre
        return Caption(
            "act",
            f"The newest carcass stands out: {teller.single(newest)}.",
            f"Look at its sheet first ({_sheet(carcasses[newest])}). {_TODO[watched.figure, above]}",
            tuple(teller.details(None)),
        )
    if watch.changes:
        last = watch.changes[-1]
        told = f"In order now. {teller.change(last)}"
        return Caption("look back", told, "", tuple(teller.details(last)))
    told = "In order: nothing but the usual scatter from carcass to carcass."
    return Caption("in order", told, "", tuple(teller.details(None)))


def where_to_look(season: Season, captions: Iterable[Caption]) -> str:
    """How to narrow it down when several kinds of carcass are off and there are several benches."""
    off = sum(caption.state == "act" for caption in captions)
    benches = {carcass.bench for carcass in season.figures.carcasses if carcass.bench}
    if off < 2 or len(benches) < 2 or season.by is By.BENCH:
        return ""
    return "Several are off at once: --by bench tells whether it is one bench."


def doubts_in_words(season: Season) -> str:
    """Which carcasses were not used for limits, and why; empty when all were."""
    if not season.doubts:
        return ""
    parts = [f"{number} {_DOUBTS[doubt]}" for doubt, number in season.doubts.items()]
    told = f"Shown, but not used for any limit: {', '.join(parts)}."
    if Doubt.CORRECTED in season.doubts:
        told += (
            " Those corrected are not judged either: close them again (handsfree amend close TAG --again)."
        )
    return told


_DOUBTS: Final = {
    Doubt.NO_DRESSED_WEIGHT: "without a dressed weight",
    Doubt.CORRECTED: "corrected after closing",
    Doubt.SUSPECT: "with a suspect not cleared up",
    Doubt.NOT_EXPLAINED: "whose balance did not come out",
    Doubt.UNNAMED: "with weights without a name",
    Doubt.IN_SKIN: "weighed in skin",
}


def period_in_words(season: Season, since: date | None, until: date | None, zone: tzinfo) -> str:
    """From when to when, by what was asked for and what there is."""
    carcasses = season.figures.carcasses
    if not carcasses:
        asked = [f"from {since}" if since else "", f"to {until}" if until else ""]
        told = " ".join(part for part in asked if part)
        return f"No closed carcass {told}.".replace(" .", ".") if told else "No closed carcass yet."
    first, last = (long_day(carcasses[place].carcass.closed_at, zone) for place in (0, -1))
    days = first if first == last else f"{first} to {last}"
    return f"{counted(len(carcasses), 'carcass', 'carcasses')} closed, {days}"


def sum_of_shares(shares: Iterable[float]) -> str:
    """What the shares of the dressed weight add to, never made to fit."""
    return percent(sum(shares))


class _Teller:
    """Sentences about one watch."""

    def __init__(
        self, figure: Figure, watch: Watch, carcasses: Sequence[CarcassFigures], zone: tzinfo
    ) -> None:
        self._figure = figure
        self._watch = watch
        self._carcasses = carcasses
        self._zone = zone
        self._percent = fine_percent if figure is Figure.LOSS else percent

    def change(self, change: Change) -> str:
        """One stretch that is or was off."""
        own = [p for p in self._watch.order if change.since <= p <= change.until]
        count = counted(len(own), "carcass", "carcasses")
        more = "more" if change.above else "less"
        verb = "lost" if self._figure is Figure.LOSS else "gave"
        what = f"{more} than usual" if self._figure is Figure.LOSS else f"{more} meat than usual"
        dressed = sum(self._carcasses[p].carcass.dressed_mg or 0 for p in own) / max(len(own), 1)
        by = f"by {self._percent(abs(change.shift))} % of the dressed weight, about "
        by += f"{kg(round(abs(change.shift) * dressed), 2)} kg each"
        since = self._day(change.since)
        if change.lasting:
            return f"Since {since} {count} {verb} {what}, {by}."
        return f"From {since} to {self._day(change.until)} {count} {verb} {what}, {by}."

    def single(self, place: int) -> str:
        """One carcass that stands out."""
        carcass = self._carcasses[place]
        tag = plain(carcass.carcass.tag) or f"no. {carcass.carcass.number}"
        return f"carcass {tag} of {self._day(place)}, {self._percent(self._watch.values[place])} %"

    def details(self, told: Change | None) -> Iterable[str]:
        """Limits, single carcasses, earlier changes."""
        usual, watch = self._watch.usual, self._watch
        low, high = usual.centre - 3 * usual.sigma, usual.centre + 3 * usual.sigma
        yield (
            f"Usual: {self._percent(usual.centre)} % of the dressed weight, single carcasses from "
            f"{self._percent(low)} to {self._percent(high)} % ({self._from()})."
        )
        if watch.beyond:
            last = "; ".join(self.single(place) for place in watch.beyond[-3:])
            count = counted(len(watch.beyond), "carcass", "carcasses")
            expected = _by_chance(len(watch.order) * _BEYOND_BY_CHANCE)
            newest = "the last: " if len(watch.beyond) > 3 else ""
            yield f"{count} of {len(watch.order)} outside{expected} ({newest}{last})."
        if watch.jumps:
            yield self._jumps()
        earlier = [change for change in watch.changes if change is not told]
        if earlier:
            yield (
                f"{counted(len(earlier), 'earlier stretch', 'earlier stretches')} off, "
                f"the last from {self._day(earlier[-1].since)} to {self._day(earlier[-1].until)}."
            )

    def _jumps(self) -> str:
        jumps, chance = self._watch.jumps, len(self._watch.order) * _JUMPS_BY_CHANCE
        at = ", ".join(self._day(place) for place in jumps[-3:])
        newest = "the last " if len(jumps) > 3 else ""
        told = (
            f"{counted(len(jumps), 'jump')} from one carcass to the next{_by_chance(chance)} ({newest}{at})"
        )
        if len(jumps) <= 2 * chance:
            return f"{told}."
        return f"{told}: look at trays, the tare and a shaking bench on such days."

    def _from(self) -> str:
        usual = self._watch.usual
        if not usual.places:
            return "from the settings"
        days = f"{self._day(usual.places[0])} to {self._day(usual.places[-1])}"
        out = f", {usual.left_out} outside left out" if usual.left_out else ""
        return f"from the first {len(usual.places)} in no doubt, {days}{out}"

    def _day(self, place: int) -> str:
        return long_day(self._carcasses[place].carcass.closed_at, self._zone)


def _by_chance(expected: float) -> str:
    return f"; about {expected:.0f} would by chance" if expected >= 1 else ""


def _sheet(carcass: CarcassFigures) -> str:
    return f"handsfree sheet #{carcass.carcass.number}"
