"""Speech models: listed, fetched by name, selected."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

from handsfree.speech.model_store import ModelStore


def listing() -> dict[str, Any]:
    """Installed and known models as plain values."""
    store = ModelStore()
    installed = store.installed()
    chosen = any(model.selected for model in installed)
    return {
        "folder": str(store.folder),
        "installed": [
            {
                "name": model.name,
                "language": model.language,
                "size_mb": model.size_mb,
                "selected": model.selected or (model.embedded and not chosen),
                "sha256": model.sha256,
            }
            for model in installed
        ],
        "known": [
            {"name": known.name, "language": known.language, "size_mb": known.size_mb, "note": known.note}
            for known in store.catalogue.values()
        ],
    }


def fetch(name: str, progress: Callable[[int, int], None], tell: Callable[[str], None]) -> Path:
    """Download, check and unpack a model of the catalogue.

    Raises:
        ModelError: It is not known, there is no connection, or it is damaged; says what was kept.
    """
    return ModelStore().fetch(name, progress, tell)


def select(name: str) -> None:
    """Use an installed model from now on.

    Raises:
        ModelError: It is not installed.
    """
    ModelStore().select(name)
