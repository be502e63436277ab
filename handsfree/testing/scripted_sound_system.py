"""A stand-in for PortAudio's Python face: devices and deliveries as the test says."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray


@dataclass
class ScriptedDevice:
    """One capture device."""

    name: str
    rates_hz: tuple[float, ...] = (16_000.0,)
    """The rates it takes; the first is its default."""
    channels: int = 1


@dataclass
class _Status:
    input_overflow: bool = False


class ScriptedStream:
    """An opened stream; refuses what its device would refuse."""

    def __init__(self, system: ScriptedSoundSystem, settings: dict[str, Any]) -> None:
        self.settings = settings
        self.closed = False
        self._callback: Callable[..., None] = settings["callback"]
        device = system.devices[settings["device"]]
        if settings["samplerate"] not in device.rates_hz:
            raise OSError("Invalid sample rate [PaErrorCode -9997]")

    def start(self) -> None:
        """Nothing to do: deliveries come from the test."""

    def abort(self) -> None:
        """Nothing to do."""

    def close(self) -> None:
        """Note that it was closed."""
        self.closed = True

    def deliver(self, frames: NDArray[np.int16], *, overflow: bool = False) -> None:
        """Call back with these frames, shape (n, channels), as PortAudio's thread would."""
        buffer = frames.copy()
        self._callback(buffer, len(frames), None, _Status(overflow))
        # PortAudio uses its buffer again: a callback that did not copy hears this.
        buffer[:] = -1


@dataclass
class ScriptedSoundSystem:
    """What `sounddevice` is to the microphone.

    `devices` may change at any time, as plugs do; like PortAudio the list that is shown changes
    only when the system is started afresh.
    """

    devices: list[ScriptedDevice]
    streams: list[ScriptedStream] = field(default_factory=list)
    fresh_starts: int = 0

    def __post_init__(self) -> None:
        self._shown = list(self.devices)

    @property
    def default(self) -> Any:
        """The default devices, (input, output): the first one."""
        return self

    @property
    def device(self) -> tuple[int, int]:
        """See `default`."""
        return (0 if self._shown else -1, -1)

    def query_devices(self) -> list[dict[str, Any]]:
        """All devices, as dictionaries."""
        return [
            {
                "name": device.name,
                "max_input_channels": device.channels,
                "default_samplerate": device.rates_hz[0],
            }
            for device in self._shown
        ]

    def InputStream(self, **settings: Any) -> ScriptedStream:  # noqa: N802  PortAudio's name for it
        """Open a stream.

        Raises:
            OSError: The device is gone or refuses the rate.
        """
        if self._shown[settings["device"]] not in self.devices:
            raise OSError("Device unavailable [PaErrorCode -9985]")
        stream = ScriptedStream(self, settings)
        self.streams.append(stream)
        return stream

    def _terminate(self) -> None:
        self._shown = []

    def _initialize(self) -> None:
        self.fresh_starts += 1
        self._shown = list(self.devices)
