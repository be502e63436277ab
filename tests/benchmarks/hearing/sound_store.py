"""Rendered and denoised tracks on disk, so that every script listens to the same sound for nothing.

The folder is HANDSFREE_BENCH_CACHE, by default `handsfree-bench` in the user's temporary folder. A
track is found by everything it was made from; delete the folder to make all anew.
"""

from __future__ import annotations

import hashlib
import os
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from handsfree.speech.messages import RATE_HZ, Samples

#: To be raised when what a track is made of changes in a way its description does not tell.
EDITION = 1

_BEFORE = RATE_HZ // 4
_AFTER = 3 * RATE_HZ // 10
"""What the endpointer keeps around the speech: 0.25 s before, 0.30 s after."""


@dataclass(frozen=True, slots=True, eq=False)
class Clip:
    """One phrase as it left the denoiser, and as it went in, cut where an endpointer would cut."""

    text: str
    clean: Samples
    raw: Samples
    speaker: str = ""


@dataclass(frozen=True, slots=True)
class Said:
    """What was said where."""

    text: str
    speaker: str
    first: int
    """First sample of the speech."""
    after: int
    """The sample after its last."""


@dataclass(frozen=True, slots=True, eq=False)
class Track:
    """One run of sound with known words in it; both versions have the same length."""

    raw: Samples
    clean: Samples
    """Denoised."""
    said: tuple[Said, ...]

    def clips(self) -> list[Clip]:
        """The words cut out at their true places."""
        spans = [(s, slice(max(0, s.first - _BEFORE), s.after + _AFTER)) for s in self.said]
        return [Clip(s.text, self.clean[span], self.raw[span], s.speaker) for s, span in spans]


def folder() -> Path:
    """Where tracks are kept."""
    return Path(os.environ.get("HANDSFREE_BENCH_CACHE", Path(tempfile.gettempdir(), "handsfree-bench")))


def kept(description: object, make: Callable[[], Track]) -> Track:
    """The track of this description from the disk, or made and put there.

    Args:
        description: Anything whose `repr` names all the track is made from.
        make: Makes it when it is not there.
    """
    name = hashlib.sha256(f"{EDITION} {description!r}".encode()).hexdigest()[:24]
    file = folder() / f"{name}.npz"
    if file.exists():
        with np.load(file) as stored:
            said = tuple(
                Said(str(text), str(speaker), int(first), int(after))
                for text, speaker, (first, after) in zip(
                    stored["texts"], stored["speakers"], stored["places"], strict=True
                )
            )
            return Track(stored["raw"], stored["clean"], said)
    track = make()
    folder().mkdir(parents=True, exist_ok=True)
    with tempfile.NamedTemporaryFile(dir=folder(), suffix=".part", delete=False) as part:
        np.savez(
            part,
            raw=track.raw,
            clean=track.clean,
            texts=np.array([s.text for s in track.said], dtype=str),
            speakers=np.array([s.speaker for s in track.said], dtype=str),
            places=np.array([(s.first, s.after) for s in track.said], dtype=np.int64).reshape(-1, 2),
        )
    Path(part.name).replace(file)
    return track
