"""How frames are marked off, as a shape says it: blocks with a check character, or a fixed width. Pure.

Most scales send lines; `handsfree.weighing.framing.Framer` cuts those without being told anything. Here
is what must be told: how many check characters follow the end of a block and how they are reckoned,
and how long a frame is when nothing at all stands between two.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import reduce
from typing import Literal, Protocol

from handsfree.weighing.framing import IDLE_GAP_NS, LIMIT_BYTES, Framer
from handsfree.weighing.messages import Frame, Torn
from handsfree.weighing.ports import Chunk

_LINE_ENDS = (0x0A, 0x0D)


@dataclass(frozen=True, slots=True)
class Check:
    """A check character, the last of a frame.

    A longitudinal parity ("xor") that covers everything after STX up to and with ETX is that of ISO
    1155:1978 (cited from memory); sums and the spelling in two hexadecimal digits: common practice, no
    source.
    """

    kind: Literal["xor", "sum"]
    """Exclusive or of the covered bytes, or their sum modulo 256."""
    form: Literal["byte", "hex"]
    """One byte, or two hexadecimal digits."""
    start: bytes = b""
    """Covered before the content: the STX where it counts."""
    end: bytes = b""
    """Covered after the content: the ETX where it counts."""

    @property
    def length(self) -> int:
        """Bytes it takes at the end of the frame."""
        return 1 if self.form == "byte" else 2

    def code(self, content: bytes) -> bytes:
        """What must follow this content; hexadecimal digits are capital."""
        covered = self.start + content + self.end
        value = reduce(lambda a, b: a ^ b, covered, 0) if self.kind == "xor" else sum(covered) % 256
        return bytes([value]) if self.form == "byte" else b"%02X" % value


@dataclass(frozen=True, slots=True)
class Framing:
    """How the frames of a shape are marked off."""

    kind: Literal["line", "block", "fixed"] = "line"
    start: bytes = b""
    """Of a block: the byte it begins with. Of a fixed width: the bytes of which each frame begins
    with one, and which stand nowhere else in it."""
    end: bytes = b""
    """Of a block: the byte it ends with."""
    after_end: int = 0
    """Of a block: check characters that follow its end."""
    length: int = 0
    """Of a fixed width: bytes of a frame."""
    check: Check | None = None


LINES = Framing()


class Cutter(Protocol):
    """Cuts the bytes of one scale into frames."""

    def feed(self, chunk: Chunk) -> list[Frame | Torn]:
        """Frames and torn bytes that are complete with this chunk, in order of arrival."""
        ...

    def flush(self, t_ns: int) -> list[Torn]:
        """Give up the rest: the stream paused, was lost or ended."""
        ...


def cutter(scale: str, framing: Framing, *, first_is_whole: bool = False) -> Cutter:
    """What cuts a scale's bytes by this framing.

    Args:
        scale: Name of the instrument.
        framing: How its frames are marked off.
        first_is_whole: The stream is known to begin at the beginning of a frame.
    """
    cut: Cutter
    if framing.kind == "block":
        cut = _Marked(scale, framing)
    elif framing.kind == "fixed":
        cut = _FixedWidth(scale, framing)
    else:
        cut = Framer(scale, first_is_whole=first_is_whole)
    return cut if framing.check is None else _Checked(cut, framing.check)


class _Checked:
    """Takes the check character off each frame and refuses the frame where it is wrong."""

    def __init__(self, cut: Cutter, check: Check) -> None:
        self._cut = cut
        self._check = check

    def feed(self, chunk: Chunk) -> list[Frame | Torn]:
        return [self._checked(each) for each in self._cut.feed(chunk)]

    def flush(self, t_ns: int) -> list[Torn]:
        return self._cut.flush(t_ns)

    def _checked(self, frame: Frame | Torn) -> Frame | Torn:
        if isinstance(frame, Torn):
            return frame
        content, code = frame.data[: -self._check.length], frame.data[-self._check.length :]
        if content and code.upper() == self._check.code(content).upper():
            return Frame(frame.t_ns, frame.scale, content)
        return Torn(frame.t_ns, frame.scale, frame.data, "the check character does not fit: bits were lost")


class _Rest:
    """What has come of a frame so far, and the pause that tears it."""

    def __init__(self, scale: str) -> None:
        self.scale = scale
        self.rest = bytearray()
        self._rest_ns = 0

    def feed(self, chunk: Chunk) -> list[Frame | Torn]:
        found: list[Frame | Torn] = []
        if chunk.t_ns - self._rest_ns > IDLE_GAP_NS:
            found += self.flush(self._rest_ns)
        for byte in chunk.data:
            found += self.take(byte, chunk.t_ns)
        self._rest_ns = chunk.t_ns
        return found

    def take(self, byte: int, t_ns: int) -> Sequence[Frame | Torn]:
        raise NotImplementedError

    def flush(self, t_ns: int) -> list[Torn]:
        torn = self.torn(t_ns, "the frame was cut off before its end")
        self.begin()
        return torn

    def torn(self, t_ns: int, reason: str) -> list[Torn]:
        return [Torn(t_ns, self.scale, bytes(self.rest), reason)] if self.rest else []

    def begin(self) -> None:
        self.rest.clear()


class _Marked(_Rest):
    """Blocks from a start byte to an end byte, with check characters behind."""

    def __init__(self, scale: str, framing: Framing) -> None:
        super().__init__(scale)
        self._start, self._end = framing.start[0], framing.end[0]
        self._after = framing.after_end
        self._inside = False
        self._missing: int | None = None  # check characters still to come

    def take(self, byte: int, t_ns: int) -> Sequence[Frame | Torn]:
        if self._missing is not None:  # any byte may be a check character, even a start
            self.rest.append(byte)
            self._missing -= 1
            return self._whole(t_ns) if self._missing == 0 else ()
        if byte == self._end and self._inside:
            self._missing = self._after or None
            return () if self._after else self._whole(t_ns)
        if byte == self._start:
            cut = "a new block began before the block ended" if self._inside else "outside of any block"
            return self._given_up(t_ns, cut, inside=True)
        if not self._inside and byte in (*_LINE_ENDS, self._end):
            return self._given_up(t_ns, "outside of any block")
        self.rest.append(byte)
        if len(self.rest) < LIMIT_BYTES:
            return ()
        return self._given_up(t_ns, f"{LIMIT_BYTES} bytes without the end of a block")

    def _given_up(self, t_ns: int, reason: str, *, inside: bool = False) -> list[Torn]:
        torn = self.torn(t_ns, reason)
        self.begin()
        self._inside = inside
        return torn

    def begin(self) -> None:
        super().begin()
        self._inside = False
        self._missing = None

    def _whole(self, t_ns: int) -> list[Frame | Torn]:
        frame = Frame(t_ns, self.scale, bytes(self.rest))
        self.begin()
        return [frame] if frame.data else []


class _FixedWidth(_Rest):
    """Frames of one length with nothing between them; each begins with a byte that only begins one."""

    def __init__(self, scale: str, framing: Framing) -> None:
        super().__init__(scale)
        self._start = framing.start
        self._length = framing.length
        self._inside = False

    def take(self, byte: int, t_ns: int) -> Sequence[Frame | Torn]:
        found: list[Frame | Torn] = []
        if byte in self._start:
            cut = "a new frame began before this one ended" if self._inside else "the head is missing"
            found += self.torn(t_ns, cut)
            self.begin()
            self._inside = True
        self.rest.append(byte)
        if self._inside and len(self.rest) == self._length:
            found.append(Frame(t_ns, self.scale, bytes(self.rest)))
            self.begin()
        elif len(self.rest) >= LIMIT_BYTES:
            found += self.torn(t_ns, f"{LIMIT_BYTES} bytes without the start of a frame")
            self.begin()
        return found

    def begin(self) -> None:
        super().begin()
        self._inside = False
