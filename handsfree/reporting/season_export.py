"""A season as CSV, a row a carcass, and as JSON for other programs.

Masses and money are exact decimal text; shares are of the dressed weight. JSON carries `format`, raised when
a name changes its meaning.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from datetime import date, tzinfo
from typing import Any, Final

from handsfree.mass import format_g
from handsfree.reconciliation.season import Group, Season, Watched
from handsfree.reconciliation.season_figures import Doubt
from handsfree.reconciliation.watch import Change, Watch
from handsfree.reconciliation.worth import Worth
from handsfree.reporting.export import guarded
from handsfree.reporting.season_words import caption_of

FORMAT: Final = 1

#: The columns of the CSV, in order, with their meaning.
COLUMNS: Final[dict[str, str]] = {
    "carcass": "number of the carcass in the ledger",
    "tag": "tag of the carcass",
    "species": "species of the carcass",
    "sex": "sex of the carcass",
    "closed_at": "RFC 3339 wall time (UTC) of the closing",
    "bench": "scale its pieces were weighed on; several for more than one",
    "butcher": "who cut it; several for more than one; empty when nobody was named",
    "dressed_g": "dressed weight in grams, exact decimal text; empty when none was taken",
    "pieces_g": "sum of the standing pieces in grams, exact decimal text",
    "meat_g": "of these without bone, waste and what has no name, in grams",
    "yield": "meat_g over dressed_g",
    "unaccounted_g": "not accounted for as told at the closing, in grams",
    "loss": "unaccounted_g over dressed_g",
    "verdict": "verdict at the closing",
    "used": "yes: it may tell what is usual; no: see doubt",
    "doubt": "why it tells nothing about what is usual",
    "signals": "what the charts say of it: loss beyond, yield jump ...",
    "value": "of the pieces with a price, exact decimal text; empty without a price list",
    "value_per_kg": "value over the dressed weight in kg, rounded to 4 decimals",
    "unpriced_g": "pieces without a price in grams; empty without a price list",
}
_NUMBERS: Final = frozenset(
    {"carcass", "dressed_g", "pieces_g", "meat_g", "yield", "unaccounted_g", "loss", "value", "value_per_kg"}
    | {"unpriced_g"}
)


def season_csv(season: Season) -> str:
    """RFC 4180 text with a header line and CRLF line ends, a row a carcass in order of closing.

    Text cells are guarded as in `export.csv_text`.
    """
    out = io.StringIO(newline="")
    writer = csv.writer(out, dialect="excel")
    writer.writerow(COLUMNS)
    for row in season_rows(season):
        writer.writerow(
            ["" if row[n] is None else row[n] if n in _NUMBERS else guarded(str(row[n])) for n in COLUMNS]
        )
    return out.getvalue()


def season_rows(season: Season) -> Iterable[dict[str, Any]]:
    """One row a carcass by the names of `COLUMNS`."""
    signals = _signals(season)
    for place, each in enumerate(season.figures.carcasses):
        carcass, worths = each.carcass, season.worths
        dressed_mg = carcass.dressed_mg
        value = worths.amounts[place] if worths else None
        yield {
            "carcass": carcass.number,
            "tag": carcass.tag,
            "species": carcass.species,
            "sex": carcass.sex,
            "closed_at": carcass.closed_at,
            "bench": each.bench,
            "butcher": each.butcher,
            "dressed_g": None if dressed_mg is None else format_g(dressed_mg),
            "pieces_g": format_g(each.pieces_mg),
            "meat_g": format_g(each.meat_mg),
            "yield": None if each.meat is None else round(each.meat, 6),
            "unaccounted_g": None if carcass.unaccounted_mg is None else format_g(carcass.unaccounted_mg),
            "loss": None if each.loss is None else round(each.loss, 6),
            "verdict": carcass.verdict,
            "used": "yes" if each.doubt is Doubt.NONE else "no",
            "doubt": each.doubt.value,
            "signals": "; ".join(signals.get(place, ())),
            "value": None if value is None else format(value, "f"),
            "value_per_kg": (
                format(round(value * 1_000_000 / dressed_mg, 4), "f")
                if value is not None and dressed_mg
                else None
            ),
            "unpriced_g": format_g(each.pieces_mg - worths.priced_mg[place]) if worths else None,
        }


def season_json(
    season: Season, *, since: date | None, until: date | None, zone: tzinfo, price_day: date | None
) -> dict[str, Any]:
    """The season as plain values; single carcasses are the CSV's business."""
    worths = season.worths
    return {
        "format": FORMAT,
        "since": since.isoformat() if since else None,
        "until": until.isoformat() if until else None,
        "by": season.by.value,
        "carcasses": len(season.figures.carcasses),
        "doubts": {doubt.value: number for doubt, number in season.doubts.items()},
        "groups": [_group(group) for group in season.groups],
        "all": _group(season.whole),
        "charts": [_watched(season, watched, zone) for watched in season.watched],
        "portions": [
            {
                "cut": each.cut,
                "pieces": each.pieces,
                "weighings": each.lots,
                "mean_g": round(each.mean_mg / 1000, 3),
                "cv": _rounded(each.cv),
                "carcasses": each.carcasses,
                "cv_within": _rounded(each.cv_within),
                "thickest_to_thinnest": _rounded(each.ratio),
                "worst": _rounded(each.worst_ratio),
                "worst_carcass": each.worst,
            }
            for each in season.portions
        ],
        "currency": worths.currency if worths else None,
        "prices_of": price_day.isoformat() if price_day else None,
        "unpriced": [
            {"cut": cut, "destination": to, "mass_g": format_g(mass_mg)}
            for (cut, to), mass_mg in sorted(worths.unpriced_mg.items() if worths else ())
        ],
    }


def _group(group: Group) -> dict[str, Any]:
    return {
        "name": group.name,
        "carcasses": len(group.places),
        "in_doubt": group.doubtful,
        "dressed_g": format_g(group.dressed_mg),
        "loss": _rounded(group.loss),
        "yield": _rounded(group.meat),
        "utilisation": {to: _rounded(share) for to, share in sorted(group.utilisation.items())},
        "utilisation_sum": _rounded(sum(group.utilisation.values())),
        "value": _worth(group.worth, len(group.places)),
    }


def _worth(worth: Worth | None, carcasses: int) -> dict[str, Any] | None:
    if worth is None:
        return None
    each = worth.amount / carcasses if carcasses else None
    return {
        "amount": format(worth.amount, "f"),
        "a_carcass": None if each is None else format(round(each, 4), "f"),
        "a_kg_dressed": None if worth.per_kg_dressed is None else format(round(worth.per_kg_dressed, 4), "f"),
        "priced_g": format_g(worth.priced_mg),
        "pieces_g": format_g(worth.pieces_mg),
    }


def _watched(season: Season, watched: Watched, zone: tzinfo) -> dict[str, Any]:
    watch, caption = watched.watch, caption_of(season, watched, zone)
    told: dict[str, Any] = {
        "figure": watched.figure.value,
        "species": watched.species,
        "bench": watched.bench or None,
        "carcasses": len(watched.places),
        "usable": watched.usable,
        "state": caption.state,
        "says": caption.headline,
        "do": caption.action,
        "details": list(caption.details),
    }
    if watch is None:
        return {**told, "usual": None, "signals": None}
    numbers = [season.figures.carcasses[place].carcass.number for place in watched.places]
    return {
        **told,
        "usual": {
            "centre": _rounded(watch.usual.centre),
            "sigma": _rounded(watch.usual.sigma),
            "from_settings": not watch.usual.places,
            "carcasses": [numbers[place] for place in watch.usual.places],
            "left_out": watch.usual.left_out,
        },
        "signals": _signals_json(watch, numbers),
    }


def _signals_json(watch: Watch, numbers: Sequence[int]) -> dict[str, Any]:
    return {
        "beyond": [numbers[place] for place in watch.beyond],
        "jumps": [numbers[place] for place in watch.jumps],
        "changes": [_change(change, numbers) for change in watch.changes],
        "hints": [
            {"carcass": numbers[run.place], "rule": run.rule, "above": run.above} for run in watch.hints
        ],
    }


def _change(change: Change, numbers: Sequence[int]) -> dict[str, Any]:
    return {
        "since": numbers[change.since],
        "until": numbers[change.until],
        "above": change.above,
        "shift": _rounded(change.shift),
        "lasting": change.lasting,
        "seen_by": list(change.seen_by),
    }


def _signals(season: Season) -> dict[int, list[str]]:
    found: dict[int, list[str]] = {}
    for watched in season.watched:
        watch = watched.watch
        if watch is None:
            continue
        rows = [(place, "beyond") for place in watch.beyond] + [(place, "jump") for place in watch.jumps]
        for change in watch.changes:
            rows += [(place, "change") for place in range(change.since, change.until + 1)]
        for place, word in rows:
            found.setdefault(watched.places[place], []).append(f"{watched.figure.value} {word}")
    return found


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 6)
