"""What the endpointer cuts out of a track, with its places."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from handsfree.speech.endpointing import Endpointer
from handsfree.speech.messages import Samples
from handsfree.speech.voice_activity import SileroVoiceActivity
from handsfree.testing.making_sound import in_blocks

_NS_PER_SAMPLE = 62_500


@dataclass(frozen=True, slots=True, eq=False)
class Cut:
    """One segment of a track."""

    first: int
    """Its first sample in the track."""
    samples: Samples
    too_long: bool

    @property
    def after(self) -> int:
        """The sample after its last: when it is over."""
        return self.first + len(self.samples)


def cuts(clean: Samples) -> list[Cut]:
    """All segments, in time order."""
    endpointer = Endpointer(SileroVoiceActivity())
    found: list[Cut] = []
    parts: list[Samples] = []
    for part in [
        *(part for block in in_blocks(clean) for part in endpointer.feed(block)),
        *endpointer.flush(),
    ]:
        parts = [part.samples] if part.first else [*parts, part.samples]
        if part.last:
            found.append(Cut(part.start_ns // _NS_PER_SAMPLE, np.concatenate(parts), part.too_long))
    return found
