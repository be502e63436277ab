"""The larder's butchers by number or name, as the settings have them."""

from __future__ import annotations

from dataclasses import dataclass

from handsfree.config import Config
from handsfree.errors import ConfigError

#: What is typed for nobody.
NOBODY = "none"


@dataclass(frozen=True, slots=True)
class Butcher:
    """Who works at the bench."""

    number: int = 0
    """0 without a number."""
    name: str = ""
    """Empty for nobody."""


def named(config: Config, text: str) -> Butcher:
    """The butcher of a typed number or name; a name without a number is one too, "none" is nobody.

    Raises:
        ConfigError: Nobody has this number.
    """
    if text.lower() == NOBODY:
        return Butcher()
    if text.isdecimal():
        number = int(text)
        if number not in config.butchers:
            known = ", ".join(f"{n} {name}" for n, name in config.butchers.items()) or "none yet"
            raise ConfigError(
                f"there is no butcher {text} (known: {known})",
                next_step=f'give the number a name: handsfree voice number {text} "NAME"',
            )
        return Butcher(number, config.butchers[number])
    number = next((n for n, name in config.butchers.items() if name.lower() == text.lower()), 0)
    return Butcher(number, config.butchers.get(number, text))
