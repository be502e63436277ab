"""Troubles of a scale and their ends, each told once. Pure."""

from __future__ import annotations

from collections import deque
from statistics import median

from handsfree.weighing.messages import Condition, Indication, ScaleEvent, ScaleEventKind, Torn

SILENCE_S = 2.0
_INTERVALS_SILENT = 4
"""A scale that sends rarely (or on a key press) is silent after four of its own intervals."""
TORN_IN_A_ROW = 20
"""Two seconds at ten lines a second that could not be read."""

_RECENT_FRAMES = 100
_NOISY = 25
_CLEAN = 5
"""Of the last hundred frames: torn ones that make a line noisy, and at which it is clean again."""
MISSES = 2
"""Load changes that were expected while the value stood still to the digit: once may be a slip of speech."""

_TROUBLES = {
    Condition.OVERLOAD: ScaleEventKind.OVERLOAD,
    Condition.UNDERLOAD: ScaleEventKind.UNDERLOAD,
    Condition.FAULT: ScaleEventKind.FAULT,
    Condition.IMPLAUSIBLE: ScaleEventKind.IMPLAUSIBLE,
}
_ENDS = {
    Condition.OVERLOAD: ScaleEventKind.OVERLOAD_OVER,
    Condition.IMPLAUSIBLE: ScaleEventKind.PLAUSIBLE,
}


class Watch:
    """Watches the line stream of one scale.

    Args:
        scale: Name of the instrument.
        silence_s: Time without a line after which the scale counts as silent; None: never.
    """

    def __init__(self, scale: str, silence_s: float | None = SILENCE_S) -> None:
        self._scale = scale
        self._silence_ns = None if silence_s is None else round(silence_s * 1e9)
        self._last_ns = 0
        self._intervals: deque[int] = deque(maxlen=9)
        self._down: ScaleEventKind | None = None
        self._trouble: Condition = Condition.NORMAL
        self._unit = ""
        self._torn = 0
        self._frames: deque[bool] = deque(maxlen=_RECENT_FRAMES)
        self._noisy = False
        self._shown = ""
        self._misses = 0

    @property
    def down(self) -> bool:
        """Whether the scale is silent or unplugged."""
        return self._down is not None

    def heard(self, t_ns: int) -> list[ScaleEvent]:
        """A line came, readable or not."""
        events = self.tick(t_ns)
        if self._down is not None:
            events.append(self._event(t_ns, ScaleEventKind.BACK, "lines come again"))
            self._down = None
        elif t_ns > self._last_ns > 0:
            self._intervals.append(t_ns - self._last_ns)
        self._last_ns = max(t_ns, self._last_ns)
        return events

    def tick(self, t_ns: int) -> list[ScaleEvent]:
        """Time passed without a line."""
        if self._silence_ns is None or self._down is not None:
            return []
        usual_ns = round(median(self._intervals)) if self._intervals else 0
        limit_ns = max(self._silence_ns, _INTERVALS_SILENT * usual_ns)
        if t_ns - self._last_ns <= limit_ns:
            return []
        self._down = ScaleEventKind.SILENT
        # Stamped when the time was up, not when somebody looked: a replay looks later.
        return [
            self._event(
                self._last_ns + limit_ns, ScaleEventKind.SILENT, f"no line for {limit_ns / 1e9:.1f} s"
            )
        ]

    def lost(self, t_ns: int, detail: str) -> list[ScaleEvent]:
        """The port went away."""
        if self._down is ScaleEventKind.UNPLUGGED:
            return []
        self._down = ScaleEventKind.UNPLUGGED
        self._last_ns = max(t_ns, self._last_ns)
        return [self._event(t_ns, ScaleEventKind.UNPLUGGED, detail)]

    def torn(self, torn: Torn) -> list[ScaleEvent]:
        """A frame could not be read."""
        self._torn += 1
        noise = self._noise(torn.t_ns, torn=True)
        if self._torn != TORN_IN_A_ROW:
            return noise
        return [self._event(torn.t_ns, ScaleEventKind.UNREADABLE, f"{torn.reason}: {torn.data[:40]!r}")]

    def read(self, indication: Indication) -> list[ScaleEvent]:
        """A frame was read."""
        events: list[ScaleEvent] = []
        if self._torn >= TORN_IN_A_ROW:
            events.append(self._event(indication.t_ns, ScaleEventKind.READABLE, indication.text))
            self._frames.clear()  # what could not be read has been told
        self._torn = 0
        events += self._noise(indication.t_ns, torn=False)
        events += self._condition(indication)
        events += self._moved(indication)
        if indication.unit and indication.condition is Condition.NORMAL:
            if self._unit and indication.unit != self._unit:
                events.append(
                    self._event(
                        indication.t_ns, ScaleEventKind.UNIT_CHANGED, f"{self._unit} to {indication.unit}"
                    )
                )
            self._unit = indication.unit
        return events

    def _condition(self, indication: Indication) -> list[ScaleEvent]:
        now, before = indication.condition, self._trouble
        if now is Condition.BLANK or now is before:
            return []  # a blank display says nothing about an overload
        self._trouble = now
        if now in _TROUBLES:
            return [self._event(indication.t_ns, _TROUBLES[now], "")]
        end = _ENDS.get(before, ScaleEventKind.BACK)
        return [self._event(indication.t_ns, end, "" if before in _ENDS else f"{before.value} over")]

    def expected(self, t_ns: int) -> list[ScaleEvent]:
        """A load change was expected by now (a piece was called) and none came."""
        if self._down is not None or self._trouble is not Condition.NORMAL or not self._shown:
            return []
        self._misses += 1
        if self._misses != MISSES:
            return []
        return [self._event(t_ns, ScaleEventKind.STUCK, f"{self._shown} all the time")]

    def _moved(self, indication: Indication) -> list[ScaleEvent]:
        """A value that changes is not stuck."""
        if indication.text == self._shown and indication.condition is Condition.NORMAL:
            return []
        stuck = self._misses >= MISSES
        self._shown, self._misses = indication.text, 0
        return [self._event(indication.t_ns, ScaleEventKind.MOVES, indication.text)] if stuck else []

    def _noise(self, t_ns: int, *, torn: bool) -> list[ScaleEvent]:
        """Torn frames among readable ones; a line that cannot be read at all is another trouble."""
        self._frames.append(torn)
        bad = sum(self._frames)
        if not self._noisy and bad >= _NOISY and not torn:
            self._noisy = True
            detail = f"{bad} of {len(self._frames)} lines were torn"
            return [self._event(t_ns, ScaleEventKind.NOISY, detail)]
        if self._noisy and bad <= _CLEAN and len(self._frames) == _RECENT_FRAMES:
            self._noisy = False
            return [self._event(t_ns, ScaleEventKind.CLEAN)]
        return []

    def _event(self, t_ns: int, kind: ScaleEventKind, detail: str = "") -> ScaleEvent:
        return ScaleEvent(t_ns, self._scale, kind, detail)
