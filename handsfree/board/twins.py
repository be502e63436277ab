"""The visual twin of every tone: a shape of its own, a word, and the rhythm of the tone itself.

Shape and rhythm are told apart without colour. The rhythm is the tone's, slowed so that no twin
flashes more than three times a second (WCAG 2.2, success criterion 2.3.1).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

#: How much slower a twin blinks than its tone sounds: the quickest pair of notes begins 0.1 s apart.
SLOWER = 4.0

#: Word, and outline in a square of 100 by 100, by the tone's name.
SHAPES: Mapping[str, tuple[str, str]] = {
    "accepted": ("taken", "M12 54L40 82L90 22L76 12L38 58L24 42Z"),
    "unnamed": ("no name", "M12 12H88V88H12ZM26 26V74H74V26Z"),
    "question": ("say", "M50 4L96 50L50 96L4 50ZM50 32L68 50L50 68L32 50Z"),
    "refused": ("not done", "M22 8L50 36L78 8L92 22L64 50L92 78L78 92L50 64L22 92L8 78L36 50L8 22Z"),
    "corrected": ("put right", "M8 34L34 8V24H92V44H34V60ZM92 76L66 96V84H20V68H66V56Z"),
    "noted": ("noted", "M6 40H94V60H6Z"),
    "trouble": ("look", "M50 6L96 92H4ZM44 36V64H56V36ZM44 70V82H56V70Z"),
    "closed": ("closed", "M10 92V8H90V92ZM24 22V34H76V22ZM24 44V56H76V44ZM24 66V78H76V66Z"),
    "awake": ("listening", "M50 8A42 42 0 1 0 50.1 8ZM50 24A26 26 0 1 1 49.9 24ZM50 38A12 12 0 1 0 50.1 38Z"),
    "resting": ("resting", "M64 8A42 42 0 1 0 92 64A34 34 0 0 1 64 8Z"),
}


def twins(rhythms: Mapping[str, Sequence[tuple[float, float]]]) -> dict[str, dict[str, Any]]:
    """The twin of each tone as JSON values.

    Args:
        rhythms: Seconds of sound and of silence after it, note by note, by the tone's name.

    Raises:
        KeyError: A tone has no shape.
    """
    return {
        tone: {
            "word": SHAPES[tone][0],
            "outline": SHAPES[tone][1],
            "blinks_ms": [round(1000 * SLOWER * part) for note in notes for part in note],
        }
        for tone, notes in rhythms.items()
    }
