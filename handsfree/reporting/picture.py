"""The picture of where the mass went: the carcass hanging from the rail, divided as it was cut.

Its whole height is the dressed weight. The wide strip shows destinations, the narrow one beside it
the cuts; process loss is hatched, unaccounted mass is left open, and a magnified line below shows
the unaccounted mass with its uncertainty against nothing missing.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from handsfree.mass import MG_PER_KG
from handsfree.reporting.markup import Markup, element, join
from handsfree.reporting.palette import INK, MUTED, OXBLOOD, PAPER, RULE, fill_of, ink_on, tint
from handsfree.reporting.restline import REST_HEIGHT, rest_line
from handsfree.reporting.sheet import NO_DESTINATION, Sheet
from handsfree.reporting.words import counted, kg, percent, sentence

WIDTH = 760
_TOP, _LEAST_HEIGHT, _LINE, _GROUP_LINE = 74.0, 430.0, 15.0, 22.0
_RULER_X, _WIDE_X, _NARROW_X, _NARROW_END, _LABEL_X = 46.0, 62.0, 196.0, 262.0, 330.0
_KG_X, _PERCENT_X = 620.0, 700.0

#: Characters that fit beside and inside the strips; the tables give long names in full.
_LABEL_CHARACTERS, _INSIDE_CHARACTERS = 34, 17


@dataclass(frozen=True, slots=True)
class Block:
    """One stretch of the hanging carcass with its label."""

    name: str
    mass_mg: int
    net_kg: str
    share: float | None
    fill: str
    pattern: str = ""
    """"hatched" for process loss, "open" for unaccounted, "blank" without a destination, else empty."""
    heads: tuple[Block, ...] = ()
    """The cuts of a destination."""


def blocks_of(sheet: Sheet) -> tuple[Block, ...]:
    """What hangs from the rail, top to bottom; parts without mass are left out."""
    blocks = []
    for place, destination in enumerate(sheet.destinations):
        total = destination.total
        fill = fill_of(total.name, place)
        pattern = "blank" if total.name == NO_DESTINATION else ""
        cuts = tuple(
            Block(cut.name, cut.mass_mg, cut.net_kg, cut.share, tint(fill, 0.14 * (number % 2)), pattern)
            for number, cut in enumerate(destination.cuts)
        )
        blocks.append(Block(total.name, total.mass_mg, total.net_kg, total.share, fill, pattern, cuts))
    if sheet.balance and sheet.identity:
        for name, mass_mg, text, pattern in (
            (
                "process loss, expected",
                sheet.balance.process_loss_mg,
                sheet.identity.process_loss_kg,
                "hatched",
            ),
            ("unaccounted", sheet.balance.unaccounted_mg, sheet.identity.unaccounted_kg, "open"),
        ):
            blocks.append(Block(name, mass_mg, text, mass_mg / sheet.balance.dressed_mg, PAPER, pattern))
    return tuple(block for block in blocks if block.mass_mg > 0)


def picture_text(sheet: Sheet) -> str:
    """The picture in words, for those who do not see it."""
    heading = sheet.heading
    whole = f"Of {kg(heading.dressed_mg)} kg dressed weight" if heading.dressed_mg else "Of all pieces"
    parts = [
        f"{block.net_kg} kg{f' ({percent(block.share)} %)' if block.share is not None else ''} {block.name}"
        for block in blocks_of(sheet)
    ]
    text = f"{whole}: {'; '.join(parts)}."
    if sheet.balance and sheet.identity:
        text += f" Unaccounted mass {sheet.identity.unaccounted_kg} kg, give or take"
        text += f" {sheet.identity.expanded_u_kg} kg. {sentence(sheet.balance.sentence)}"
    return text


def picture_svg(sheet: Sheet) -> Markup:
    """The picture as inline SVG; empty markup when there is nothing to draw."""
    blocks = blocks_of(sheet)
    if not blocks:
        return join(())
    room = sum(_GROUP_LINE + len(block.heads) * _LINE + 3 for block in blocks)
    height = max(_LEAST_HEIGHT, room + 8)
    whole_mg = max(sheet.heading.dressed_mg or 0, sum(block.mass_mg for block in blocks))
    scale = height / whole_mg
    total_height = _TOP + height + 16 + (REST_HEIGHT if sheet.balance else 0)
    parts: list[str] = [
        element("title", "Where the mass went", id="picture-title"),
        element("desc", picture_text(sheet), id="picture-text"),
        _hatching(),
        _rail(),
        *_ruler(whole_mg, scale),
        *_column(blocks, scale, height),
    ]
    if sheet.heading.dressed_mg and whole_mg > sheet.heading.dressed_mg:
        parts += _beyond(_TOP + sheet.heading.dressed_mg * scale)
    if sheet.balance and sheet.identity:
        parts.append(rest_line(sheet.balance, sheet.identity, _TOP + height + 16, WIDTH))
    return element(
        "svg",
        *parts,
        viewBox=f"0 0 {WIDTH} {total_height:.0f}",
        role="img",
        aria_labelledby="picture-title picture-text",
    )


def spread(wanted: Sequence[float], gaps: Sequence[float], least: float, most: float) -> list[float]:
    """Label positions near the wanted ones (ascending), within the limits.

    `gaps[i]` is the least distance between label i and the one before it. When there is not room
    for all of them, the last stays at `most` and the first ones pass above `least`.
    """
    places: list[float] = []
    for y, gap in zip(wanted, gaps, strict=True):
        places.append(max(y, places[-1] + gap if places else least))
    ceiling = most
    for index in range(len(places) - 1, -1, -1):
        places[index] = min(places[index], ceiling)
        ceiling = places[index] - gaps[index]
    return places


def _hatching() -> Markup:
    stripe = element("path", d="M0 6L6 0", stroke=MUTED, stroke_width="1")
    return element(
        "defs", element("pattern", stripe, id="hatch", width="6", height="6", patternUnits="userSpaceOnUse")
    )


def _rail() -> Markup:
    """The rail and the two hooks the carcass hangs from."""
    line = {"fill": "none", "stroke": INK, "stroke_linecap": "round"}
    hooks = "".join(
        f"M{x - 8} 18a9 9 0 1 1 17 3C{x + 9} 40 {x - 9} 36 {x - 9} {_TOP - 12}a9 9 0 0 0 17 4"
        for x in (_WIDE_X + 44, _NARROW_END - 44)
    )
    return element(
        "g",
        element("path", d=f"M{_RULER_X - 30} 24H{_NARROW_END + 36}", stroke_width="5", **line),
        element("path", d=hooks, stroke_width="2.2", **line),
    )


def _ruler(whole_mg: int, scale: float) -> Iterable[Markup]:
    step_kg = next(
        (s for s in (0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100) if whole_mg / MG_PER_KG / s <= 10), 200
    )
    step_mg = round(step_kg * MG_PER_KG)
    yield element("text", "kg", x=_RULER_X - 8, y=_TOP - 8, text_anchor="end", class_="small")
    for mass_mg in range(0, whole_mg + 1, step_mg):
        y = _TOP + mass_mg * scale
        yield element("path", d=f"M{_RULER_X - 5} {y:.1f}h9", stroke=MUTED, fill="none")
        number = f"{mass_mg / MG_PER_KG:g}"
        yield element("text", number, x=_RULER_X - 8, y=y + 4, text_anchor="end", class_="small")


def _column(blocks: Sequence[Block], scale: float, height: float) -> Iterable[Markup]:
    wanted: list[tuple[Block, float, bool]] = []
    y = _TOP
    for block in blocks:
        tall = block.mass_mg * scale
        yield _rectangle(block, _WIDE_X, y, (_NARROW_X if block.heads else _NARROW_END) - _WIDE_X, tall)
        if tall >= 18 and block.heads:
            yield element(
                "text",
                _short(block.name, _INSIDE_CHARACTERS),
                x=_WIDE_X + 10,
                y=y + min(tall / 2 + 4.5, 20),
                class_="name",
                style=f"fill:{INK if block.pattern else ink_on(block.fill)}",
            )
        wanted.append((block, y if block.heads else y + tall / 2, True))
        for cut in block.heads:
            tall = cut.mass_mg * scale
            if tall > 0:
                yield _rectangle(cut, _NARROW_X, y, _NARROW_END - _NARROW_X, tall)
                wanted.append((cut, y + tall / 2, False))
            y += max(tall, 0)
        if not block.heads:
            y += tall
    bolds = [bold for _, _, bold in wanted]
    # A little more room around a destination's line, which is underlined.
    gaps = [
        _GROUP_LINE if bold else _LINE + 3 * before
        for before, bold in zip([False, *bolds], bolds, strict=False)
    ]
    places = spread([at for _, at, _ in wanted], gaps, _TOP + 6, _TOP + height - 4)
    for (block, at, bold), place in zip(wanted, places, strict=True):
        yield from _label(block, at, place, bold=bold)


def _rectangle(block: Block, x: float, y: float, width: float, tall: float) -> Markup:
    fill = {"hatched": "url(#hatch)", "open": PAPER, "blank": PAPER}.get(block.pattern, block.fill)
    dashed = "5 3" if block.pattern == "open" else None
    edge = OXBLOOD if block.pattern == "open" else (MUTED if block.pattern else PAPER)
    return element(
        "rect",
        x=x,
        y=y,
        width=width,
        height=tall,
        fill=fill,
        stroke=edge,
        stroke_width="1.6" if block.pattern == "open" else "0.8",
        stroke_dasharray=dashed,
    )


def _label(block: Block, at: float, place: float, *, bold: bool) -> Iterable[Markup]:
    class_ = "total" if bold else "cut"
    if not block.heads:
        bend = f"M{_NARROW_END + 3} {at:.1f}h10L{_LABEL_X - 20} {place:.1f}h{4 if bold else 28}"
        yield element("path", d=bend, stroke=RULE, fill="none")
    if bold:
        yield _rectangle(block, _LABEL_X - 13, place - 4.5, 9, 9)
        yield element("path", d=f"M{_LABEL_X} {place + 8:.1f}H{_PERCENT_X}", stroke=RULE, fill="none")
    x = _LABEL_X if bold else _LABEL_X + 14
    yield element("text", _short(block.name, _LABEL_CHARACTERS), x=x, y=place + 4, class_=class_)
    yield element("text", block.net_kg, x=_KG_X, y=place + 4, class_=class_, text_anchor="end")
    if block.share is not None:
        yield element(
            "text", f"{percent(block.share)} %", x=_PERCENT_X, y=place + 4, class_=class_, text_anchor="end"
        )


def _beyond(y: float) -> list[Markup]:
    """The line of the dressed weight when more came out than went in."""
    return [
        element("path", d=f"M{_RULER_X} {y:.1f}H{_NARROW_END + 8}", stroke=INK, stroke_width="2.5"),
        element("text", "dressed", x=_NARROW_END + 12, y=y + 4, class_="small over"),
    ]


def _short(text: str, most: int) -> str:
    return text if len(text) <= most else f"{text[: most - 1].rstrip()}…"


def pieces_in_words(sheet: Sheet) -> str:
    """How many weighings and pieces stand on the sheet: "29 weighings, 37 pieces"."""
    number = sum(piece.count for piece in sheet.pieces)
    return f"{counted(len(sheet.pieces), 'weighing')}, {counted(number, 'piece')}"
