"""Bytes of one scale to readings, whatever way its frames are marked off. Pure.

While the shape is not known, each way of framing that a shape asks for is tried side by side on the
same bytes; the first whose lines fit a shape often enough stays, the others are dropped. Ways with
a check character go first: what passes it is no accident.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from handsfree.weighing.framings import LINES, Cutter, Framing, cutter
from handsfree.weighing.lines import Aside, Shape
from handsfree.weighing.messages import Frame, Indication, Torn
from handsfree.weighing.ports import Chunk
from handsfree.weighing.reading import LineReader

Read = Indication | Aside | Torn


@dataclass(frozen=True, slots=True)
class _Way:
    """One way of framing, and the shapes that ask for it."""

    framing: Framing
    cut: Cutter
    reader: LineReader


class Intake:
    """Cuts and reads the bytes of one scale.

    Args:
        scale: Name of the instrument.
        shapes: The shape, or the shapes to choose among.
        unit: Unit of lines that carry none.
        address: The scale's number where several talk on one wire; see `LineReader`.
        first_is_whole: The stream is known to begin at the beginning of a frame.
    """

    def __init__(
        self,
        scale: str,
        shapes: Sequence[Shape],
        unit: str = "",
        address: str = "",
        *,
        first_is_whole: bool = False,
    ) -> None:
        framings = {shape.framing: None for shape in shapes}
        # The usual lines come last, those with a check character first.
        order = sorted(framings, key=lambda framing: (framing == LINES, framing.check is None))
        self._ways = [
            _Way(
                framing,
                cutter(scale, framing, first_is_whole=first_is_whole),
                LineReader(
                    scale,
                    [shape for shape in shapes if shape.framing == framing],
                    unit,
                    address,
                    undecided=len(order) > 1,
                ),
            )
            for framing in order
        ]
        self.heard = False
        """Whether the bytes fed last completed anything that this scale sent, readable or not."""

    @property
    def shape(self) -> Shape | None:
        """The shape in use; None until one is chosen."""
        return self._ways[0].reader.shape if len(self._ways) == 1 else None

    def feed(self, chunk: Chunk) -> list[Read]:
        """What the frames that are complete with this chunk say."""
        self.heard = False
        return self._all(lambda way: self._read(way, way.cut.feed(chunk)))

    def flush(self, t_ns: int) -> list[Read]:
        """Give up the rest: the stream paused or was lost."""
        return self._all(lambda way: self._read(way, way.cut.flush(t_ns)))

    def tick(self, t_ns: int) -> list[Read]:
        """Time passed without bytes."""
        return self._all(lambda way: way.reader.tick(t_ns))

    def end(self, t_ns: int) -> list[Read]:
        """The stream has ended: what is there decides on the shape."""
        return self.flush(t_ns) + self._all(lambda way: way.reader.flush())

    def _read(self, way: _Way, frames: Sequence[Frame | Torn]) -> list[Read]:
        reads = [read for frame in frames for read in way.reader.feed(frame)]
        others = sum(isinstance(read, Aside) and read.other for read in reads)
        self.heard = self.heard or len(frames) > others
        return reads

    def _all(self, step: Callable[[_Way], list[Read]]) -> list[Read]:
        """One step on each way; once a way has its shape, on that alone."""
        reads: list[Read] = []
        for way in self._ways:
            reads = step(way)
            if len(self._ways) > 1 and way.reader.shape is not None:
                self._ways = [way]
                break
        return reads  # while none is chosen, what the last and most usual way makes of it
