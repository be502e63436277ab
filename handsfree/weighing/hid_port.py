"""A scale on USB that speaks the point-of-sale usage page 0x8D: `hid:`, `hid:VID:PID`, `hid:VID:PID:SERIAL`.

An edge: the only module that imports hidapi. Every report goes on as a line of text
(`handsfree.weighing.hid.report_line`), so that such a scale is framed, kept and replayed as any other.
The first report after opening may be an old one that lay waiting; it counts as torn, as the first line
of every scale does.
"""

from __future__ import annotations

import importlib
import os
import re
import threading
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Protocol

from handsfree.clock import Clock
from handsfree.errors import ConfigError, ScaleError
from handsfree.weighing.hid import DATA_REPORT, numbered, report_line
from handsfree.weighing.ports import Chunk, Ended, Lost, Nothing, Received
from handsfree.weighing.reopening import Reopening

USAGE_PAGE = 0x8D
"""Weighing devices: USB-IF HID Usage Tables, usage page 0x8D."""
RETRY_S = 1.0
"""Time between attempts to find a lost scale."""
_LONGEST_REPORT = 1024
_ADDRESS = re.compile(r"hid:(?:([0-9a-f]{1,4}):([0-9a-f]{1,4})(?::(.+))?)?", re.IGNORECASE)


class HidDevice(Protocol):
    """One device as the library gives it."""

    def open_path(self, path: bytes, /) -> None:
        """Open it; OSError when that fails."""
        ...

    def read(self, max_length: int, timeout_ms: int = 0, /) -> Sequence[int]:
        """One report, or nothing within the time; OSError when it has gone."""
        ...

    def get_report_descriptor(self) -> Sequence[int]:
        """What its reports hold; OSError when it cannot be read."""
        ...

    def close(self) -> None:
        """Free it."""
        ...


class HidLibrary(Protocol):
    """What is used of the library."""

    def enumerate(self) -> list[dict[str, Any]]:
        """All HID devices: path, vendor_id, product_id, serial_number, usage_page, product_string."""
        ...

    def device(self) -> HidDevice:
        """A device, not yet open."""
        ...


@dataclass(frozen=True, slots=True)
class UsbScale:
    """A USB scale that is plugged in."""

    path: bytes
    vendor: int
    product: int
    serial: str
    description: str

    @property
    def address(self) -> str:
        """What to set as its port: `hid:0a1b:0002`, with the serial number where it has one."""
        known = f"hid:{self.vendor:04x}:{self.product:04x}"
        return f"{known}:{self.serial}" if self.serial else known


def usb_scales(library: HidLibrary | None = None) -> list[UsbScale]:
    """The USB scales that are plugged in, told by their usage page.

    Raises:
        ScaleError: The library is not installed.
    """
    return [
        UsbScale(
            each["path"],
            each["vendor_id"],
            each["product_id"],
            each.get("serial_number") or "",
            each.get("product_string") or "",
        )
        for each in sorted((library or _library()).enumerate(), key=lambda each: bytes(each["path"]))
        if each.get("usage_page") == USAGE_PAGE
    ]


class HidPort:
    """A transport on a USB scale. Opens at the first `receive`; finds it again by itself when lost.

    Args:
        scale: Name of the instrument.
        address: `hid:` for the only one there is, or `hid:VID:PID[:SERIAL]`, numbers in hexadecimal.
        clock: Where the stamps come from.
        library: What stands for hidapi; None is hidapi.
        retry_s: Time between attempts to find it again.

    Raises:
        ConfigError: The address is none.
    """

    def __init__(
        self,
        scale: str,
        address: str,
        clock: Clock,
        library: HidLibrary | None = None,
        *,
        retry_s: float = RETRY_S,
    ) -> None:
        match = _ADDRESS.fullmatch(address)
        if match is None:
            raise ConfigError(
                f"{address!r} is no address of a USB scale",
                next_step='write "hid:" or "hid:VID:PID" as `handsfree devices` shows it',
            )
        self._wanted = tuple(int(part, 16) if part else None for part in match.groups()[:2])
        self._serial = match[3] or ""
        self._scale = scale
        self._clock = clock
        self._library = library
        self._reopening = Reopening(clock, retry_s)
        self._device: HidDevice | None = None
        self._numbered = True
        self._closing = threading.Event()
        # The library must not be closed under a read: it would use what was freed.
        self._in_use = threading.Lock()

    @property
    def scale(self) -> str:
        """Name of the instrument at the other end."""
        return self._scale

    def receive(self, timeout_s: float) -> Received:
        """The next report as a line; see `handsfree.weighing.ports.Transport`.

        Raises:
            ScaleError: It cannot be opened at the first use; later calls go on trying.
        """
        with self._in_use:
            if self._closing.is_set():
                return Ended(self._clock.now_ns())
            if self._device is not None or self._reopening.attempt(self._open):
                return self._read(timeout_s)
        self._closing.wait(timeout_s)
        return Nothing(self._clock.now_ns())

    def send(self, data: bytes) -> None:
        """A USB scale sends by itself: nothing happens."""

    def close(self) -> None:
        """Free the scale; waits for a read that is under way. Safe to call twice."""
        self._closing.set()
        with self._in_use:
            self._shut()

    def _read(self, timeout_s: float) -> Received:
        assert self._device is not None
        try:
            # For the library 0 would mean to wait for ever.
            report = bytes(self._device.read(_LONGEST_REPORT, max(1, round(timeout_s * 1000))))
        except (OSError, ValueError) as error:
            self._shut()
            now_ns = self._clock.now_ns()
            self._reopening.wait_from(now_ns)
            return Lost(now_ns, f"USB scale: {error}")
        now_ns = self._clock.now_ns()
        if not report:
            return Nothing(now_ns)
        return Chunk(now_ns, report_line(report if self._numbered else bytes([DATA_REPORT]) + report))

    def _open(self) -> None:
        library = self._library or _library()
        scale = self._find(library)
        device = library.device()
        try:
            device.open_path(scale.path)
        except OSError as error:
            raise _explain(self._scale, scale, error) from None
        try:
            self._numbered = numbered(bytes(device.get_report_descriptor()))
        except (OSError, ValueError, AttributeError):
            self._numbered = True  # as all that were met
        self._device = device
        # The same one again after it was unplugged, and no other.
        self._wanted, self._serial = (scale.vendor, scale.product), scale.serial

    def _find(self, library: HidLibrary) -> UsbScale:
        vendor, product = self._wanted
        there = usb_scales(library)
        fitting = [
            each
            for each in there
            if (vendor is None or (each.vendor, each.product) == (vendor, product))
            and (not self._serial or each.serial == self._serial)
        ]
        if len(fitting) == 1:
            return fitting[0]
        names = ", ".join(each.address for each in there) or "none"
        if not fitting:
            raise ScaleError(
                f"the {self._scale} scale is not found on USB",
                next_step=f"plug it in and switch it on; USB scales here: {names}",
            )
        raise ScaleError(
            f"{len(fitting)} USB scales could be the {self._scale} scale",
            next_step=f"set port to one of them: {names}",
        )

    def _shut(self) -> None:
        device, self._device = self._device, None
        if device is not None:
            try:
                device.close()
            except OSError:
                return  # it has gone already: there is nothing left to free


def udev_rule(scale: UsbScale) -> str:
    """The udev rule that lets whoever sits at the machine use this scale."""
    ids = f'ATTRS{{idVendor}}=="{scale.vendor:04x}", ATTRS{{idProduct}}=="{scale.product:04x}"'
    return f'SUBSYSTEM=="hidraw", {ids}, MODE="0660", GROUP="plugdev", TAG+="uaccess"'


def _explain(name: str, scale: UsbScale, error: OSError) -> ScaleError:
    """Why a scale that is there cannot be opened; the library itself does not say."""
    who = f"the {name} scale {scale.address}"
    path = Path(os.fsdecode(scale.path))
    if path.exists() and not os.access(path, os.R_OK | os.W_OK):
        return ScaleError(
            f"{who} may not be used by this user ({path})",
            next_step=f"put the line {udev_rule(scale)} into /etc/udev/rules.d/70-handsfree-scale.rules, "
            "run `sudo udevadm control --reload` and plug the scale in again",
        )
    return ScaleError(
        f"{who} cannot be opened ({error})", next_step="plug it in again, and close programs that use it"
    )


def _library() -> HidLibrary:
    """The library; on Linux its variant that leaves the kernel's driver in place."""
    for name in ("hidraw", "hid"):
        try:
            library: HidLibrary = importlib.import_module(name)
        except ImportError:
            continue
        return library
    raise ScaleError(
        "USB scales need the library hidapi, which is not installed",
        next_step="run pip install 'handsfree[hid]', or use a scale with a serial output",
    )
