"""From the cut list's documents to the model, with every fault noted at its line. Pure."""

from __future__ import annotations

from typing import Any

from handsfree.speech.cutlist import WIDE_SPREAD, Cut, CutList, Destination, Plan, PlannedPiece, Species
from handsfree.speech.meaning import Side
from handsfree.speech.sheets import Sheets

_KINDS = ("primal", "joint", "small", "trim", "offal", "refuse")
_CUT_KEYS = {"aliases", "plurals", "sided", "destination", "class", "share", "spread", "source"}
_PIECE_KEYS = {"cut", "sides", "count", "weighings", "share", "spread", "source"}
_WIDEST = 2.0
"""No spread of ln(share) is believed beyond this: a factor of seven either way."""


def read_cutlist(sheets: Sheets) -> CutList:
    """The cut list; what cannot be read is left out and noted as a fault."""
    destinations = tuple(
        Destination(sheets.phrase(name, "destination", name), tuple(sheets.texts("destination", name)))
        for name in sheets.names("destination")
    )
    if not destinations:
        sheets.fault("there are no destinations", "destination")
    cuts = tuple(_cut(sheets, name, {place.name for place in destinations}) for name in sheets.names("cut"))
    if not cuts:
        sheets.fault("there are no cuts", "cut")
    _no_name_twice(sheets, cuts)
    species = tuple(_species(sheets, name) for name in sheets.names("species"))
    by_name = {cut.name: cut for cut in cuts}
    plans = tuple(_plan(sheets, name, by_name) for name in sheets.names("plan"))
    return CutList(sheets.text("name", default="cuts"), cuts, destinations, species, plans)


def _cut(sheets: Sheets, name: str, destinations: set[str]) -> Cut:
    at = ("cut", name)
    sheets.only(_CUT_KEYS, *at)
    destination = sheets.text(*at, "destination")
    if destination not in destinations:
        known = ", ".join(sorted(destinations))
        said = f"unknown destination {destination!r}" if destination else "no destination"
        sheets.fault(f"cut {name!r} has {said}; known: {known}", *at, "destination")
    kind = sheets.text(*at, "class", default="joint")
    if kind not in _KINDS:
        sheets.fault(f"cut {name!r} has unknown class {kind!r}; known: {', '.join(_KINDS)}", *at, "class")
    return Cut(
        name=sheets.phrase(name, *at),
        aliases=tuple(sheets.texts(*at, "aliases")),
        plurals=tuple(sheets.texts(*at, "plurals")),
        sided=sheets.flag(*at, "sided"),
        destination=destination,
        kind=kind,
        share=sheets.number(*at, "share", low=0, high=1),
        spread=sheets.number(*at, "spread", low=0, high=_WIDEST) or WIDE_SPREAD,
        source=sheets.text(*at, "source"),
    )


def _no_name_twice(sheets: Sheets, cuts: tuple[Cut, ...]) -> None:
    owner: dict[str, str] = {}
    for cut in cuts:
        for name in cut.spoken_names():
            first = owner.setdefault(name, cut.name)
            if first != cut.name:
                where = sheets.where("cut", first)
                sheets.fault(
                    f"{name!r} names the cut {cut.name!r} and also {first!r} ({where})", "cut", cut.name
                )


def _species(sheets: Sheets, name: str) -> Species:
    at = ("species", name)
    sheets.only({"aliases", "sexes"}, *at)
    return Species(
        sheets.phrase(name, *at), tuple(sheets.texts(*at, "aliases")), tuple(sheets.texts(*at, "sexes"))
    )


def _plan(sheets: Sheets, name: str, cuts: dict[str, Cut]) -> Plan:
    at = ("plan", name)
    sheets.only({"aliases", "description", "pieces"}, *at)
    rows = sheets.value(*at, "pieces")
    pieces: list[PlannedPiece] = []
    if not isinstance(rows, list) or not rows:
        sheets.fault(f"plan {name!r} needs a list of pieces", *at)
        rows = []
    for number, row in enumerate(rows):
        pieces += _planned(sheets, row, (*at, "pieces", number), cuts)
    return Plan(
        sheets.phrase(name, *at),
        sheets.text(*at, "description"),
        tuple(pieces),
        tuple(sheets.texts(*at, "aliases")),
    )


def _planned(sheets: Sheets, row: Any, at: tuple[str | int, ...], cuts: dict[str, Cut]) -> list[PlannedPiece]:
    if not isinstance(row, dict) or row.get("cut") not in cuts:
        said = row.get("cut") if isinstance(row, dict) else row
        sheets.fault(f"a planned piece names no cut of this list: {said!r}", *at)
        return []
    cut = cuts[row["cut"]]
    for key in set(row) - _PIECE_KEYS:
        sheets.fault(f"{key!r} is not known here; known: {', '.join(sorted(_PIECE_KEYS))}", *at)
    sides = row.get("sides", [])
    if not isinstance(sides, list) or not set(map(str, sides)) <= set(Side):
        sheets.fault('"sides" should be a list of "left" and "right"', *at)
        sides = []
    if sides and not cut.sided:
        sheets.fault(f"cut {cut.name!r} has no sides", *at)
    count = _whole(sheets, row.get("count", 1), "count", at)
    times = _whole(sheets, row.get("weighings", 1), "weighings", at)
    share = sheets.checked_number(row.get("share"), (*at, "share"), 0, 1)
    spread = sheets.checked_number(row.get("spread"), (*at, "spread"), 0, _WIDEST)
    own = cut.share * count if cut.share is not None else None
    piece = [
        PlannedPiece(
            cut.name,
            Side(side) if side else None,
            count,
            share if share is not None else own,
            spread if spread is not None else cut.spread,
            str(row.get("source", cut.source)),
        )
        for side in (sides or [None])
    ]
    return piece * times


def _whole(sheets: Sheets, found: Any, name: str, at: tuple[str | int, ...]) -> int:
    if isinstance(found, bool) or not isinstance(found, int) or not 1 <= found <= 20:
        sheets.fault(f"{name!r} should be a whole number from 1 to 20", *at)
        return 1
    return found
