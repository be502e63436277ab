"""Indications to plateaus: stretches of stable equilibrium, judged by the stream itself. Pure.

Stable equilibrium is two neighbouring values over a time (the idea of OIML R 76-1:2006 4.4.2, with
a shorter time: a butcher does not wait five seconds). The scale's own flag only lengthens the time,
and only while it has been seen to change: flags stick on vibrating benches, and some scales have none.

Where the values scatter by more than d, the latest ones are taken as one level when they stay within
`_NOISY_D` intervals and the means of their two halves agree within what such means differ by; as few
are taken as give the mean to d / `_FINE`, and no more than `_NOISIEST_S` seconds. The uncertainty of the mean
counts neighbours that follow each other as less than one value each. That a bench shook is
remembered, so that a moment of calm is not taken for rest. This is a test of equality by thresholds,
not a likelihood ratio: what is being judged is rest, and rounding makes the values of rest discrete.
`_FINE` and `_HALVES` were tried at 3, 4, 6 and 0.4, 0.7 on generated sessions, with hardly a
difference; the other figures are judgement.
"""

from __future__ import annotations

from collections import Counter, deque
from collections.abc import Iterable
from itertools import pairwise
from math import sqrt

from handsfree.weighing.interval import ScaleInterval
from handsfree.weighing.messages import Condition, Indication, Plateau

WINDOW_S = 0.4
"""Time over which an indication must stand: 5 lines at 10 Hz."""
_LEAST = 3
"""Fewest indications in a window, whatever the rate."""
_DOUBTFUL = 1.6
"""How much longer the window is while the value flickers or the scale says it moves."""
_STILL = 1.9
"""How much longer a value must stand unchanged on a bench that shook lately."""
_NOISY_S = 1.2
_NOISIEST_S = 2.0
_MEAN_S = 3.0
_FINE = 4
_HALVES = 0.6
_NOISY_LEAST = 6
_NOISY_D = 8
"""A vibrating bench: this spread in d, standing this long, counts with a larger uncertainty."""
_FADE = 0.99
"""How a shaking bench is forgotten, each indication: by half in 7 s at 10 lines a second."""
_RECENT_S = 0.5
"""The value of a plateau follows its last half second, so that drip and drift stay one plateau."""


class Settling:
    """Finds the plateaus of one scale.

    Args:
        scale: Name of the instrument.
        d_mg: Scale interval; None to learn it from the stream.
        window_s: Time over which an indication must stand.
        silent_at_rest: Lines come only while the value changes; `rest` tells when it has not.
    """

    def __init__(
        self,
        scale: str,
        d_mg: int | None = None,
        *,
        window_s: float = WINDOW_S,
        silent_at_rest: bool = False,
    ) -> None:
        self._silent_at_rest = silent_at_rest
        self._scale = scale
        self._interval = ScaleInterval(d_mg)
        self._d_mg = d_mg or 0
        self._window_ns = round(window_s * 1e9)
        self._recent: deque[Indication] = deque()
        self._flags: set[bool] = set()
        self._noise_mg = 0.0
        self._moving = True
        self._plateau: Plateau | None = None
        self._left_ns: int | None = None
        self.onset_ns = 0
        """When the indication first left the plateau before the one found last."""

    @property
    def standing(self) -> Plateau | None:
        """The plateau that stands now; None while the load moves or the scale is in trouble."""
        return None if self._moving else self._plateau

    def interrupt(self) -> None:
        """The stream broke off: what comes next must settle anew, and is compared with what stood."""
        self._moving = True
        self._recent.clear()

    def feed(self, indication: Indication) -> list[Plateau]:
        """The plateau as it stands after this indication; empty while the load moves.

        A plateau with the `start_ns` of the one before is the same plateau, grown.
        """
        if indication.condition is not Condition.NORMAL:
            self.interrupt()
            self._leave(indication.t_ns)
            return []
        if indication.stable is not None:
            self._flags.add(indication.stable)
        self._d_mg = self._interval.feed(indication)
        if self._plateau is not None and self._plateau.basis is not indication.basis:
            self.interrupt()  # the tare key was pressed: the value jumped, the load did not
            self._plateau = None
            self._left_ns = None
        if not self._moving and not self._within(indication):
            self.interrupt()
        if self._moving and not self._within(indication):
            self._leave(indication.t_ns)
        self._recent.append(indication)
        if self._moving:
            return self._settle(indication)
        return [self._grow(indication)]

    def _leave(self, t_ns: int) -> None:
        if self._left_ns is None:
            self._left_ns = t_ns

    def _within(self, indication: Indication) -> bool:
        plateau = self._plateau
        if plateau is None:
            return False
        return abs(indication.value_mg - plateau.value_mg) <= max(self._reach_mg, self._noise_mg)

    def _settle(self, indication: Indication) -> list[Plateau]:
        now_ns = indication.t_ns
        self._forget(now_ns - round(_NOISIEST_S * 1e9), _NOISY_LEAST)
        window = self._quiet_window(indication)
        if window and self._shaking:
            # On a bench that shook only a value that does not change at all speaks for rest, and for long.
            still = not _spread(window) and now_ns - window[0].t_ns >= _STILL * self._window_ns
            window = window if still else []
        window = window or self._noisy_window(now_ns)
        if not window:
            return []
        return [self._stand(window)]

    def rest(self, t_ns: int) -> list[Plateau]:
        """The plateau of a scale that is silent at rest: its last value has stood for the whole window.

        Args:
            t_ns: Time until which nothing was received.
        """
        due_ns = self._recent[-1].t_ns + self._window_ns if self._recent else 0
        if not self._recent or t_ns < due_ns:
            return []
        last = self._recent[-1]
        if self._moving:
            return [self._stand([last], due_ns)]
        before = self._plateau
        if before is None or before.value_mg == last.value_mg:
            return []
        # The value flickered and then stayed: what stays is the value.
        self._plateau = self._made([last], before.start_ns, before.count, last.value_mg, due_ns)
        return [self._plateau]

    def _stand(self, window: list[Indication], until_ns: int | None = None) -> Plateau:
        """The plateau that these indications begin, or go on with."""
        values = [each.value_mg for each in window]
        spread = max(values) - min(values)
        if spread > self._reach_mg:
            self._noise_mg = max(self._noise_mg, spread)
        value = _middle(values) if self._shaking else _usual(values)
        before = self._plateau
        start_ns, count = window[0].t_ns, len(window)
        if before is not None and abs(value - before.value_mg) <= max(self._reach_mg, self._noise_mg):
            start_ns, count = before.start_ns, before.count + len(window)
        self._moving = False
        self._recent = deque(window)  # what came before the window was motion
        self.onset_ns = start_ns if self._left_ns is None else self._left_ns
        self._left_ns = None
        self._plateau = self._made(window, start_ns, count, value, until_ns)
        return self._plateau

    def _quiet_window(self, indication: Indication) -> list[Indication]:
        """The latest indications when they stand within one d for long enough."""
        doubtful = indication.stable is False and len(self._flags) == 2
        window_ns = 0.95 * self._window_ns * (_DOUBTFUL if doubtful else 1.0)  # arrival times jitter
        window: list[Indication] = []
        low = high = indication.value_mg
        switches, run = 0, 0
        for each in reversed(self._recent):
            low, high = min(low, each.value_mg), max(high, each.value_mg)
            if high - low > self._reach_mg:
                break
            if window and each.value_mg != window[-1].value_mg:
                switches += 1
            window.append(each)
            run += switches == 0
            span_ns = indication.t_ns - each.t_ns
            if len(window) < _LEAST:
                continue
            if switches == 0 and span_ns >= (_STILL * self._window_ns if self._shaking else window_ns):
                return window[::-1]
            # One switch may be the last bit of a swing: only what came after it counts, and for as long.
            if switches == 1 and run >= _LEAST and indication.t_ns - window[run - 1].t_ns >= window_ns:
                return window[run - 1 :: -1]
            if switches > 1 and span_ns >= _DOUBTFUL * window_ns:
                return window[::-1]
        return []

    def _noisy_window(self, now_ns: int) -> list[Indication]:
        """The latest indications when they scatter by a few d around one value that does not wander.

        As few as give the mean to a third of d, and no more than the last two seconds.
        """
        recent = list(self._recent)
        for count in range(_NOISY_LEAST, len(recent) + 1):
            window = recent[-count:]
            long = now_ns - window[0].t_ns >= 0.95 * _NOISY_S * 1e9
            last = now_ns - window[0].t_ns >= 0.95 * _NOISIEST_S * 1e9
            values = [each.value_mg for each in window]
            if max(values) - min(values) > _NOISY_D * self._reach_mg:
                return []
            if not long:
                continue
            half = count // 2
            first, second = values[:half], values[half:]
            between = abs(sum(first) / len(first) - sum(second) / len(second))
            u_mg = _mean_u_mg(values)
            # The halves of one level differ by 2 u, standard deviation, in the long run.
            if between > max(_HALVES * self._reach_mg, 3.0 * u_mg):
                return []
            if u_mg <= self._reach_mg / _FINE or last:
                return window
        return []

    def _grow(self, indication: Indication) -> Plateau:
        assert self._plateau is not None
        before = self._plateau
        self._forget(indication.t_ns - round((_MEAN_S if self._shaking else _NOISY_S) * 1e9), _LEAST)
        self._noise_mg = max(self._noise_mg * _FADE, self._scatter())
        if self._silent_at_rest:
            # One line within a d may be the first of a motion: it counts when nothing follows it.
            window, value = [*self._recent], before.value_mg
        elif self._shaking:
            window = list(self._recent)
            value = _middle([each.value_mg for each in window])
        else:
            since_ns = indication.t_ns - round(_RECENT_S * 1e9)
            window = [each for each in self._recent if each.t_ns >= since_ns]
            value = _usual([each.value_mg for each in window])
        self._plateau = self._made(window, before.start_ns, before.count + 1, value)
        return self._plateau

    def _made(
        self, window: list[Indication], start_ns: int, count: int, value_mg: int, until_ns: int | None = None
    ) -> Plateau:
        spread = max(_spread(window), round(self._noise_mg) if self._shaking else 0)
        near = min(reversed(window), key=lambda each: abs(each.value_mg - value_mg))
        # JCGM 100:2008 F.2.2.1: rounding to d has d/sqrt 12. Two neighbouring values are that
        # rounding; where more scatters, the mean of what scatters comes on top (4.2.3).
        u_mean_mg = _mean_u_mg([each.value_mg for each in window]) if spread > self._reach_mg else 0.0
        return Plateau(
            self._scale,
            start_ns,
            window[-1].t_ns if until_ns is None else until_ns,
            value_mg,
            near.text,
            spread,
            count,
            sqrt(self._d_mg**2 / 12.0 + u_mean_mg**2),
            self._d_mg,
            window[-1].basis,
        )

    def _scatter(self) -> int:
        """Spread of the recent values if they scatter all the time; 0 if they only came to rest or drip."""
        recent = list(self._recent)
        half = len(recent) // 2
        if (
            len(recent) < _NOISY_LEAST
            or min(_spread(recent[:half]), _spread(recent[half:])) <= self._reach_mg
        ):
            return 0
        return _spread(recent)

    @property
    def _shaking(self) -> bool:
        """Whether the values of standing plateaus have lately scattered by more than d."""
        return self._noise_mg > self._reach_mg

    @property
    def _reach_mg(self) -> int:
        """One d, with room for the rounding of pounds and ounces to whole milligrams."""
        return self._d_mg + self._d_mg // 1000

    def _forget(self, before_ns: int, keep: int) -> None:
        while len(self._recent) > keep and self._recent[0].t_ns < before_ns:
            self._recent.popleft()


def _spread(window: Iterable[Indication]) -> int:
    values = [each.value_mg for each in window]
    return max(values) - min(values)


def _usual(values: list[int]) -> int:
    """The most frequent value, by a tie the one seen last."""
    counts = Counter(values)
    most = max(counts.values())
    return next(value for value in reversed(values) if counts[value] == most)


def _mean_u_mg(values: list[int]) -> float:
    """Standard uncertainty of the mean of values that remember those before them."""
    count = len(values)
    mean = sum(values) / count
    off = [value - mean for value in values]
    square = sum(each * each for each in off)
    if not square:
        return 0.0
    r = sum(a * b for a, b in pairwise(off)) / square
    r = min(max(r, 0.0), 0.8)
    return sqrt(square / (count - 1) / count * (1 + r) / (1 - r))


def _middle(values: list[int]) -> int:
    """The indicated value next to the mean."""
    centre = sum(values) / len(values)
    return min(values, key=lambda value: abs(value - centre))
