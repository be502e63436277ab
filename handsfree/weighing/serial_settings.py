"""How a serial port talks. Pure."""

from __future__ import annotations

from dataclasses import dataclass

from handsfree.errors import ConfigError


@dataclass(frozen=True, slots=True)
class SerialSettings:
    """How the port talks; as `4800 7-E-2` in the papers of a scale."""

    baud: int = 9600
    bits: int = 8
    parity: str = "N"
    """N, E, O, M or S."""
    stop: int = 1

    @classmethod
    def parse(cls, text: str) -> SerialSettings:
        """Settings from text such as "9600", "9600 8-N-1" or "4800 7E2".

        Raises:
            ConfigError: The text is none of these.
        """
        baud, _, frame = text.strip().partition(" ")
        frame = frame.replace("-", "").strip().upper() or "8N1"
        if not (baud.isascii() and baud.isdigit() and 0 < int(baud) <= 1_000_000 and len(frame) == 3):
            raise _bad_settings(text)
        if frame[0] not in "5678" or frame[1] not in "NEOMS" or frame[2] not in "12":
            raise _bad_settings(text)
        return cls(int(baud), int(frame[0]), frame[1], int(frame[2]))

    def __str__(self) -> str:
        return f"{self.baud} {self.bits}-{self.parity}-{self.stop}"


def _bad_settings(text: str) -> ConfigError:
    return ConfigError(f"{text!r} are no serial settings", next_step='write them as "9600 8-N-1"')
