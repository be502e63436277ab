"""Frames to indications: by a given shape, or by the one shape that the first lines agree on. Pure."""

from __future__ import annotations

from collections.abc import Sequence

from handsfree.weighing.lines import Aside, Shape, read_line
from handsfree.weighing.messages import Frame, Indication, Torn

_LINES_TO_CHOOSE = 5
_CHECKED_TO_CHOOSE = 3  # a check character that fits three times running is no chance
_CHOOSE_AFTER_NS = 2_000_000_000  # a scale that sends on a key press may send one line and wait


class LineReader:
    """Reads the frames of one scale.

    With several shapes it holds the first lines back until five of them fit at least one shape (or
    two seconds passed), then keeps the shape that most of them fit, by a tie the one that says more,
    for good. Nothing held back is lost: it is read with its own time.

    Args:
        scale: Name of the instrument.
        shapes: The shape, or the shapes to choose among.
        unit: Unit of lines that carry none.
        address: The scale's number, where several talk on one wire; "" takes the first that talks, and
            then no other: two scales are never mixed into one.
        undecided: Even a single shape must first prove itself (others are tried elsewhere).
    """

    def __init__(
        self,
        scale: str,
        shapes: Sequence[Shape],
        unit: str = "",
        address: str = "",
        *,
        undecided: bool = False,
    ) -> None:
        self._scale = scale
        self._shapes = tuple(shapes)
        self._unit = unit
        self._set_address = address
        self._address = address
        checked = bool(shapes) and all(shape.framing.check for shape in shapes)
        self._to_choose = _CHECKED_TO_CHOOSE if checked else _LINES_TO_CHOOSE
        self._held: list[Frame] = []
        self.shape: Shape | None = None if undecided or len(self._shapes) > 1 else self._shapes[0]
        """The shape in use; None until one is chosen."""

    def feed(self, frame: Frame | Torn) -> list[Indication | Aside | Torn]:
        """What the frame says; nothing while it is held back to choose a shape."""
        if isinstance(frame, Torn):
            return [frame]
        if self.shape is not None:
            return [self._own(read_line(frame, self.shape, self._unit))]
        if not any(self._fits(frame, shape) for shape in self._shapes):
            return [Torn(frame.t_ns, self._scale, frame.data, self._why_not(frame))]
        self._held.append(frame)
        return self._choose() if len(self._held) >= self._to_choose else []

    def tick(self, t_ns: int) -> list[Indication | Aside | Torn]:
        """Choose with what is there when no further line came for two seconds."""
        if self._held and t_ns - self._held[0].t_ns >= _CHOOSE_AFTER_NS:
            return self._choose()
        return []

    def flush(self) -> list[Indication | Aside | Torn]:
        """Choose with what is there: the stream has ended."""
        return self._choose() if self._held else []

    def _choose(self) -> list[Indication | Aside | Torn]:
        held, self._held = self._held, []
        self.shape = max(
            self._shapes,
            key=lambda shape: (
                sum(self._fits(frame, shape) for frame in held),
                shape.specificity,
                shape.name,
            ),
        )
        return [self._own(read_line(frame, self.shape, self._unit)) for frame in held]

    def _own(self, read: Indication | Aside | Torn) -> Indication | Aside | Torn:
        """What is read, when it is this scale's."""
        if not isinstance(read, Indication) or not (read.address or self._set_address):
            return read
        self._address = self._address or read.address
        if read.address == self._address:
            return read
        if self._set_address:
            return Aside(read.t_ns, read.scale, read.text.encode(), other=True)
        why = f"scale {read.address} talks on the line of scale {self._address}: set address for each"
        return Torn(read.t_ns, read.scale, read.text.encode(), why)

    def _fits(self, frame: Frame, shape: Shape) -> bool:
        return not isinstance(read_line(frame, shape, self._unit), Torn)

    def _why_not(self, frame: Frame) -> str:
        """The most telling reason: a shape that fits but for its unit, else that none does."""
        for shape in self._shapes:
            read = read_line(frame, shape, self._unit)
            if isinstance(read, Torn) and "no line of the shape" not in read.reason:
                return f"{read.reason} ({shape.name})"
        if any(byte >= 0x80 for byte in frame.data):
            return "no known line shape; bytes over 127: check bits, parity and baud rate"
        return "no known line shape"
