"""A few lines to build HTML and SVG in which every text is escaped unless it was built here."""

from __future__ import annotations

from collections.abc import Iterable
from html import escape

from handsfree.reporting.words import plain

_VOID = frozenset({"meta", "br", "hr", "col"})


class Markup(str):
    """Text that is markup already; only `element`, `join` and `literal` make it."""

    __slots__ = ()


def element(name: str, /, *children: str, **attributes: str | float | None) -> Markup:
    """An element; plain `str` children and all attribute values are escaped.

    An attribute that is None is left out. `class_` stands for class, other underscores for hyphens.
    """
    pairs = (
        f' {key.rstrip("_").replace("_", "-")}="{escape(_value(value))}"'
        for key, value in attributes.items()
        if value is not None
    )
    start = f"<{name}{''.join(pairs)}>"
    if name in _VOID:
        return Markup(start)
    return Markup(f"{start}{join(children)}</{name}>")


def join(children: Iterable[str]) -> Markup:
    """The children one after the other, plain text escaped."""
    return Markup(
        "".join(child if isinstance(child, Markup) else escape(plain_keep(child)) for child in children)
    )


def plain_keep(text: str) -> str:
    """The text cleaned of forbidden characters, with a blank kept at either end."""
    cleaned = plain(text)
    before = " " if text[:1].isspace() else ""
    after = " " if text[-1:].isspace() and cleaned else ""
    return f"{before}{cleaned}{after}"


def literal(text: str) -> Markup:
    """Markup written by hand in this package (style sheets, the document type)."""
    return Markup(text)


def _value(value: str | float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".") if isinstance(value, float) else plain(str(value))
