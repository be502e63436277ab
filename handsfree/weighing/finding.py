"""Finds how a scale on a serial port talks, by trying the usual settings. Opens nothing itself.

A scale that sends by itself is listened to with one setting after the other; with the wrong rate its
bytes come as rubbish, with the right one as whole lines of a known shape. A scale that says nothing is
asked, with the requests of public interface manuals; no request that tares, zeroes or sets anything is
among them. Where parity or stop bits make no difference to what arrives, the plainest setting that reads
whole lines is taken: it is enough to read the scale.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Protocol

from handsfree.clock import Clock, from_seconds, seconds
from handsfree.errors import ScaleError
from handsfree.weighing.framing import Framer
from handsfree.weighing.intake import Intake
from handsfree.weighing.lines import Shape
from handsfree.weighing.messages import Frame, Indication, Torn
from handsfree.weighing.ports import Chunk, Ended, Lost, Received
from handsfree.weighing.serial_settings import SerialSettings

RATES = (9600, 4800, 2400, 19200, 1200, 38400, 57600, 115200)
"""Bits per second, the usual ones first."""
FRAMES = (("N", 8), ("E", 7), ("O", 7), ("E", 8))
USUAL = tuple(SerialSettings(baud, bits, parity) for baud in RATES for parity, bits in FRAMES)
REQUESTS = (b"W\r\n", b"SI\r\n", b"P\r\n", b"Q\r\n", b"P", b"\x05")
"""Asked in this order where the shapes name no other; each makes some scales send a weight."""

_SNIFF_S = 3.0
"""Time in which a scale that sends by itself is heard: three lines of the slowest."""
_LISTEN_S = 4.0
_ANSWER_S = 0.5
_ENOUGH = 5
_LEAST = 3
_ASKED = 3
_RUBBISH = 80
"""Bytes without one readable line after which a setting is given up."""
_GOOD = 0.9
_PLAIN = re.compile(rb"[ -~]*[0-9][ -~]*")


class TunablePort(Protocol):
    """A port whose settings can be changed while it is open."""

    def receive(self, timeout_s: float) -> Received:
        """See `handsfree.weighing.ports.Transport`."""
        ...

    def send(self, data: bytes) -> None:
        """Send a request."""
        ...

    def retune(self, settings: SerialSettings) -> None:
        """Talk with other settings from here on."""
        ...


@dataclass(frozen=True, slots=True)
class Judged:
    """What some bytes are, read with every known shape."""

    shape: str = ""
    """The shape that fits; "" when none does."""
    lines: int = 0
    torn: int = 0
    sample: str = ""
    """The last value read."""
    unit_missing: bool = False
    """The lines carry no unit; one must be set."""
    flagged: bool = False
    """The lines say whether the value is stable."""
    readable: int = 0
    """Lines of plain text with a digit in them, when no shape fits: a shape that is not known here."""

    @property
    def good(self) -> bool:
        """Whether nearly everything was read by a shape."""
        return self.lines > 0 and self.lines >= _GOOD * (self.lines + self.torn)


@dataclass(frozen=True, slots=True)
class Found:
    """A way of talking with the scale that gives whole lines."""

    settings: SerialSettings
    request: bytes
    """What it is asked with; empty for a scale that sends by itself."""
    judged: Judged
    rate_hz: float = 0.0
    """Lines a second of a scale that sends by itself."""


def judge(data: bytes, shapes: Sequence[Shape], *, first_is_whole: bool = False) -> Judged:
    """What these bytes say, by the shape that fits them best.

    Args:
        data: As they came.
        shapes: The shapes to choose among.
        first_is_whole: They begin at the beginning of a line (an answer).
    """
    bare = _judge(data, shapes, "", first_is_whole=first_is_whole)
    # A shape without a unit fits as soon as any unit is set.
    return bare if bare.lines else _judge(data, shapes, "kg", first_is_whole=first_is_whole)


def _judge(data: bytes, shapes: Sequence[Shape], unit: str, *, first_is_whole: bool) -> Judged:
    intake = Intake("", shapes, unit, first_is_whole=first_is_whole)
    reads = intake.feed(Chunk(0, data))
    # A line that is cut off by the end of listening is no fault; one without a head is none either.
    reads += [read for read in intake.end(0) if not isinstance(read, Torn)]
    values = [read for read in reads if isinstance(read, Indication)]
    torn = [read for read in reads if isinstance(read, Torn) and "head" not in read.reason]
    if not values or intake.shape is None:
        return _plain_text(data, len(torn))
    return Judged(
        intake.shape.name,
        len(values),
        len(torn),
        values[-1].text,
        bool(unit),
        any(value.stable is not None for value in values),
    )


def _plain_text(data: bytes, torn: int) -> Judged:
    """What is there of plain lines; of rubbish, as a wrong rate makes it, next to nothing is."""
    frames = [
        each for each in Framer("", first_is_whole=True).feed(Chunk(0, data)) if isinstance(each, Frame)
    ]
    plain = [each.data.decode("ascii") for each in frames if _PLAIN.fullmatch(each.data)]
    if len(plain) < _GOOD * len(frames) or not plain:
        return Judged(torn=torn)
    return Judged(torn=torn, sample=plain[-1], readable=len(plain))


class Finder:
    """Tries one port.

    Args:
        port: The port; opened by its first `receive`.
        clock: The time it waits by.
        shapes: The shapes to choose among.
        tell: Told what is being tried.
        settings: What to try, in order.
    """

    def __init__(
        self,
        port: TunablePort,
        clock: Clock,
        shapes: Sequence[Shape],
        *,
        tell: Callable[[str], None] = lambda _text: None,
        settings: Sequence[SerialSettings] = USUAL,
    ) -> None:
        self._port = port
        self._clock = clock
        self._shapes = shapes
        self._tell = tell
        self._settings = settings
        named = dict.fromkeys(shape.request for shape in shapes if shape.request)
        self._requests = tuple(dict.fromkeys((*named, *REQUESTS)))

    def find(self) -> Found | None:
        """The first way of talking that gives whole lines; None when there is none.

        Where no known shape fits, the first that gives plain lines of text, with an empty shape.

        Raises:
            ScaleError: The port cannot be opened.
        """
        self._port.receive(0.0)
        self._port.retune(self._settings[0])
        self._tell("listening whether the scale sends by itself")
        heard, _ = self._listen(_SNIFF_S, lambda data: len(data) > _RUBBISH)
        if heard:
            return self._by_listening()
        self._tell("the scale says nothing by itself; asking it")
        return self._by_asking()

    def _by_listening(self) -> Found | None:
        plain: Found | None = None
        for settings in self._settings:
            if not self._tuned("listening", settings):
                continue
            data, taken_s = self._listen(_LISTEN_S, self._decided)
            judged = judge(data, self._shapes)
            if judged.good and judged.lines >= _LEAST:
                return Found(settings, b"", judged, round(judged.lines / taken_s, 1) if taken_s else 0.0)
            if plain is None and judged.readable >= _LEAST:
                plain = Found(settings, b"", judged, round(judged.readable / taken_s, 1) if taken_s else 0.0)
        return plain

    def _tuned(self, doing: str, settings: SerialSettings) -> bool:
        """Whether the port could be set so; some cannot do every setting."""
        try:
            self._port.retune(settings)
        except ScaleError:
            return False
        self._tell(f"{doing} with {settings}")
        return True

    def _decided(self, data: bytes) -> bool:
        judged = judge(data, self._shapes)
        return judged.lines >= _ENOUGH or (judged.lines == 0 and len(data) > _RUBBISH)

    def _by_asking(self) -> Found | None:
        for settings in self._settings:
            if not self._tuned("asking", settings):
                continue
            for request in self._requests:
                data = self._answers(request)
                judged = judge(data, self._shapes, first_is_whole=True)
                if judged.good and judged.lines >= _ASKED - 1:
                    return Found(settings, request, judged)
        return None

    def _answers(self, request: bytes) -> bytes:
        """What comes when the scale is asked; asked again only when it said anything."""
        data = b""
        for _ in range(_ASKED):
            self._port.send(request)
            answer, _ = self._listen(_ANSWER_S, _ends)
            if not answer:
                break
            data += answer
        return data

    def _listen(self, longest_s: float, enough: Callable[[bytes], bool]) -> tuple[bytes, float]:
        """What comes until it is enough or the time is over, and the time between first and last byte."""
        end_ns = self._clock.now_ns() + from_seconds(longest_s)
        data, first_ns, last_ns = b"", 0, 0
        while (now_ns := self._clock.now_ns()) < end_ns:
            received = self._port.receive(min(0.1, seconds(end_ns - now_ns)))
            if isinstance(received, Ended | Lost):
                break
            if isinstance(received, Chunk):
                first_ns = first_ns or received.t_ns
                last_ns = received.t_ns
                data += received.data
                if enough(data):
                    break
        return data, seconds(last_ns - first_ns)


def _ends(data: bytes) -> bool:
    return data.endswith((b"\r", b"\n", b"\x03"))
