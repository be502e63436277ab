"""A season as one HTML file: nothing outside itself, fit for A4."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, tzinfo
from typing import Final

from handsfree.reconciliation.season import By, Season, Watched
from handsfree.reporting.look import STYLE
from handsfree.reporting.markup import Markup, element, join, literal
from handsfree.reporting.palette import INK, MUTED, OXBLOOD, PAPER, fill_of
from handsfree.reporting.season_chart import SHOWN, chart_svg
from handsfree.reporting.season_terminal import destinations, group_name, money, unpriced_in_words
from handsfree.reporting.season_words import (
    CAUTIONS,
    TITLES,
    Caption,
    caption_of,
    doubts_in_words,
    name_of,
    period_in_words,
    sum_of_shares,
    where_to_look,
)
from handsfree.reporting.words import counted, fine_percent, kg, percent, plain

_STYLE: Final = f"""
.state {{ display: inline-block; font-size: 13px; letter-spacing: 0.08em; text-transform: uppercase;
  color: {MUTED}; }}
.act .state {{ color: {OXBLOOD}; }}
.watch {{ border-left: 6px solid {INK}; padding: 2px 0 4px 16px; margin: 8px 0 4px; }}
.watch.act {{ border-left-color: {OXBLOOD}; }}
.watch p:nth-child(2) {{ font-size: 17px; line-height: 1.3; }}
.watch .do {{ font-weight: 600; }}
figure svg.bars text {{ font-size: 12.5px; }}
ul.key {{ list-style: none; padding: 0; margin: 4px 0; display: flex; flex-wrap: wrap; gap: 2px 18px;
  font-size: 13px; color: {MUTED}; }}
ul.key svg {{ width: 12px; height: 12px; vertical-align: -1px; margin-right: 6px; }}
@media print {{ .watched {{ break-inside: avoid; }} figcaption {{ display: block; }} }}
"""


def season_html(
    season: Season,
    *,
    larder: str,
    since: date | None,
    until: date | None,
    zone: tzinfo,
    price_day: str = "",
) -> str:
    """The whole page as text, to be written in UTF-8."""
    title = period_in_words(season, since, until, zone)
    head = element(
        "head",
        element("meta", charset="utf-8"),
        element("meta", name="viewport", content="width=device-width, initial-scale=1"),
        element("title", f"Season – {larder}" if larder else "Season"),
        element("style", literal(STYLE + _STYLE)),
    )
    parts = [
        element("p", larder, class_="larder") if larder else join(()),
        element("h1", "The season"),
        element("p", f"{title}."),
        *_parts(season, zone, price_day),
        element("footer", *(element("p", caution) for caution in CAUTIONS)),
    ]
    html = element("html", head, element("body", element("main", *parts)), lang="en")
    return f"<!DOCTYPE html>\n{html}\n"


def _parts(season: Season, zone: tzinfo, price_day: str) -> Iterable[Markup]:
    if not season.figures.carcasses:
        yield element("p", "A carcass counts once it is closed.")
        return
    doubts = doubts_in_words(season)
    if doubts:
        yield element("p", doubts)
    yield from _to_do(season, zone)
    yield element("h2", f"By {season.by.value}")
    yield _groups(season)
    for place, watched in enumerate(season.watched):
        yield _watched(season, watched, zone, first=place == 0)
    yield element("h2", "Where it went")
    yield _bars(season)
    yield _utilisation(season)
    if season.portions:
        yield element("h2", "Portions")
        yield _portions(season)
    if season.worths is not None:
        yield element("h2", f"Value, in {plain(season.worths.currency)}")
        yield element("p", f"By the larder's own price list of {price_day}.")
        yield _worth(season)
        for line in unpriced_in_words(season):
            yield element("p", line)


def _to_do(season: Season, zone: tzinfo) -> Iterable[Markup]:
    """What is off now, all together, before the charts that show it."""
    captions = [(watched, caption_of(season, watched, zone)) for watched in season.watched]
    act = [(watched, caption) for watched, caption in captions if caption.state == "act"]
    if not act:
        return
    lines = (
        element(
            "li",
            element("b", f"{name_of(watched)}, {TITLES[watched.figure].lower()}: "),
            f"{caption.headline} {caption.action}",
        )
        for watched, caption in act
    )
    yield element("h2", "To look at now")
    yield element("ul", *lines)
    where = where_to_look(season, [caption for _, caption in captions])
    if where:
        yield element("p", where)


def _watched(season: Season, watched: Watched, zone: tzinfo, *, first: bool) -> Markup:
    caption = caption_of(season, watched, zone)
    parts: list[Markup] = [element("h2", f"{TITLES[watched.figure]}: {name_of(watched)}"), _verdict(caption)]
    if watched.watch is not None:
        shown = min(len(watched.places), SHOWN)
        older = len(watched.places) - shown
        told = f"The newest {shown} of {len(watched.places)} carcasses. " if older else ""
        told = f"{told}{caption.action}".strip()
        picture = element("div", chart_svg(season, watched, zone), class_="wide")
        parts.append(element("figure", picture, *([element("figcaption", told)] if told else [])))
    if first:
        parts.append(_key())
    parts.append(element("div", *(element("p", line) for line in caption.details), class_="fine"))
    return element("section", *parts, class_="watched")


def _verdict(caption: Caption) -> Markup:
    lines = [element("p", caption.state, class_="state"), element("p", caption.headline)]
    if caption.action:
        lines.append(element("p", caption.action, class_="do"))
    return element("div", *lines, class_="watch act" if caption.state == "act" else "watch")


def _key() -> Markup:
    dots = (
        (MUTED, MUTED, "tells what is usual"),
        (INK, INK, "held against it"),
        (OXBLOOD, OXBLOOD, "stands out"),
        (PAPER, OXBLOOD, "in doubt, used for no limit"),
    )
    return element(
        "ul",
        *(
            element(
                "li",
                element(
                    "svg",
                    element("circle", cx="6", cy="6", r="4.5", fill=fill, stroke=edge, stroke_width="1.5"),
                    viewBox="0 0 12 12",
                    aria_hidden="true",
                ),
                text,
            )
            for fill, edge, text in dots
        ),
        class_="key",
    )


def _groups(season: Season) -> Markup:
    rows = [
        (
            group_name(season, group),
            str(len(group.places)),
            str(group.doubtful or ""),
            kg(group.dressed_mg, 1),
            fine_percent(group.loss),
            percent(group.meat),
        )
        for group in (*season.groups, season.whole)
    ]
    heads = (season.by.value, "carcasses", "in doubt", "dressed kg", "not accounted for %", "meat %")
    return _table(heads, rows, total=True)


def _utilisation(season: Season) -> Markup:
    names = destinations(season)
    heads = (season.by.value, *(plain(name) or "none" for name in names), "in all")
    rows = []
    for group in (*season.groups, season.whole):
        shares = [percent(group.utilisation.get(name)) for name in names]
        rows.append((group_name(season, group), *shares, sum_of_shares(group.utilisation.values())))
    note = element("p", "Percent of the dressed weight, as it is: not made to add to 100.")
    return join((_table(heads, rows, total=True), element("div", note, class_="fine")))


def _portions(season: Season) -> Markup:
    rows = [
        (
            plain(each.cut),
            str(each.pieces),
            f"{each.mean_mg / 1000:.0f}",
            percent(each.cv_within),
            "" if each.ratio is None else f"{each.ratio:.2f}",
            "" if each.worst_ratio is None else f"{each.worst_ratio:.2f} (#{each.worst})",
        )
        for each in season.portions
    ]
    heads = ("cut", "pieces", "mean g", "CV within a carcass %", "thickest to thinnest", "worst")
    note = "By the mean piece of each weighing, within carcasses of two weighings or more. To make portions "
    note += "more even, weigh them a few at a time and look at the carcass that is worst."
    return join((_table(heads, rows), element("div", element("p", note), class_="fine")))


def _worth(season: Season) -> Markup:
    rows = []
    for group in (*season.groups, season.whole):
        worth, count = group.worth, len(group.places)
        assert worth is not None
        rows.append(
            (
                group_name(season, group),
                money(worth.amount),
                money(worth.amount / count) if count else "",
                "" if worth.per_kg_dressed is None else money(worth.per_kg_dressed),
                percent(worth.priced_mg / worth.pieces_mg if worth.pieces_mg else None),
            )
        )
    heads = (season.by.value, "in all", "a carcass", "a kg dressed", "% of the pieces priced")
    return _table(heads, rows, total=True)


def _bars(season: Season) -> Markup:
    """A bar a group, the newest twelve: the dressed weight by destination."""
    shown = season.groups[-12:]
    names = destinations(season)
    whole = max(1.0, *(sum(group.utilisation.values()) for group in shown))
    left, width, line = 130.0, 620.0, 26.0
    parts: list[Markup] = []
    for row, group in enumerate(shown):
        x, y = left, 4 + row * line
        name = group_name(season, group)
        parts.append(element("text", name[:18], x=left - 10, y=y + 14, text_anchor="end"))
        for place, to in enumerate(names):
            wide = group.utilisation.get(to, 0.0) / whole * width
            if wide > 0:
                fill = fill_of(to, place) if to else PAPER
                parts.append(element("rect", x=x, y=y, width=wide, height=20.0, fill=fill, stroke=PAPER))
            x += max(wide, 0.0)
        parts.append(element("rect", x=left, y=y, width=width / whole, height=20.0, fill="none", stroke=INK))
    key = (
        element(
            "li",
            element(
                "svg",
                element("rect", width="12", height="12", fill=fill_of(to, place) if to else PAPER),
                viewBox="0 0 12 12",
                aria_hidden="true",
            ),
            plain(to) or "no destination",
        )
        for place, to in enumerate(names)
    )
    words = f"{counted(len(shown), season.by.value, 'species' if season.by is By.SPECIES else '')}"
    picture = element(
        "svg",
        element("title", f"Share of the dressed weight by destination, {words}"),
        *parts,
        viewBox=f"0 0 760 {8 + len(shown) * line:.0f}",
        role="img",
        class_="bars",
    )
    note = "The frame is the dressed weight; what it leaves open went in cutting or is not accounted for."
    return element("figure", picture, element("ul", *key, class_="key"), element("figcaption", note))


def _table(heads: Sequence[str], rows: Sequence[Sequence[str]], *, total: bool = False) -> Markup:
    def line(row: Sequence[str]) -> Markup:
        return element(
            "tr", *(element("td", cell, class_="n" if at else None) for at, cell in enumerate(row))
        )

    head = element(
        "thead",
        element(
            "tr",
            *(element("th", name, scope="col", class_="n" if at else None) for at, name in enumerate(heads)),
        ),
    )
    body = element("tbody", *(line(row) for row in (rows[:-1] if total else rows)))
    foot = element("tfoot", line(rows[-1])) if total else join(())
    return element("div", element("table", head, body, foot), class_="wide")
