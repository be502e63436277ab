"""Replay of recorded scales: raw bytes, and the `scale.csv` of a session folder. An edge: reads files.

`scale.csv` has the header `seconds,scale,line` and one row a line as the scale sent it, with the
escapes of a Python string literal. Where no row of a scale ends in a line end, each row is a whole
line; otherwise the rows are the bytes as they came, and a row without a line end is a torn one. A row
that ends in a single backslash is no line but bytes as they came, for scales that send no line ends; a
backslash alone says that the port was lost there.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from pathlib import Path

from handsfree.errors import ConfigError, SessionError
from handsfree.weighing.escapes import unescape
from handsfree.weighing.ports import Chunk, Ended, Lost, Received

HEADER = ["seconds", "scale", "line"]
LINES_PER_S = 10.0
"""Pace of a raw capture, which has no times: ten lines a second is the usual automatic output."""

_LINE_ENDS = (b"\r", b"\n", b"\x03")
_PIECES = re.compile(rb"[^\r\n\x03]*(?:\x03|\r\n|\r|\n)|[^\r\n\x03]+", re.DOTALL)
_LONGEST_S = Decimal(10) ** 8


class CaptureTransport:
    """A transport that gives recorded chunks with their recorded times, then `Ended`.

    Args:
        scale: Name of the instrument.
        chunks: What it sent, in time order.
    """

    def __init__(self, scale: str, chunks: Sequence[Chunk | Lost]) -> None:
        self._scale = scale
        self._chunks = tuple(chunks)
        self._next = 0
        self._closed = False

    @property
    def scale(self) -> str:
        """Name of the instrument that was recorded."""
        return self._scale

    @property
    def next_ns(self) -> int | None:
        """Time of the next chunk, for merging recordings in time order; None at the end."""
        at_end = self._closed or self._next >= len(self._chunks)
        return None if at_end else self._chunks[self._next].t_ns

    def receive(self, timeout_s: float) -> Received:
        """The next chunk at once, or `Ended` stamped with the last one's time."""
        if self.next_ns is None:
            last = self._chunks[self._next - 1].t_ns if self._next else 0
            return Ended(last)
        self._next += 1
        return self._chunks[self._next - 1]

    def send(self, data: bytes) -> None:
        """A recording cannot be asked: nothing happens."""

    def close(self) -> None:
        """End the replay."""
        self._closed = True


@dataclass(frozen=True, slots=True)
class _Row:
    t_ns: int
    data: bytes
    goes_on: bool
    """Bytes as they came, whatever the other rows are."""


def open_capture(
    path: Path, *, scale: str = "bench", lines_per_s: float = LINES_PER_S
) -> list[CaptureTransport]:
    """The recorded scales of a capture file: one for raw bytes, one for each scale of a `scale.csv`.

    Args:
        path: Raw bytes of one scale, or a file that begins with the header of `scale.csv`.
        scale: Name to give the instrument of a raw capture.
        lines_per_s: Pace of a raw capture.

    Raises:
        SessionError: The file cannot be read, or a row is no row; names the line.
        ConfigError: The pace is none.
    """
    data = _bytes(path)
    if data.lstrip(b"\xef\xbb\xbf").startswith(",".join(HEADER).encode()):
        return read_scale_csv(path)
    if not 0 < lines_per_s < 1000:
        raise ConfigError(f"{lines_per_s} lines a second is no pace", next_step="use about 10")
    step_ns = 1e9 / lines_per_s
    pieces = _PIECES.findall(data)
    chunks = [Chunk(round(number * step_ns), piece) for number, piece in enumerate(pieces, 1)]
    return [CaptureTransport(scale, chunks)]


def read_scale_csv(path: Path) -> list[CaptureTransport]:
    """A transport for each scale in a `scale.csv`, in order of first appearance.

    Raises:
        SessionError: The file is missing, is no text, has no header or a bad row; names each line.
    """
    try:
        text = _bytes(path).decode("utf-8-sig")
    except UnicodeDecodeError:
        raise SessionError(f"{path} is no text in UTF-8") from None
    scales: dict[str, list[_Row]] = {}
    faults: list[str] = []
    # Only line feeds end a row: a stray carriage return in a cell is an escape's business.
    rows = csv.reader(text.replace("\r\n", "\n").split("\n"))
    try:
        if next(rows, None) != HEADER:
            raise SessionError(f"{path}:1: the first line is not {','.join(HEADER)}")
        for cells in rows:
            if not cells:
                continue
            try:
                name, row = _row(cells)
                before = scales.setdefault(name, [])
                if before and row.t_ns < before[-1].t_ns:
                    raise ValueError(f"{cells[0]} s is before the row above it")  # noqa: TRY301
                before.append(row)
            except ValueError as error:
                faults.append(f"{path}:{rows.line_num}: {error}")
    except csv.Error as error:
        faults.append(f"{path}:{rows.line_num}: {error}")
    if faults:
        more = f" and {len(faults) - 10} more" if len(faults) > 10 else ""
        raise SessionError("; ".join(faults[:10]) + more, next_step="correct or remove these rows")
    return [CaptureTransport(name, _chunks(found)) for name, found in scales.items()]


def _bytes(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError as error:
        raise SessionError(f"the capture {path} cannot be read ({error.strerror})") from None


def _row(cells: list[str]) -> tuple[str, _Row]:
    if len(cells) < len(HEADER):
        raise ValueError(f"{len(cells)} cells, not seconds, scale and line")
    try:
        seconds = Decimal(cells[0].strip())
    except InvalidOperation:
        raise ValueError(f"{cells[0]!r} is no number of seconds") from None
    if not (seconds.is_finite() and 0 <= seconds < _LONGEST_S):
        raise ValueError(f"{cells[0]!r} is no time in a session")
    name = cells[1].strip()
    if not name:
        raise ValueError("the scale has no name")
    # A line with commas that was written without quotes still is one line.
    text = ",".join(cells[2:])
    goes_on = (len(text) - len(text.rstrip("\\"))) % 2 == 1
    return name, _Row(round(seconds * 1_000_000_000), unescape(text[:-1] if goes_on else text), goes_on)


def _chunks(rows: list[_Row]) -> list[Chunk | Lost]:
    if any(row.goes_on or row.data.endswith(_LINE_ENDS) for row in rows):
        lost = "the port was lost, as recorded"
        return [
            Chunk(row.t_ns, row.data) if row.data else Lost(row.t_ns, lost)
            for row in rows
            if row.data or row.goes_on
        ]
    return [Chunk(row.t_ns, row.data + b"\r\n") for row in rows]
