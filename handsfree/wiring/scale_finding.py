"""Finds the scales that are plugged in, and puts what was found into the settings."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from handsfree.clock import SystemClock
from handsfree.config import default_config_file
from handsfree.config_writing import Value, scale_lines, write_scale
from handsfree.errors import ScaleError
from handsfree.weighing.finding import Finder, Found
from handsfree.weighing.hid_port import usb_scales
from handsfree.weighing.serial_port import SerialPort, serial_ports
from handsfree.weighing.shapes import find_shapes

POLL_S = 0.2
"""How often a scale is asked that does not send by itself: five lines a second settle well."""


@dataclass(frozen=True, slots=True)
class ScaleFound:
    """A scale and the settings that read it."""

    port: str
    said: str
    """What was found, in a sentence."""
    values: dict[str, Value]
    """Keys and values of `[scale.NAME]`."""
    unit_missing: bool = False

    def lines(self, name: str) -> str:
        """The lines of the settings file."""
        return scale_lines(name, self.values)


def find(port: str, tell: Callable[[str], None]) -> list[ScaleFound]:
    """Scales on one port, or on all ports when none is named.

    Args:
        port: Device path or URL; "" tries every USB scale and every serial port there is.
        tell: Told what is being tried, and why a port was passed over.

    Raises:
        ScaleError: The named port cannot be used.
    """
    if port:
        found = _on(port, tell)
        return [found] if found else []
    every = _usb(tell)
    for device, _ in serial_ports():
        try:
            found = _on(device, tell)
        except ScaleError as error:
            tell(str(error))
            continue
        every += [found] if found else []
    return every


def write(found: ScaleFound, name: str, config: Path | None) -> Path:
    """Put what was found into the settings file; other settings of the scale stay.

    Returns:
        The file that was written.

    Raises:
        ConfigError: The file cannot be changed; it is as it was.
    """
    file = config or default_config_file()
    write_scale(file, name, found.values)
    return file


def _usb(tell: Callable[[str], None]) -> list[ScaleFound]:
    try:
        return [
            ScaleFound(
                each.address,
                f"a USB scale ({each.description or 'without a name'})",
                {"port": each.address, "shape": "hid_report"},
            )
            for each in usb_scales()
        ]
    except ScaleError as error:
        tell(str(error))
        return []


def _on(port: str, tell: Callable[[str], None]) -> ScaleFound | None:
    clock = SystemClock()
    transport = SerialPort("new", port, clock)
    try:
        found = Finder(
            transport, clock, find_shapes("auto"), tell=lambda text: tell(f"{port}: {text}")
        ).find()
    finally:
        transport.close()
    return None if found is None else _described(port, found)


def _described(port: str, found: Found) -> ScaleFound:
    settings, judged = found.settings, found.judged
    values: dict[str, Value] = {
        "port": port,
        "baud": settings.baud,
        "bits": settings.bits,
        "parity": settings.parity,
        "stop_bits": settings.stop,
        "shape": judged.shape or None,
        # What an earlier scale on this place needed must not stay.
        "request": found.request.decode("latin-1") or None,
        "poll_s": POLL_S if found.request else None,
    }
    if not judged.shape:
        said = (
            f"plain lines on {port} with {settings} that fit no known shape, such as {judged.sample!r}; "
            "learn them with `handsfree scale learn`"
        )
        return ScaleFound(port, said, values)
    how = f"answers {found.request!r}" if found.request else f"sends {found.rate_hz:g} lines a second"
    flag = "with" if judged.flagged else "without"
    said = (
        f"a scale on {port} {how} with {settings}, shape {judged.shape}, {flag} a stable flag; "
        f"{judged.lines} whole lines, {judged.torn} torn, the last says {judged.sample.split(' ')[0]}"
        f"{'' if judged.unit_missing else ' ' + judged.sample.split(' ')[-1]}"
    )
    return ScaleFound(port, said, values, judged.unit_missing)
