"""A voice activity detector a test can foresee: loud is speech, quiet is not."""

from __future__ import annotations

import numpy as np

from handsfree.speech.messages import Samples


class LoudnessActivity:
    """Probability 1 where the chunk's mean magnitude reaches `loud`, 0.4 from half of it, else 0.

    Args:
        loud: Mean magnitude, 16-bit steps.
        chunk_samples: Samples a probability.
    """

    def __init__(self, loud: float = 1_000.0, chunk_samples: int = 512) -> None:
        self._loud = loud
        self._chunk_samples = chunk_samples
        self.resets = 0
        """How often `reset` was called."""

    @property
    def chunk_samples(self) -> int:
        """Samples at 16 kHz that one `probability` call takes."""
        return self._chunk_samples

    def probability(self, chunk: Samples) -> float:
        """1.0, 0.4 or 0.0 by the chunk's mean magnitude.

        Raises:
            ValueError: The chunk has another length than promised.
        """
        if len(chunk) != self._chunk_samples:
            raise ValueError(f"{len(chunk)} samples instead of {self._chunk_samples}")
        magnitude = float(np.mean(np.abs(chunk.astype(np.float64))))
        return 1.0 if magnitude >= self._loud else 0.4 if magnitude >= self._loud / 2 else 0.0

    def reset(self) -> None:
        """Count that it was asked."""
        self.resets += 1
