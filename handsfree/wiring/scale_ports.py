"""Transports of the scales in the settings: what `port` says, shared wires, requests, captures."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping
from pathlib import Path

from handsfree.clock import Clock
from handsfree.config import ScaleSettings, default_ledger_file
from handsfree.errors import ConfigError, SessionError
from handsfree.weighing.asking import Asking
from handsfree.weighing.hid_port import HidPort
from handsfree.weighing.ports import Transport
from handsfree.weighing.recording import CaptureWriter, Spied
from handsfree.weighing.serial_port import SerialPort, SerialSettings
from handsfree.weighing.shapes import find_shapes
from handsfree.weighing.shared_wire import SharedWire

SPY = "spy+"
"""Before a port: keep everything that comes from it in a file, to be sent in."""


def captures_folder() -> Path:
    """Where captures of `spy+` go."""
    return default_ledger_file().parent / "captures"


def transports(
    scales: Mapping[str, ScaleSettings], clock: Clock, *, tell: Callable[[str], None] = lambda _text: None
) -> list[Transport]:
    """A transport for each scale; scales with the same port share it and need an address each.

    Args:
        scales: The scales by name.
        clock: The session's time.
        tell: Told where captures are written.

    Raises:
        ConfigError: A scale has no port, an address is missing, or there is nothing to ask with.
        SessionError: A capture cannot be written.
    """
    used = Counter(settings.port for settings in scales.values())
    wires: dict[str, SharedWire] = {}
    found: list[Transport] = []
    for settings in scales.values():
        if used[settings.port] > 1 and settings.port:
            if settings.port not in wires:
                _need_addresses(scales, settings.port)
                wires[settings.port] = SharedWire(port(settings, clock, tell=tell))
            bare = wires[settings.port].tap(settings.name)
        else:
            bare = port(settings, clock, tell=tell)
        found.append(_asking(bare, settings, clock))
    return found


def port(
    settings: ScaleSettings, clock: Clock, *, tell: Callable[[str], None] = lambda _text: None
) -> Transport:
    """The port of one scale; opened at the first reading.

    Raises:
        ConfigError: The scale has no port in the settings, or its address is none.
        SessionError: The capture cannot be written.
    """
    if not settings.port:
        raise ConfigError(
            f"the scale {settings.name} has no port",
            next_step=f'set port = "/dev/..." under [scale.{settings.name}]; see `handsfree devices`',
        )
    spied = settings.port.startswith(SPY)
    address = settings.port.removeprefix(SPY)
    bare: Transport
    if address.lower().startswith("hid:"):
        bare = HidPort(settings.name, address, clock)
    else:
        serial = SerialSettings(settings.baud, settings.bits, settings.parity, settings.stop_bits)
        bare = SerialPort(settings.name, address, clock, serial)
    return _spied(bare, clock, tell) if spied else bare


def _spied(transport: Transport, clock: Clock, tell: Callable[[str], None]) -> Spied:
    folder = captures_folder()
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise SessionError(
            f"the folder of captures {folder} cannot be made ({error.strerror})",
            next_step=f"take {SPY} off the scale's port, or make the folder",
        ) from None
    file = folder / f"{transport.scale}-{clock.started_at():%Y%m%dT%H%M%SZ}.csv"
    tell(f"What the {transport.scale} scale sends is kept in {file}.")
    return Spied(transport, CaptureWriter(file), tell)


def _asking(transport: Transport, settings: ScaleSettings, clock: Clock) -> Transport:
    """The transport itself, or one that asks."""
    if settings.poll_s is None:
        return transport
    shapes = find_shapes(settings.shape)
    request = settings.request.encode("latin-1", "replace") or (
        shapes[0].request if len(shapes) == 1 else b""
    )
    if not request:
        raise ConfigError(
            f"the scale {settings.name} is to be asked every {settings.poll_s} s, and nothing says with what",
            next_step=f'set request = "W\\r\\n" (what its papers say) under [scale.{settings.name}]',
        )
    return Asking(transport, request, clock, every_s=settings.poll_s, answer_s=settings.answer_s)


def _need_addresses(scales: Mapping[str, ScaleSettings], port_name: str) -> None:
    sharing = [each for each in scales.values() if each.port == port_name]
    addresses = {each.address for each in sharing}
    if "" in addresses or len(addresses) < len(sharing):
        names = " and ".join(each.name for each in sharing)
        raise ConfigError(
            f"the scales {names} share the port {port_name}",
            next_step="give each its own port, or the address it sends in its lines",
        )
