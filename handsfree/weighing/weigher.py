"""One scale's whole path: received bytes to indications, plateaus, load changes and events. Pure."""

from __future__ import annotations

from collections.abc import Sequence

from handsfree.weighing.framing import IDLE_GAP_NS
from handsfree.weighing.guard import RangeGuard
from handsfree.weighing.intake import Intake, Read
from handsfree.weighing.lines import Shape
from handsfree.weighing.messages import Indication, LoadChange, Plateau, ScaleEvent, Torn
from handsfree.weighing.ports import Chunk, Ended, Lost, Nothing, Received
from handsfree.weighing.settling import WINDOW_S, Settling
from handsfree.weighing.steps import Steps
from handsfree.weighing.watch import SILENCE_S, Watch

Weighed = Indication | Plateau | LoadChange | ScaleEvent | Torn


class Weigher:
    """Weighs with one scale. A live stream and its replay give the same messages.

    Args:
        scale: Name of the instrument: "bench", "rail".
        shapes: Its line shape, or those to choose among (see `handsfree.weighing.shapes`).
        d_mg: Scale interval; None to learn it from the stream.
        unit: Unit of lines that carry none: "kg".
        least_change_mg: Smallest load change to report, never less than two intervals.
        window_s: Time over which an indication must stand.
        silence_s: Time without a line after which the scale is silent; None for never.
        first_is_whole: The stream is known to begin at the beginning of a line.
        address: The scale's number, where several talk on one wire.
        max_mg: Greatest load of the instrument, when known: what it cannot show is not believed.
        silent_at_rest: The scale sends nothing while its value stands (it sends on a change, once when
            settled, or on its key): a pause after a whole line is rest, not trouble.
    """

    def __init__(
        self,
        scale: str,
        shapes: Sequence[Shape],
        d_mg: int | None = None,
        *,
        unit: str = "",
        least_change_mg: int = 0,
        window_s: float = WINDOW_S,
        silence_s: float | None = SILENCE_S,
        first_is_whole: bool = False,
        address: str = "",
        max_mg: int | None = None,
        silent_at_rest: bool = False,
    ) -> None:
        self.scale = scale
        self._intake = Intake(scale, shapes, unit, address, first_is_whole=first_is_whole)
        self._settling = Settling(scale, d_mg, window_s=window_s, silent_at_rest=silent_at_rest)
        self._steps = Steps(least_change_mg)
        self._watch = Watch(scale, silence_s)
        self._guard = RangeGuard(max_mg)
        self._silent_at_rest = silent_at_rest
        self._plateau_start_ns: int | None = None
        self._bytes_ns = -IDLE_GAP_NS
        self.torn = 0
        """Frames refused so far."""
        self.asides = 0
        """Whole lines without a weight so far (dates, ticket numbers)."""

    @property
    def standing(self) -> Plateau | None:
        """The plateau now on the scale; None while it moves, is silent or is in trouble."""
        return None if self._watch.down else self._settling.standing

    @property
    def shape(self) -> Shape | None:
        """The line shape in use; None until one is chosen."""
        return self._intake.shape

    def feed(self, received: Received) -> list[Weighed]:
        """Everything that follows from what was received, in order."""
        match received:
            case Chunk():
                return self._chunk(received)
            case Nothing():
                return self.tick(received.t_ns)
            case Lost():
                out = self._reads(self._intake.flush(received.t_ns))
                self._settling.interrupt()
                return out + self._watch.lost(received.t_ns, received.detail)
            case Ended():
                out = self._reads(self._intake.end(received.t_ns))
                # Nothing contradicts the last line any more.
                return out + self._rest(received.t_ns + round(WINDOW_S * 1e9))

    def tick(self, t_ns: int) -> list[Weighed]:
        """Time passed; needed only while nothing is received."""
        out = self._reads(self._intake.tick(t_ns))
        out += self._rest(t_ns)
        return out + self._silence(self._watch.tick(t_ns), t_ns)

    def expected(self, t_ns: int) -> list[ScaleEvent]:
        """A load change should have come by now and has not: a piece was called."""
        return self._watch.expected(t_ns)

    def _chunk(self, chunk: Chunk) -> list[Weighed]:
        if not chunk.data:
            return self.tick(chunk.t_ns)
        out = self.tick(chunk.t_ns)
        reads = self._intake.feed(chunk)
        self._bytes_ns = chunk.t_ns
        if self._intake.heard:
            out += self._watch.heard(chunk.t_ns)
        return out + self._reads(reads)

    def _rest(self, t_ns: int) -> list[Weighed]:
        return self._plateaus(self._settling.rest(t_ns)) if self._silent_at_rest else []

    def _silence(self, events: Sequence[ScaleEvent], t_ns: int) -> list[Weighed]:
        if not events:
            return []
        # On a shared wire a neighbour may talk on: its lines are no pause.
        paused = t_ns - self._bytes_ns > IDLE_GAP_NS
        out = self._reads(self._intake.flush(t_ns)) if paused else []
        self._settling.interrupt()
        return [*out, *events]

    def _reads(self, reads: Sequence[Read]) -> list[Weighed]:
        return [message for read in reads for message in self._read(read)]

    def _read(self, read: Read) -> list[Weighed]:
        if isinstance(read, Torn):
            self.torn += 1
            if self._silent_at_rest:
                self._settling.interrupt()  # the value before may be no longer the value
            return [read, *self._watch.torn(read)]
        if not isinstance(read, Indication):
            self.asides += 1
            return []
        shape = self.shape
        over = shape is not None and shape.zero_on_overload
        read = self._guard.feed(read, zero_on_overload=over)
        out: list[Weighed] = [read, *self._watch.read(read)]
        return out + self._plateaus(self._settling.feed(read))

    def _plateaus(self, plateaus: Sequence[Plateau]) -> list[Weighed]:
        out: list[Weighed] = []
        for plateau in plateaus:
            if plateau.start_ns != self._plateau_start_ns:
                self._plateau_start_ns = plateau.start_ns
                out.append(plateau)
            out += self._steps.feed(plateau, self._settling.onset_ns)
        return out
