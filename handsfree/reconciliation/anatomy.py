"""Which joints are parts of which: a haunch weighed whole is not also short of its topside.

The trade's usual names (common practice, no source); a plan may bring its own.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

_HIND = ("rump", "topside", "silverside", "thick flank", "shank")
_CHOPS = ("double chops", "cutlets", "loin chops", "barnsley chops", "loin steaks", "noisettes")

Parts = Mapping[str, tuple[str, ...]]
"""The parts of each whole, parts of parts not repeated: {"haunch": ("rump", "topside" ...)}."""

PARTS: Final[Parts] = MappingProxyType(
    {
        "haunch": (*_HIND, "haunch steaks"),
        "leg": (*_HIND, "leg steaks"),
        "saddle": ("loin", "fillet", "rack", *_CHOPS),
        "loin": ("fillet", *_CHOPS),
        "rack": ("cutlets",),
        "shoulder": ("fore shank",),
        "neck": ("neck fillet", "scrag"),
    }
)
"""The usual parts of the joints of deer and sheep."""


def parts_of(whole: str, parts: Parts = PARTS) -> frozenset[str]:
    """All that is cut from a whole, parts of parts included; empty for what is no whole."""
    found: set[str] = set()
    ahead = list(parts.get(whole, ()))
    while ahead:
        part = ahead.pop()
        if part not in found and part != whole:
            found.add(part)
            ahead += parts.get(part, ())
    return frozenset(found)
