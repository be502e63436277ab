"""A stand-in for the HID library: scales that are plugged in, send, and are unplugged by a test."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any


@dataclass
class ScriptedUsbScale:
    """A device on the scripted bus, with the reports it will send."""

    path: str
    vendor: int = 0x0A1B
    """Invented, as is the product number."""
    product: int = 0x0002
    serial: str = ""
    usage_page: int = 0x8D
    reports: list[bytes] = field(default_factory=list)
    descriptor: bytes = bytes.fromhex("068d00 0920 a101 8503 c0")
    """Usage page 0x8D, usage 0x20, collection, report id 3, end."""
    refuses: bool = False
    """It cannot be opened (rights, or another program)."""
    plugged: bool = True


class ScriptedUsb:
    """The bus; `handsfree.weighing.hid_port.HidLibrary`.

    Args:
        scales: What may be plugged in.
    """

    def __init__(self, *scales: ScriptedUsbScale) -> None:
        self.scales = list(scales)
        self.opened = 0
        """Devices opened and not yet closed."""

    def enumerate(self) -> list[dict[str, Any]]:
        """What is plugged in now."""
        return [
            {
                "path": each.path.encode(),
                "vendor_id": each.vendor,
                "product_id": each.product,
                "serial_number": each.serial,
                "usage_page": each.usage_page,
                "product_string": "invented scale",
            }
            for each in self.scales
            if each.plugged
        ]

    def device(self) -> _Device:
        """A device, not yet open."""
        return _Device(self)


class _Device:
    """One device of the bus."""

    def __init__(self, bus: ScriptedUsb) -> None:
        self._bus = bus
        self._scale: ScriptedUsbScale | None = None

    def open_path(self, path: bytes, /) -> None:
        for each in self._bus.scales:
            if each.path.encode() == path and each.plugged and not each.refuses:
                self._scale = each
                self._bus.opened += 1
                return
        raise OSError("open failed")  # as the library says it: without a number

    def read(self, max_length: int, timeout_ms: int = 0, /) -> Sequence[int]:
        if self._scale is None:
            raise ValueError("not open")
        if not self._scale.plugged:
            raise OSError("read error")
        assert timeout_ms > 0, "0 waits for ever"
        report = self._scale.reports.pop(0) if self._scale.reports else b""
        return list(report[:max_length])

    def get_report_descriptor(self) -> Sequence[int]:
        if self._scale is None:
            raise ValueError("not open")
        return list(self._scale.descriptor)

    def close(self) -> None:
        if self._scale is not None:
            self._bus.opened -= 1
        self._scale = None
