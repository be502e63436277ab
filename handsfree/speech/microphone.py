"""Edge: the microphone, through PortAudio. The library is loaded when a microphone is opened.

The callback only copies, stamps and queues. A device that goes away is opened again as soon as it
is back; meanwhile `blocks` hands out silence flagged `GAP` as time passes.
"""

from __future__ import annotations

import queue
from collections.abc import Iterator
from typing import Any

import numpy as np
from numpy.typing import NDArray

from handsfree.clock import Clock, from_seconds
from handsfree.errors import MicrophoneError
from handsfree.speech.capture_timeline import LOST_AFTER_NS, Captured, CaptureTimeline
from handsfree.speech.messages import RATE_HZ, AudioBlock
from handsfree.speech.resampling import ToSixteenKilohertz

# 20 ms a callback at any rate: short enough to answer soon, long enough to cost nothing.
_BLOCK_S = 0.02
_POLL_S = 0.1
# After a try: a sound server that took the stream needs a second or two to deliver.
_RETRY_NS = from_seconds(1.0)
_DELIVERY_NS = from_seconds(4.0)
# Ten minutes of blocks: a stalled reader loses nothing, a dead one does not fill the memory.
_QUEUE_BLOCKS = 30_000

_Delivery = tuple[int, NDArray[np.int16], bool]


def load_portaudio() -> Any:
    """The sounddevice module.

    Raises:
        MicrophoneError: PortAudio is not installed.
    """
    try:
        import sounddevice  # noqa: PLC0415  its import needs PortAudio; all the rest runs without
    except (OSError, ImportError) as error:
        raise MicrophoneError(
            f"the sound library PortAudio is missing ({error})",
            kept="everything but live listening works without it",
            next_step="on Debian: apt install libportaudio2",
        ) from error
    return sounddevice


def list_microphones(sound_system: Any = None) -> list[dict[str, Any]]:
    """The capture devices: index, name, channels, rate_hz, default.

    Raises:
        MicrophoneError: PortAudio is not installed or cannot ask the system.
    """
    system = sound_system or load_portaudio()
    try:
        devices = list(system.query_devices())
        chosen = system.default.device[0]
    except Exception as error:
        raise MicrophoneError(f"the sound system does not answer ({error})") from error
    return [
        {
            "index": index,
            "name": str(device["name"]),
            "channels": int(device["max_input_channels"]),
            "rate_hz": float(device["default_samplerate"]),
            "default": index == chosen,
        }
        for index, device in enumerate(devices)
        if device["max_input_channels"] > 0
    ]


class Microphone:
    """A capture device as a source of sound, 20 ms blocks without a hole from t = 0 of `clock`.

    Args:
        clock: The session's clock.
        device: Index, part of a name, or None for the system's default.
        lost_after_ns: How long without a callback means that the device is gone.
        give_up_ns: How long a device may be gone before `blocks` raises.
        sound_system: PortAudio's Python face; None loads `sounddevice`.

    Raises:
        MicrophoneError: PortAudio is missing, there is no (such) microphone, or it cannot be opened.
    """

    def __init__(
        self,
        clock: Clock,
        device: int | str | None = None,
        *,
        lost_after_ns: int = LOST_AFTER_NS,
        give_up_ns: int = from_seconds(60.0),
        sound_system: Any = None,
    ) -> None:
        self._clock = clock
        self._wanted = device
        self._give_up_ns = give_up_ns
        self._system = sound_system or load_portaudio()
        self._queue: queue.Queue[_Delivery] = queue.Queue(_QUEUE_BLOCKS)
        self._timeline = CaptureTimeline(lost_after_ns)
        self._closed = False
        self._missed = False
        self._stream: Any = None
        self._resampler = ToSixteenKilohertz(RATE_HZ)
        self._name = ""
        self._open()

    @property
    def name(self) -> str:
        """The device's name."""
        return self._name

    def blocks(self) -> Iterator[AudioBlock]:
        """Blocks in time order until `close`.

        Raises:
            MicrophoneError: The device went away and did not come back within the time given.
        """
        lost_since_ns: int | None = None
        next_try_ns = 0
        while not self._closed:
            try:
                arrived_ns, frames, overflow = self._queue.get(timeout=_POLL_S)
            except queue.Empty:
                now_ns = self._clock.now_ns()
                yield from self._timeline.tick(now_ns)
                if not self._timeline.lost:
                    continue
                lost_since_ns = now_ns if lost_since_ns is None else lost_since_ns
                if now_ns - lost_since_ns > self._give_up_ns:
                    self.close()
                    raise self._gone(now_ns - lost_since_ns) from None
                if now_ns >= next_try_ns:
                    opened = self._try_again()
                    next_try_ns = self._clock.now_ns() + (_DELIVERY_NS if opened else _RETRY_NS)
            else:
                lost_since_ns, next_try_ns = None, 0
                samples = self._resampler.feed(frames)
                yield from self._timeline.feed(Captured(arrived_ns, samples, overflow))
        yield from self._timeline.flush()

    def close(self) -> None:
        """Stop and free the device. Safe to call twice and from another thread."""
        self._closed = True
        self._stop()

    def _open(self) -> None:
        found = self._find()
        self._name = found["name"]
        errors = []
        # One channel at our own rate first; then what the device says it likes.
        for rate_hz, channels in (
            (RATE_HZ, 1),
            (found["rate_hz"], 1),
            (found["rate_hz"], min(2, found["channels"])),
        ):
            try:
                self._resampler = ToSixteenKilohertz(rate_hz)
                self._stream = self._system.InputStream(
                    samplerate=rate_hz,
                    blocksize=round(rate_hz * _BLOCK_S),
                    device=found["index"],
                    channels=channels,
                    dtype="int16",
                    callback=self._arrived,
                )
                self._stream.start()
            except Exception as error:  # noqa: BLE001  PortAudioError, but also ValueError for odd rates
                errors.append(f"{rate_hz:g} Hz: {error}")
                self._stop()
            else:
                return
        raise MicrophoneError(
            f"the microphone {self._name} cannot be opened ({'; '.join(dict.fromkeys(errors))})",
            next_step="close other programs that use it, or choose another (see handsfree devices)",
        )

    def _find(self) -> dict[str, Any]:
        known = list_microphones(self._system)
        if not known:
            raise MicrophoneError("there is no microphone", next_step="plug one in and start again")
        if self._wanted is None:
            return next((device for device in known if device["default"]), known[0])
        for device in known:
            if device["index"] == self._wanted or (
                isinstance(self._wanted, str) and self._wanted.casefold() in device["name"].casefold()
            ):
                return device
        names = ", ".join(f"{device['index']} {device['name']}" for device in known)
        raise MicrophoneError(f"there is no microphone {self._wanted!r}", next_step=f"there are: {names}")

    def _arrived(self, frames: NDArray[np.int16], _count: int, _time: Any, status: Any) -> None:
        # PortAudio's own thread: copy, stamp, queue, nothing else.
        overflow = bool(status and status.input_overflow) or self._missed
        try:
            self._queue.put_nowait((self._clock.now_ns(), frames.copy(), overflow))
            self._missed = False
        except queue.Full:
            self._missed = True

    def _try_again(self) -> bool:
        self._stop()
        try:
            self._open()
        except MicrophoneError:
            return self._open_afresh()
        return True

    def _open_afresh(self) -> bool:
        # PortAudio lists devices once; only starting it afresh shows one that was plugged in
        # again. That cuts off a tone being played, which is better than staying deaf.
        try:
            self._system._terminate()  # noqa: SLF001  the only way sounddevice offers
            self._system._initialize()  # noqa: SLF001
            self._open()
        except Exception:  # noqa: BLE001  no device, or the sound system is down: try again later
            return False
        return True

    def _stop(self) -> None:
        stream, self._stream = self._stream, None
        if stream is None:
            return
        try:
            stream.abort()
            stream.close()
        except Exception:  # noqa: BLE001  a device that is gone cannot be closed either
            return

    def _gone(self, for_ns: int) -> MicrophoneError:
        return MicrophoneError(
            f"the microphone {self._name} has been gone for {for_ns / 1e9:.0f} s",
            kept="everything heard before is kept",
            next_step="plug it in again and start the recorder again; it carries on with the open carcass",
        )
