"""Where the packaged data lies: beside the checkout, or inside the installed wheel."""

from __future__ import annotations

from pathlib import Path

from handsfree.errors import ConfigError

_PACKAGE = Path(__file__).resolve().parent


def grammar_folder() -> Path:
    """The folder of cut lists, commands and pronunciations.

    Raises:
        ConfigError: The installation is incomplete.
    """
    return _find(_PACKAGE / "data" / "grammar", _PACKAGE.parent / "grammar")


def demo_folder() -> Path:
    """The packaged demo session folder.

    Raises:
        ConfigError: The installation is incomplete.
    """
    return _find(_PACKAGE / "data" / "demo", _PACKAGE.parent / "demo_audio" / "session")


def _find(*places: Path) -> Path:
    for place in places:
        if place.is_dir():
            return place
    raise ConfigError(
        f"this installation has no {places[0].name} folder (looked in {', '.join(map(str, places))})",
        next_step="install handsfree again",
    )
