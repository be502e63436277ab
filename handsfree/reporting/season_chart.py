"""The four charts of one watched figure, one below the other over the same carcasses, as inline SVG."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import tzinfo
from typing import Final

from handsfree.reconciliation.season import Figure, Season, Watched
from handsfree.reconciliation.season_figures import Doubt
from handsfree.reconciliation.watch import Watch
from handsfree.reporting.markup import Markup, element, join
from handsfree.reporting.palette import INK, MUTED, OXBLOOD, PAPER, RULE, tint
from handsfree.reporting.season_words import TITLES, caption_of, name_of
from handsfree.reporting.words import fine_percent, long_day, percent

#: Carcasses drawn at most, the newest ones: more would be a blur at this width.
SHOWN: Final = 240
_WIDTH: Final = 760
_LEFT, _RIGHT = 62.0, 744.0
_GAP: Final = 34.0


@dataclass(frozen=True, slots=True)
class _Panel:
    """One chart: a value, a centre and limits at some of the places shown."""

    title: str
    height: float
    places: Sequence[int]
    """Where each value lies, from 0 for the first carcass shown."""
    lines: tuple[Sequence[float], ...]
    centre: float | None
    lower: Sequence[float]
    """Empty for none."""
    upper: Sequence[float]
    write: Callable[[float], str]
    points: bool = False


def chart_svg(season: Season, watched: Watched, zone: tzinfo) -> Markup:
    """The charts; empty markup where there were too few carcasses to judge."""
    watch = watched.watch
    if watch is None:
        return join(())
    begin = max(0, len(watch.values) - SHOWN)
    count = len(watch.values) - begin
    panels = tuple(_panels(watched, watch, begin))
    identity = f"{watched.figure.value}-{watched.species}-{watched.bench}".replace(" ", "-")
    parts: list[str] = [
        element("title", f"{TITLES[watched.figure]}: {name_of(watched)}", id=f"t-{identity}"),
        element("desc", caption_of(season, watched, zone).headline, id=f"d-{identity}"),
    ]
    y = 22.0
    for panel in panels:
        parts += _drawn(panel, y, count, _marks(season, watched, watch, begin) if panel.points else {})
        y += panel.height + _GAP
    parts += _days(season, watched, begin, count, y - _GAP + 18, zone)
    return element(
        "svg",
        *parts,
        viewBox=f"0 0 {_WIDTH} {y:.0f}",
        role="img",
        aria_labelledby=f"t-{identity} d-{identity}",
    )


def _panels(watched: Watched, watch: Watch, begin: int) -> Iterable[_Panel]:
    write = fine_percent if watched.figure is Figure.LOSS else percent
    values, single = watch.values[begin:], watch.individuals
    yield _Panel(
        "each carcass, % of the dressed weight; band: three standard deviations about the usual",
        150,
        range(len(values)),
        (values,),
        single.centre,
        single.lower[begin:],
        single.upper[begin:],
        write,
        points=True,
    )
    skipped = sum(place < begin for place in watch.order)
    places = [place - begin for place in watch.order[skipped:]]
    ranges = watch.ranges.values[max(skipped - 1, 0) :]
    after = places[len(places) - len(ranges) :]
    yield _Panel(
        "difference from the carcass before",
        56,
        after,
        (ranges,),
        watch.ranges.centre,
        (),
        watch.ranges.upper[: len(ranges)],
        write,
    )
    yield _Panel(
        "running average (EWMA)",
        78,
        places,
        (watch.averages.values[skipped:],),
        watch.averages.centre,
        watch.averages.lower[skipped:],
        watch.averages.upper[skipped:],
        write,
    )
    limit = (watch.sums.limit,) * len(places)
    yield _Panel(
        "running sums (CUSUM), in standard deviations: above the usual upwards, below it downwards",
        78,
        places,
        (watch.sums.above[skipped:], tuple(-value for value in watch.sums.below[skipped:])),
        0.0,
        tuple(-value for value in limit),
        limit,
        lambda value: f"{value:.0f}".replace("-", "−"),
    )


def _drawn(panel: _Panel, top: float, count: int, marks: dict[int, str]) -> Iterable[Markup]:
    if not panel.places:
        return
    known = [*(v for line in panel.lines for v in line), *panel.lower, *panel.upper]
    low, high = min(known), max(known)
    room = (high - low) * 0.06 or 1.0
    low, high = (low - room if panel.lower else min(low, 0.0)), high + room

    def y_of(value: float) -> float:
        return top + (high - value) / (high - low) * panel.height

    xs = [_x(place, count) for place in panel.places]
    yield element("text", panel.title, x=_LEFT, y=top - 7, class_="small")
    bottom = panel.lower or (low,) * len(panel.upper)
    back = [f"{x:.1f} {y_of(v):.1f}" for x, v in zip(reversed(xs), reversed(bottom), strict=True)]
    ahead = [f"{x:.1f} {y_of(v):.1f}" for x, v in zip(xs, panel.upper, strict=True)]
    yield element("path", d=f"M{'L'.join([*ahead, *back])}Z", fill=tint(RULE, 0.55))
    if panel.centre is not None:
        y = y_of(panel.centre)
        yield element("path", d=f"M{_LEFT} {y:.1f}H{_RIGHT}", stroke=MUTED, stroke_dasharray="5 4")
        yield _label(panel.write(panel.centre), y)
    for ends in (panel.upper[-1:], panel.lower[-1:]):
        for limit in ends:
            yield _label(panel.write(limit), y_of(limit))
    for line in panel.lines:
        points = [f"{x:.1f} {y_of(v):.1f}" for x, v in zip(xs, line, strict=True)]
        thin = "0.8" if panel.points else "1.4"
        stroke = RULE if panel.points else INK
        yield element("path", d=f"M{'L'.join(points)}", fill="none", stroke=stroke, stroke_width=thin)
    if panel.points:
        for place, x, value in zip(panel.places, xs, panel.lines[0], strict=True):
            yield _point(x, y_of(value), marks.get(place, ""))
    else:
        for line in panel.lines:
            yield from _over(panel, xs, line, y_of)


def _over(
    panel: _Panel, xs: Sequence[float], line: Sequence[float], y_of: Callable[[float], float]
) -> Iterable[Markup]:
    lower = panel.lower or (float("-inf"),) * len(xs)
    for x, value, low, high in zip(xs, line, lower, panel.upper, strict=True):
        if not low <= value <= high:
            yield element("circle", cx=x, cy=y_of(value), r="2.4", fill=OXBLOOD)


def _point(x: float, y: float, mark: str) -> Markup:
    if mark == "beyond":
        return element("circle", cx=x, cy=y, r="4.2", fill=OXBLOOD)
    if mark == "doubt":
        return element("circle", cx=x, cy=y, r="3.4", fill=PAPER, stroke=OXBLOOD, stroke_width="1.4")
    if mark == "usual":
        return element("circle", cx=x, cy=y, r="2.6", fill=MUTED)
    return element("circle", cx=x, cy=y, r="2.6", fill=INK)


def _marks(season: Season, watched: Watched, watch: Watch, begin: int) -> dict[int, str]:
    """How the carcasses shown are marked; those not marked are in order."""
    marks = {place - begin: "usual" for place in watch.usual.places}
    marks |= {place - begin: "beyond" for place in watch.beyond}
    for place, row in enumerate(watched.places[begin:]):
        if season.figures.carcasses[row].doubt is not Doubt.NONE and marks.get(place) != "beyond":
            marks[place] = "doubt"
    return marks


def _label(text: str, y: float) -> Markup:
    return element("text", text, x=_LEFT - 8, y=y + 4, text_anchor="end", class_="small")


def _days(
    season: Season, watched: Watched, begin: int, count: int, y: float, zone: tzinfo
) -> Iterable[Markup]:
    for place, anchor in ((0, "start"), (count // 2, "middle"), (count - 1, "end")):
        if place == count // 2 and count < 3:
            continue
        carcass = season.figures.carcasses[watched.places[begin + place]].carcass
        x = _x(place, count)
        yield element("text", long_day(carcass.closed_at, zone), x=x, y=y, text_anchor=anchor, class_="small")


def _x(place: int, count: int) -> float:
    return _LEFT + (place + 0.5) / count * (_RIGHT - _LEFT)
