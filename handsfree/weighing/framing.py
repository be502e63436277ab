"""Bytes to whole frames. A frame is whole or it is torn; a rest without an end is never a frame.

A frame ends with CR LF, LF or CR, or runs from STX to ETX (or to a line end); no setting is needed.
The first frame after opening, and after anything that may have lost bytes, is torn unless it began
with STX or right after a terminator: its head may be missing, and "2.345 kg" cut from "12.345 kg"
looks whole.
"""

from __future__ import annotations

from typing import Final

from handsfree.weighing.messages import Frame, Torn
from handsfree.weighing.ports import Chunk

_STX: Final = 0x02
_ETX: Final = 0x03
_LINE_ENDS: Final = (0x0A, 0x0D)

LIMIT_BYTES = 256
"""Longest frame; the longest line known here has 42 bytes. Keeps junk from filling the memory."""

IDLE_GAP_NS = 500_000_000
"""A pause in mid-frame after which the rest is torn: 30 bytes take 0.25 s even at 1200 baud."""


class Framer:
    """Cuts the bytes of one scale into frames.

    Args:
        scale: Name of the instrument.
        first_is_whole: The stream is known to begin at the beginning of a line.
        limit: Longest frame in bytes.
        idle_gap_ns: Pause in mid-frame that tears it.
    """

    def __init__(
        self,
        scale: str,
        *,
        first_is_whole: bool = False,
        limit: int = LIMIT_BYTES,
        idle_gap_ns: int = IDLE_GAP_NS,
    ) -> None:
        self._scale = scale
        self._limit = limit
        self._idle_gap_ns = idle_gap_ns
        self._rest = bytearray()
        self._rest_ns = 0
        self._head_known = first_is_whole
        self._in_block = False
        self._too_long = False

    def feed(self, chunk: Chunk) -> list[Frame | Torn]:
        """Frames and torn bytes that are complete with this chunk, in order of arrival."""
        found: list[Frame | Torn] = []
        if self._pending and chunk.t_ns - self._rest_ns > self._idle_gap_ns:
            found += self.flush(self._rest_ns)
        for byte in chunk.data:
            self._take(byte, chunk.t_ns, found)
        self._rest_ns = chunk.t_ns
        return found

    def flush(self, t_ns: int) -> list[Torn]:
        """Give up the rest: the stream paused, was lost or ended. What comes next has no known head."""
        torn = self._torn(t_ns, "the line was cut off before its end") if self._rest else []
        self._start(head_known=False)
        return torn

    @property
    def _pending(self) -> bool:
        return bool(self._rest) or self._in_block or self._too_long

    def _take(self, byte: int, t_ns: int, found: list[Frame | Torn]) -> None:
        if byte == _STX:
            if self._rest:
                found += self._torn(t_ns, "a new block began before the line ended")
            self._start(head_known=True, in_block=True)
        elif byte == _ETX:
            self._end(t_ns, found, whole=self._in_block)
        elif byte in _LINE_ENDS:
            self._end(t_ns, found, whole=self._head_known)
        else:
            self._rest.append(byte)
            if len(self._rest) >= self._limit:
                found += self._torn(t_ns, f"{self._limit} bytes without a line end")
                self._start(head_known=False)
                self._too_long = True

    def _end(self, t_ns: int, found: list[Frame | Torn], *, whole: bool) -> None:
        if self._rest:
            if self._too_long:
                found += self._torn(t_ns, "the end of an overlong line")
            elif not whole:
                found += self._torn(t_ns, "the head of the line may be missing")
            else:
                found.append(Frame(t_ns, self._scale, bytes(self._rest)))
        self._start(head_known=True)

    def _torn(self, t_ns: int, reason: str) -> list[Torn]:
        return [Torn(t_ns, self._scale, bytes(self._rest), reason)]

    def _start(self, *, head_known: bool, in_block: bool = False) -> None:
        self._rest.clear()
        self._head_known = head_known
        self._in_block = in_block
        self._too_long = False
