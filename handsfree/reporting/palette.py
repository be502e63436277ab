"""The few colours of the page, and the contrast between them."""

from __future__ import annotations

PAPER = "#ffffff"
INK = "#1d1a17"
MUTED = "#5a534b"
RULE = "#cbc2b4"
OXBLOOD = "#7a1f2b"
GROUND = "#efebe3"

#: Fill of each destination, told apart by lightness first so that a black-and-white print still works.
_DESTINATIONS = {
    "prime": OXBLOOD,
    "dice": "#a8503f",
    "mince": "#cf8d70",
    "pet": "#56664a",
    "stock": "#e0d2ae",
    "waste": "#979993",
    "condemned": "#2c2a29",
}
_OTHERS = ("#41586b", "#8a6d2c", "#6a5675", "#3f6f6a")


def fill_of(destination: str, place: int) -> str:
    """The fill of a destination; `place` picks one for a destination of the larder's own."""
    return _DESTINATIONS.get(destination, _OTHERS[place % len(_OTHERS)])


def ink_on(fill: str) -> str:
    """White or ink, whichever stands out more on this fill."""
    return max((PAPER, INK), key=lambda ink: contrast(ink, fill))


def tint(fill: str, amount: float) -> str:
    """The fill mixed with white: 0 leaves it, 1 is white."""
    mixed = (round(channel + (255 - channel) * amount) for channel in _channels(fill))
    return "#" + "".join(f"{channel:02x}" for channel in mixed)


def contrast(one: str, other: str) -> float:
    """Contrast ratio of two colours, 1 to 21 (WCAG 2.2, "contrast ratio")."""
    light, dark = sorted((_luminance(one), _luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def _luminance(colour: str) -> float:
    """Relative luminance of an sRGB colour (WCAG 2.2, "relative luminance")."""
    parts = (channel / 255 for channel in _channels(colour))
    red, green, blue = (p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def _channels(colour: str) -> tuple[int, int, int]:
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16)
