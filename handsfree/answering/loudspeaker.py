"""The loudspeaker through PortAudio (sounddevice), imported at the first sound."""

from __future__ import annotations

import importlib
import threading
from collections.abc import Callable
from typing import Any

import numpy as np

from handsfree.speech.messages import Samples

#: Sound is handed over in pieces this long, so that `stop` is heard at once.
_PIECE_S = 0.04

#: Silence around every sound, beyond the latency the stream reports: starting and stopping a stream
#: swallows about that much (measured on a PulseAudio null sink: 20 to 35 ms lost at either end of a
#: 90 ms tone with a reported latency of 35 ms, nothing lost with the silence).
_LEAD_S = 0.03
_TRAIL_S = 0.08


class Loudspeaker:
    """The default output, or the one named; without one it stays quiet and says so once.

    Args:
        device: Name or number as PortAudio knows it, None for the default.
        tell: Called with one sentence when sound cannot be played, once a fault.
    """

    def __init__(
        self, device: str | int | None = None, *, tell: Callable[[str], None] = lambda _: None
    ) -> None:
        self._device = device
        self._tell = tell
        self._stop = threading.Event()
        self._lock = threading.Lock()
        self._stream: Any = None
        self._rate_hz = 0
        self._closed = False
        self._told = ""

    @property
    def name(self) -> str:
        """The device as asked for."""
        return "the default loudspeaker" if self._device is None else f"loudspeaker {self._device}"

    @property
    def latency_s(self) -> float:
        """Leading silence and what PortAudio reports for the stream; a guess before the first sound."""
        stream = self._stream
        return _LEAD_S + 2 * float(stream.latency) if stream is not None else 0.1

    def play(self, samples: Samples, rate_hz: int) -> bool:
        """Play, and come back when it was heard; False when stopped or quiet."""
        with self._lock:
            self._stop.clear()
            if self._closed:
                return False
            try:
                stream = self._opened(rate_hz)
                stream.start()
                padded = _padded(samples, rate_hz, float(stream.latency))
                piece = max(1, round(_PIECE_S * rate_hz))
                for at in range(0, len(padded), piece):
                    if self._stop.is_set():
                        stream.abort()
                        return False
                    stream.write(padded[at : at + piece].reshape(-1, 1))
                stream.stop()
            except Exception as error:  # noqa: BLE001 - PortAudio's errors need the library to be named
                self._quiet(error)
                return False
            return True

    def stop(self) -> None:
        """End the sound that is playing."""
        self._stop.set()

    def close(self) -> None:
        """Free the device."""
        self._closed = True
        self._stop.set()
        with self._lock:
            self._drop()

    def _opened(self, rate_hz: int) -> Any:
        if self._stream is not None and self._rate_hz != rate_hz:
            self._drop()
        if self._stream is None:
            sounddevice = importlib.import_module("sounddevice")
            self._stream = sounddevice.OutputStream(
                samplerate=rate_hz, channels=1, dtype="int16", device=self._device
            )
            self._rate_hz = rate_hz
        return self._stream

    def _drop(self) -> None:
        stream, self._stream = self._stream, None
        if stream is not None:
            try:
                stream.close()
            except Exception as error:  # noqa: BLE001 - a lost device cannot be closed either
                self._quiet(error)

    def _quiet(self, error: Exception) -> None:
        self._stream = None  # opened again at the next sound: the device may be back
        if str(error) != self._told:
            self._told = str(error)
            self._tell(f"No sound from {self.name} ({error}): the work goes on without spoken answers.")


def _padded(samples: Samples, rate_hz: int, latency_s: float) -> Samples:
    lead = np.zeros(round((_LEAD_S + latency_s) * rate_hz), dtype=np.int16)
    trail = np.zeros(round((_TRAIL_S + latency_s) * rate_hz), dtype=np.int16)
    return np.concatenate([lead, samples, trail])
