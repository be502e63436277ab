"""Writes what the scales send to a session's `scale.csv` while it comes. An edge: writes a file."""

from __future__ import annotations

import contextlib
import csv
import re
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path
from types import TracebackType
from typing import Self

from handsfree.errors import SessionError
from handsfree.weighing.capture import HEADER
from handsfree.weighing.escapes import escape
from handsfree.weighing.framing import IDLE_GAP_NS
from handsfree.weighing.ports import Chunk, Ended, Lost, Received, Transport

LINE_BYTES = 64
"""More than the longest line known here (42): a stream with more between two line ends sends none."""
_CHECK_BYTES = 2

_ROW = re.compile(rb"[^\r\n\x03]*(?:\x03|\r\n|\r|\n)", re.DOTALL)


class CaptureWriter:
    """Appends rows to a `scale.csv`, each on disk's way before the next is taken.

    A row is a line with its line end, stamped with the arrival of its last byte; a rest that a
    pause, a lost port or the end cut off is a row without a line end. So a replay of the file frames
    the bytes exactly as the live stream did. A check character behind a block, and bytes of a scale that
    sends no line ends at all, are rows as they come: held back for an end they would get a wrong time.
    Those end in a backslash; a backslash alone says that the port was lost.

    Args:
        path: The file; made with its header when it is not there.

    Raises:
        SessionError: The file cannot be made or opened, or the disk is full. After a failed write
            the file is closed and nothing more is kept.
    """

    def __init__(self, path: Path) -> None:
        self._path = path
        self._rests: dict[str, tuple[int, bytes]] = {}
        self._endless: set[str] = set()
        try:
            fresh = not path.exists() or path.stat().st_size == 0
            self._file = path.open("a", encoding="ascii", newline="")
            self._rows = csv.writer(self._file, lineterminator="\n")
        except OSError as error:
            raise self._failed(error) from None
        if fresh:
            self._write(HEADER)

    def feed(self, scale: str, received: Received) -> None:
        """Keep what was received from a scale.

        Raises:
            SessionError: The disk is full or the file cannot be written.
        """
        if self._file.closed:
            return
        if isinstance(received, Chunk):
            self._chunk(scale, received)
        elif isinstance(received, (Lost, Ended)):
            self._flush(scale)
            if isinstance(received, Lost):
                self._row(received.t_ns, scale, b"", goes_on=True)

    def close(self) -> None:
        """Write the rests and close. Safe to call twice."""
        if self._file.closed:
            return
        for scale in list(self._rests):
            self._flush(scale)
        self._file.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def _chunk(self, scale: str, chunk: Chunk) -> None:
        rest_ns, rest = self._rests.get(scale, (chunk.t_ns, b""))
        if rest and chunk.t_ns - rest_ns > IDLE_GAP_NS:
            self._flush(scale)
            rest = b""
        data = rest + chunk.data
        end = 0
        for match in _ROW.finditer(data):
            self._row(chunk.t_ns, scale, match[0])
            end = match.end()
        self._rests[scale] = (chunk.t_ns, data[end:])
        if end:
            self._endless.discard(scale)
        after_block = data[:end].endswith(b"\x03") and 0 < len(data) - end <= _CHECK_BYTES
        if len(data) - end > LINE_BYTES:
            self._endless.add(scale)
        if after_block or scale in self._endless:
            self._flush(scale)

    def _flush(self, scale: str) -> None:
        t_ns, rest = self._rests.pop(scale, (0, b""))
        if rest:
            self._row(t_ns, scale, rest, goes_on=scale in self._endless)

    def _row(self, t_ns: int, scale: str, data: bytes, *, goes_on: bool = False) -> None:
        # Nine decimals: the replay must carry the very same nanoseconds.
        self._write([f"{Decimal(t_ns).scaleb(-9):f}", scale, escape(data) + "\\" * goes_on])

    def _write(self, cells: list[str]) -> None:
        try:
            self._rows.writerow(cells)
            self._file.flush()
        except OSError as error:
            with contextlib.suppress(OSError):  # closing tries to write once more
                self._file.close()
            raise self._failed(error) from None

    def _failed(self, error: OSError) -> SessionError:
        return SessionError(
            f"the scale recording {self._path} cannot be written ({error.strerror})",
            kept="rows before this one are in the file",
            next_step="free some space or choose another folder",
        )


class Spied:
    """A transport that passes everything on and writes it into a capture, to be sent in.

    Args:
        transport: Where the scale is.
        writer: Where the capture goes.
        tell: Told why, when the capture cannot be written; that ends the capture and not the weighing.
    """

    def __init__(
        self, transport: Transport, writer: CaptureWriter, tell: Callable[[str], None] = lambda _text: None
    ) -> None:
        self._transport = transport
        self._writer = writer
        self._tell = tell

    @property
    def scale(self) -> str:
        """Name of the instrument at the other end."""
        return self._transport.scale

    def receive(self, timeout_s: float) -> Received:
        """The next bytes, kept first; see `handsfree.weighing.ports.Transport`.

        Raises:
            ScaleError: The port cannot be opened at the first use.
        """
        received = self._transport.receive(timeout_s)
        try:
            self._writer.feed(self.scale, received)
        except SessionError as error:
            self._tell(str(error))
        return received

    def send(self, data: bytes) -> None:
        """Send a request to the scale."""
        self._transport.send(data)

    def close(self) -> None:
        """Free the port and finish the capture."""
        self._transport.close()
        try:
            self._writer.close()
        except SessionError as error:
            self._tell(str(error))
