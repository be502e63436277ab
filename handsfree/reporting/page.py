"""The carcass sheet as one HTML file: nothing outside itself, fit for A4."""

from __future__ import annotations

from collections.abc import Iterable

from handsfree.reporting.look import STYLE
from handsfree.reporting.markup import Markup, element, join, literal
from handsfree.reporting.palette import INK, PAPER
from handsfree.reporting.picture import picture_svg, pieces_in_words
from handsfree.reporting.sheet import Heading, Sheet
from handsfree.reporting.tables import cut_table, destination_table, pair_table, piece_table, yield_table
from handsfree.reporting.verdict import balance_part, sureness_part
from handsfree.reporting.words import kg


def page_html(sheet: Sheet) -> str:
    """The whole page as text, to be written in UTF-8."""
    heading = sheet.heading
    name = f"{heading.title[:1].upper()}{heading.title[1:]}"
    head = element(
        "head",
        element("meta", charset="utf-8"),
        element("meta", name="viewport", content="width=device-width, initial-scale=1"),
        element("title", f"{name} – {heading.larder}" if heading.larder else name),
        element("style", literal(STYLE)),
    )
    body = element("body", element("main", *_parts(sheet)))
    return f"<!DOCTYPE html>\n{element('html', head, body, lang='en')}\n"


def _parts(sheet: Sheet) -> Iterable[Markup]:
    yield _header(sheet.heading)
    yield balance_part(sheet)
    picture = picture_svg(sheet)
    if picture:
        yield element("h2", "Where it went")
        yield element(
            "figure",
            element("div", picture, class_="wide"),
            element("figcaption", "The tables on this sheet give the same figures in text."),
        )
    yield element(
        "section",
        element("h2", "Pieces in the order of weighing"),
        element("p", f"{pieces_in_words(sheet)}. Times: {sheet.heading.zone}."),
        piece_table(sheet),
        class_="new-page",
    )
    yield from _exceptions(sheet)
    left = element("section", destination_table(sheet), yield_table(sheet), pair_table(sheet))
    yield element("div", left, cut_table(sheet), class_="beside")
    yield sureness_part(sheet)
    yield from _records(sheet)
    yield _footer(sheet)


def _header(heading: Heading) -> Markup:
    what = " ".join(part for part in (heading.species, heading.sex) if part)
    title = what[:1].upper() + what[1:] if what else f"Carcass number {heading.number}"
    dressed = "Dressed weight not taken"
    if heading.dressed_mg is not None:
        how = ", ".join(part for part in (heading.skin, heading.hot_or_cold) if part)
        dressed = f"{kg(heading.dressed_mg)} kg dressed" + (f", {how}" if how else "")
        dressed += f". Weighed {heading.dressed_at}, {heading.instrument}"
        if heading.indication:
            dressed += f", indicated {heading.indication}"
    times = f"Opened {heading.opened}"
    times += (
        f", closed {heading.closed} ({heading.zone})"
        if heading.closed
        else f" ({heading.zone}), still {heading.state}"
    )
    left = element(
        "div",
        element("p", heading.larder, class_="larder") if heading.larder else join(()),
        element("h1", title),
        element("p", f"{dressed}."),
        element("p", f"{times}."),
    )
    return element("header", left, _ticket(heading))


def _ticket(heading: Heading) -> Markup:
    """The tag on its string, as it hangs on the carcass."""
    number = heading.tag or f"no. {heading.number}"
    size = min(40.0, 200.0 / max(len(number), 1))
    shape = element(
        "path",
        d="M44 8H196V72H44L24 54V26Z",
        fill=PAPER,
        stroke=INK,
        stroke_width="2",
        stroke_linejoin="round",
    )
    hole = element("circle", cx="41", cy="40", r="5", fill="none", stroke=INK, stroke_width="2")
    string = element(
        "path", d="M41 40C30 36 22 40 14 30S6 10 2 2", fill="none", stroke=INK, stroke_width="1.4"
    )
    caption = element("text", "tag" if heading.tag else "no tag", x="60", y="26", class_="small")
    text = element(
        "text", number, x="122", y=50 + size * 0.18, text_anchor="middle", style=f"font-size:{size:.0f}px"
    )
    return element(
        "svg",
        shape,
        hole,
        string,
        caption,
        text,
        viewBox="0 0 200 80",
        class_="ticket",
        role="img",
        aria_label=f"Tag {number}",
    )


def _exceptions(sheet: Sheet) -> Iterable[Markup]:
    if sheet.unnamed:
        lines = [element("li", f"{piece.time}: {piece.net_kg} kg") for piece in sheet.unnamed]
        yield _section("Weights without a name (counted in the sum)", element("ul", *lines, class_="plain"))
    if sheet.unweighed:
        lines = [element("li", call) for call in sheet.unweighed]
        yield _section("Called, but no weight came", element("ul", *lines, class_="plain"))
    if sheet.struck:
        yield _section("Struck (not counted)", piece_table(sheet, struck=True))


def _section(title: str, *content: Markup) -> Markup:
    return element("section", element("h3", title), *content)


def _records(sheet: Sheet) -> Iterable[Markup]:
    parts = []
    if sheet.temperatures:
        lines = [element("li", line) for line in sheet.temperatures]
        parts.append(_section("Temperatures as spoken", element("ul", *lines, class_="plain")))
    if sheet.notes:
        lines = [element("li", line) for line in sheet.notes]
        parts.append(_section("Notes", element("ul", *lines, class_="plain")))
    if parts:
        yield element("div", *parts, class_="beside")


def _footer(sheet: Sheet) -> Markup:
    lines = [element("p", caution) for caution in sheet.cautions]
    if sheet.digest:
        entry = element("span", f"Made from ledger entries up to {sheet.last_seq}, digest ")
        lines.append(element("p", entry, element("span", sheet.digest, class_="digest")))
    return element("footer", *lines)
