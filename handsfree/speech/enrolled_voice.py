"""Pure: what is known of a voice that was read in."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from handsfree.speech.gate import Gate


@dataclass(frozen=True, slots=True)
class Gain:
    """Phrases kept back that were right, under one condition."""

    condition: str
    before: int
    """With the model as it comes."""
    after: int
    """With the voice's own."""
    of: int


@dataclass(frozen=True, slots=True)
class EnrolledVoice:
    """One person's voice."""

    name: str
    made: str
    """When it was worked out, RFC 3339."""
    adapted: Path | None
    """Folder with the voice's own model files; None when the model as it comes was no worse."""
    rival_scale: float
    """Factor on how much a rival's distance tells."""
    teaching: int
    """Phrases the model was taught with."""
    gains: tuple[Gain, ...]

    def gate(self, packaged: Gate) -> Gate:
        """The gate for this voice."""
        return replace(
            packaged, rival=replace(packaged.rival, behind=packaged.rival.behind * self.rival_scale)
        )


def voice_from(name: str, data: Mapping[str, object], folder: Path) -> EnrolledVoice:
    """A voice from its file's data.

    Raises:
        ValueError: Something is missing or of the wrong kind; says what.
    """

    def figure(key: str) -> float:
        value = data.get(key)
        if not isinstance(value, int | float) or isinstance(value, bool):
            raise ValueError(f"{key} is no number")  # noqa: TRY004 - one error for all faults of the file
        return float(value)

    gains = data.get("gain", [])
    if data.get("format") != 1 or not isinstance(gains, list):
        raise ValueError("not the form of this version")
    try:
        read = tuple(
            Gain(str(g["condition"]), int(g["before"]), int(g["after"]), int(g["of"])) for g in gains
        )
    except (KeyError, TypeError) as error:
        raise ValueError(f"a gain lacks {error}") from error
    return EnrolledVoice(
        name,
        str(data.get("made", "")),
        folder if data.get("own_model") is True else None,
        figure("rival_scale"),
        int(figure("teaching")),
        read,
    )


def data_of(voice: EnrolledVoice) -> dict[str, object]:
    """The voice as plain values for its file."""
    return {
        "format": 1,
        "made": voice.made,
        "own_model": voice.adapted is not None,
        "rival_scale": round(voice.rival_scale, 3),
        "teaching": voice.teaching,
        "gain": [
            {"condition": g.condition, "before": g.before, "after": g.after, "of": g.of} for g in voice.gains
        ],
    }
