"""Pure: the catalogue of speech models that can be fetched by name, and which of the installed to use."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from handsfree.errors import ConfigError, ModelError

_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]*")
_DIGEST = re.compile(r"[0-9a-f]{64}")
_LANGUAGE = re.compile(r"-(?P<language>[a-z]{2}(?:-[a-z]{2})?)(?=-|$)")


@dataclass(frozen=True, slots=True)
class KnownModel:
    """A model of the catalogue."""

    name: str
    language: str
    """As in the name: "en-us"."""
    size_mb: int
    """Of the download, 10^6 bytes."""
    url: str
    """The publisher's address of the zip."""
    sha256: str = ""
    """Hexadecimal; empty when the publisher gives none."""
    note: str = ""


@dataclass(frozen=True, slots=True)
class InstalledModel:
    """A model that can be used now."""

    name: str
    language: str
    size_mb: int
    """On disk, 10^6 bytes."""
    folder: Path | None
    """None for the embedded engine's model, which lies in its wheel."""
    sha256: str = ""
    """Of the download it was unpacked from; empty when unknown."""
    selected: bool = False

    @property
    def embedded(self) -> bool:
        """Whether it came with the embedded engine."""
        return self.folder is None

    @property
    def is_english(self) -> bool:
        """Whether English phrases can be heard with it."""
        return self.language.startswith("en")


def read_catalogue(data: Mapping[str, object], where: str) -> dict[str, KnownModel]:
    """The catalogue from its data, by name.

    Raises:
        ConfigError: An entry lacks a field or has a bad one; all are named.
    """
    tables = data.get("model", {})
    faults: list[str] = []
    found: dict[str, KnownModel] = {}
    for name, entry in tables.items() if isinstance(tables, Mapping) else ():
        known = _entry(str(name), entry if isinstance(entry, Mapping) else {})
        if isinstance(known, str):
            faults.append(f"model {name!r} {known}")
        else:
            found[known.name] = known
    if faults:
        raise ConfigError(f"{where}: {'; '.join(faults)}", next_step="correct the catalogue file")
    return found


def _entry(name: str, entry: Mapping[str, object]) -> KnownModel | str:
    language, url, digest = entry.get("language"), entry.get("url"), entry.get("sha256", "")
    size_mb, note = entry.get("size_mb"), entry.get("note", "")
    if not _NAME.fullmatch(name):
        return "has a name that cannot be a folder"
    if not isinstance(language, str) or not language:
        return "has no language"
    if not isinstance(url, str) or not url.startswith(("https://", "http://")):
        return "has no url that begins with https:// or http://"
    if not isinstance(size_mb, int) or isinstance(size_mb, bool) or size_mb <= 0:
        return "has no size_mb that is a whole number above 0"
    if not isinstance(digest, str) or (digest and not _DIGEST.fullmatch(digest)):
        return "has a sha256 that is not 64 hexadecimal digits"
    return KnownModel(name, language, size_mb, url, digest, str(note))


def known_model(catalogue: Mapping[str, KnownModel], name: str) -> KnownModel:
    """The model of this name.

    Raises:
        ModelError: The catalogue has no such model.
    """
    try:
        return catalogue[name]
    except KeyError:
        raise ModelError(
            f"no model called {name!r} is known",
            next_step=f"those known are: {', '.join(catalogue) or 'none'}",
        ) from None


def language_of(name: str) -> str:
    """The language a model's name says, empty when it says none: "vosk-model-small-en-us-0.15" is "en-us"."""
    found = _LANGUAGE.search(name)
    return found["language"] if found else ""


def to_use(installed: Sequence[InstalledModel], wanted: str = "") -> InstalledModel | None:
    """The Vosk model to listen with; None when the embedded engine should be used.

    Args:
        installed: What is there.
        wanted: A model asked for by name; empty takes the selected one, else the first English one.

    Raises:
        ModelError: The model asked for by name is not installed.
    """
    vosk = [model for model in installed if not model.embedded]
    if wanted:
        for model in installed:
            if model.name == wanted:
                return None if model.embedded else model
        raise ModelError(
            f"the model {wanted!r} is not installed",
            next_step=f"fetch it: handsfree models fetch {wanted}; installed are: "
            + (", ".join(model.name for model in installed) or "none"),
        )
    selected = [model for model in installed if model.selected]
    if selected:
        return None if selected[0].embedded else selected[0]
    return next((model for model in vosk if model.is_english), None)
