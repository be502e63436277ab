"""A scale on a serial port, opened by URL: a device, a pseudo-terminal, loop://, socket://, rfc2217://.

An edge: the only module that imports pyserial.
"""

from __future__ import annotations

import contextlib
import errno
import socket
import termios
import threading
from pathlib import Path
from typing import Any

import serial
from serial.tools import list_ports

from handsfree.clock import Clock
from handsfree.errors import ScaleError
from handsfree.weighing.ports import Chunk, Ended, Lost, Nothing, Received
from handsfree.weighing.reopening import Reopening
from handsfree.weighing.serial_settings import SerialSettings

__all__ = ["SerialPort", "SerialSettings", "explain", "serial_ports"]

RETRY_S = 1.0
"""Time between attempts to open a lost port. Longer than the pause that tears a line."""
_WRITE_TIMEOUT_S = 1.0
_REMOTE_TIMEOUT_S = 0.1
#: What the library lets through: a driver that cannot do seven bits or a parity says so with termios.error,
#: a URL that cannot do a setting with NotImplementedError.
_PORT_ERRORS = (OSError, ValueError, NotImplementedError, termios.error)


class SerialPort:
    """A transport on a serial port. Opens at the first `receive`; reopens by itself when lost.

    Args:
        scale: Name of the instrument.
        url: Device path such as /dev/ttyUSB0, or a URL that pyserial knows.
        clock: Where the stamps come from.
        settings: Baud rate, bits, parity, stop bits.
        retry_s: Time between attempts to reopen.
    """

    def __init__(
        self,
        scale: str,
        url: str,
        clock: Clock,
        settings: SerialSettings | None = None,
        *,
        retry_s: float = RETRY_S,
    ) -> None:
        self._scale = scale
        self._url = url
        self._clock = clock
        self._settings = settings or SerialSettings()
        self._reopening = Reopening(clock, retry_s)
        self._remote = url.lower().startswith("rfc2217:")
        self._port: Any = None
        self._failed_send = ""
        self._closing = threading.Event()

    @property
    def scale(self) -> str:
        """Name of the instrument at the other end."""
        return self._scale

    def receive(self, timeout_s: float) -> Received:
        """The next bytes; see `handsfree.weighing.ports.Transport`.

        Raises:
            ScaleError: The port cannot be opened at the first use; later calls go on trying.
        """
        if self._closing.is_set():
            return Ended(self._clock.now_ns())
        if self._port is None and not self._reopen():
            self._closing.wait(timeout_s)
            return Nothing(self._clock.now_ns())
        if self._failed_send:
            return self._lose(self._failed_send)
        try:
            if not self._remote and self._port.timeout != timeout_s:
                self._port.timeout = timeout_s
            data = self._port.read(1)
            if data and (waiting := self._port.in_waiting):
                data += self._port.read(waiting)
        except (*_PORT_ERRORS, TypeError, AttributeError) as error:
            # Closed from another thread, pyserial may trip over its own None.
            if self._closing.is_set():
                return Ended(self._clock.now_ns())
            return self._lose(str(error))
        now_ns = self._clock.now_ns()
        return Chunk(now_ns, bytes(data)) if data else Nothing(now_ns)

    def send(self, data: bytes) -> None:
        """Send a request; a failure shows as `Lost` at the next `receive`."""
        if self._port is None:
            return
        try:
            self._port.write(data)
        except _PORT_ERRORS as error:
            self._failed_send = str(error)

    def close(self) -> None:
        """Free the port. Safe to call twice, and from another thread."""
        self._closing.set()
        self._shut()

    def _reopen(self) -> bool:
        if not self._reopening.attempt(self._take):
            return False
        if self._closing.is_set():  # closed while it was being opened, which may take seconds
            self._shut()
            return False
        return True

    def _take(self) -> None:
        self._port = self._open()

    def _open(self) -> Any:
        settings = self._settings
        try:
            port = serial.serial_for_url(
                self._url,
                baudrate=settings.baud,
                bytesize=settings.bits,
                parity=settings.parity,
                stopbits=settings.stop,
                # By RFC 2217 the library refuses a time limit for writing, and talks all settings over
                # anew with every other one for reading.
                timeout=_REMOTE_TIMEOUT_S,
                write_timeout=None if self._remote else _WRITE_TIMEOUT_S,
                exclusive=True,
            )
        except _PORT_ERRORS as error:
            raise explain(self._scale, self._url, error) from None
        _keep_alive(port)
        return port

    def retune(self, settings: SerialSettings) -> None:
        """Talk with other settings from here on; bytes that came with the old ones are dropped.

        Raises:
            ScaleError: The port cannot do that.
        """
        self._settings = settings
        if self._port is None:
            return
        try:
            self._port.baudrate = settings.baud
            self._port.bytesize = settings.bits
            self._port.parity = settings.parity
            self._port.stopbits = settings.stop
            self._port.reset_input_buffer()
        except _PORT_ERRORS as error:
            raise explain(self._scale, self._url, error) from None

    def _lose(self, detail: str) -> Lost:
        self._failed_send = ""
        now_ns = self._clock.now_ns()  # before it is freed, which may take a while
        self._shut()
        self._reopening.wait_from(now_ns)
        return Lost(now_ns, f"{self._url}: {detail}")

    def _shut(self) -> None:
        port, self._port = self._port, None
        if port is None:
            return
        connection = getattr(port, "_socket", None)
        with contextlib.suppress(OSError):  # the device is gone already: there is nothing left to free
            port.close()
        if isinstance(connection, socket.socket):
            connection.close()  # the library leaves it open when the other end closed first


def _keep_alive(port: Any) -> None:
    """Have a dead network connection noticed: a cable that was pulled ends no connection by itself."""
    connection = getattr(port, "_socket", None)  # the library offers no other way to it
    if not isinstance(connection, socket.socket):
        return
    with contextlib.suppress(OSError, AttributeError):  # not every system has these
        connection.setsockopt(socket.SOL_SOCKET, socket.SO_KEEPALIVE, 1)
        connection.setsockopt(socket.IPPROTO_TCP, socket.TCP_KEEPIDLE, 3)
        connection.setsockopt(socket.IPPROTO_TCP, socket.TCP_KEEPINTVL, 2)
        connection.setsockopt(socket.IPPROTO_TCP, socket.TCP_KEEPCNT, 3)


def explain(scale: str, url: str, error: Exception) -> ScaleError:
    """Why a port cannot be opened, in words that say what to do."""
    who = f"the {scale} scale's port {url}"
    if isinstance(error, termios.error):
        return ScaleError(
            f"{who} cannot talk with these settings ({error.args[-1]})",
            next_step="set other baud, bits, parity or stop_bits",
        )
    number = getattr(error, "errno", None)
    if number is None and "lock" in str(error):
        number = errno.EBUSY
    if number == errno.ENOENT:
        there = ", ".join(name for name, _ in serial_ports()) or "none"
        return ScaleError(
            f"{who} is not there", next_step=f"plug the scale in or set another port; ports here: {there}"
        )
    if number in {errno.EACCES, errno.EPERM}:
        return ScaleError(f"{who} may not be used by this user", next_step=_permission_hint(url))
    if number in {errno.EBUSY, errno.EAGAIN}:
        return ScaleError(f"{who} is busy: another program uses it", next_step="close that program")
    return ScaleError(f"{who} cannot be opened ({error})", next_step="check the port's name and settings")


def serial_ports() -> list[tuple[str, str]]:
    """Serial ports of this machine as (device path, description)."""
    return [(port.device, port.description) for port in sorted(list_ports.comports())]


def _permission_hint(url: str) -> str:
    group = "dialout"
    with contextlib.suppress(OSError, KeyError):  # no such file, or a group without a name
        group = Path(url).group()
    rule = f'KERNEL=="{Path(url).name}", GROUP="{group}", MODE="0660"'
    return (
        f"join the group {group} (sudo usermod -aG {group} $USER) and log in again, "
        f"or add the udev rule {rule}"
    )
