"""The magnified end of the picture: unaccounted mass and its uncertainty against nothing missing."""

from __future__ import annotations

from handsfree.mass import MG_PER_KG
from handsfree.reporting.figures import BalanceFigures
from handsfree.reporting.markup import Markup, element
from handsfree.reporting.palette import INK, MUTED, OXBLOOD, RULE, tint
from handsfree.reporting.sheet import Identity

REST_HEIGHT = 104
_MARGIN = 62.0


def rest_line(balance: BalanceFigures, identity: Identity, top: float, width: float) -> Markup:
    """A line in grams through zero, with the band of plus or minus U around the unaccounted mass."""
    low_mg = min(0, balance.unaccounted_mg - balance.expanded_u_mg)
    high_mg = max(0, balance.unaccounted_mg + balance.expanded_u_mg)
    # A little air at both ends, and never a line without length.
    air_mg = max((high_mg - low_mg) * 0.12, 1000.0)
    low, high = low_mg - air_mg, high_mg + air_mg
    length = width - 2 * _MARGIN

    def x_of(mass_mg: float) -> float:
        return _MARGIN + (mass_mg - low) / (high - low) * length

    y = top + 58
    start, end = (x_of(balance.unaccounted_mg + sign * balance.expanded_u_mg) for sign in (-1, 1))
    middle, zero = x_of(balance.unaccounted_mg), x_of(0)
    caption = f"unaccounted {identity.unaccounted_kg} kg, give or take {identity.expanded_u_kg} kg"
    return element(
        "g",
        element("text", "The end of it, magnified", x=_MARGIN, y=top + 12, class_="total"),
        element(
            "rect",
            x=start,
            y=y - 15,
            width=max(end - start, 1.0),
            height=30.0,
            fill=tint(OXBLOOD, 0.72),
            stroke=OXBLOOD,
            stroke_width="0.8",
        ),
        *_ticks(low, high, length, y),
        element("path", d=f"M{_MARGIN} {y}H{width - _MARGIN}", stroke=INK, stroke_width="1.2"),
        element("path", d=f"M{zero:.1f} {y - 24}V{y + 15}", stroke=INK, stroke_width="2"),
        element(
            "text", "nothing missing", x=zero, y=y - 28, text_anchor=_anchor(zero, width), class_="small"
        ),
        element("path", d=f"M{middle:.1f} {y - 15}V{y + 15}", stroke=OXBLOOD, stroke_width="3"),
        element("text", caption, x=width - _MARGIN, y=top + 12, text_anchor="end", class_="cut"),
    )


def _anchor(x: float, width: float) -> str:
    if x < _MARGIN + 60:
        return "start"
    return "end" if x > width - _MARGIN - 60 else "middle"


def _ticks(low: float, high: float, length: float, y: float) -> list[Markup]:
    steps = (s * 10**p for p in range(-3, 9) for s in (1, 2, 5))
    step = next(s * 1000 for s in steps if (high - low) / (s * 1000) <= 8)
    ticks = []
    for number in range(int(low // step) + 1, int(high // step) + 1):
        mass_mg = number * step
        x = _MARGIN + (mass_mg - low) / (high - low) * length
        text = f"{mass_mg / MG_PER_KG:g} kg" if abs(mass_mg) >= MG_PER_KG else f"{mass_mg / 1000:g} g"
        ticks += [
            element("path", d=f"M{x:.1f} {y}v6", stroke=RULE if number else INK),
            element(
                "text",
                text.replace("-", "−"),
                x=x,
                y=y + 30,
                text_anchor="middle",
                class_="small",
                fill=MUTED,
            ),
        ]
    return ticks
