"""Values that an instrument of this capacity cannot show: marked before anybody weighs with them. Pure."""

from __future__ import annotations

from dataclasses import replace

from handsfree.weighing.messages import Condition, Indication

_OVER_INTERVALS = 9
"""OIML R 76-1:2006 4.2.3: no indication above Max + 9 e."""
_FAR = 3
"""Beyond three times the capacity it is no load at all: a digit, the decimal point or the unit is wrong."""
_NEAR = 0.9
_RISING_NS = 1_500_000_000
"""A scale that shows zero for overload goes there from near Max within this time of the load rising."""


class RangeGuard:
    """Marks indications outside the range of one scale.

    Above Max + 9 d is overload, far outside in either direction implausible. A single such indication is
    only passed over: one wrong digit on the wire is no reason to speak.

    Args:
        max_mg: Greatest load of the instrument; None judges nothing.
    """

    def __init__(self, max_mg: int | None) -> None:
        self._max_mg = max_mg
        self._outside = False
        self._value_mg = 0
        self._risen_ns: int | None = None
        self._zero_is_over = False

    def feed(self, indication: Indication, *, zero_on_overload: bool = False) -> Indication:
        """The same indication, or the same with the condition that it really has.

        Args:
            indication: As read.
            zero_on_overload: The shape's scales show zero when they are overloaded.
        """
        if self._max_mg is None or indication.condition is not Condition.NORMAL:
            return indication
        condition = self._outside_range(indication)
        if condition is Condition.NORMAL and zero_on_overload:
            condition = self._zero(indication)
        elif condition is Condition.NORMAL:
            self._outside = False
        if condition is Condition.NORMAL:
            return indication
        return replace(indication, value_mg=0, condition=condition)

    def _outside_range(self, indication: Indication) -> Condition:
        assert self._max_mg is not None
        value_mg = indication.value_mg
        top_mg = self._max_mg + _OVER_INTERVALS * indication.interval_mg
        # A net value may go down to minus the tare, which is Max at most.
        if -top_mg <= value_mg <= top_mg:
            return Condition.NORMAL
        first, self._outside = not self._outside, True
        if first:
            return Condition.BLANK
        far = value_mg < 0 or value_mg > _FAR * self._max_mg
        return Condition.IMPLAUSIBLE if far else Condition.OVERLOAD

    def _zero(self, indication: Indication) -> Condition:
        """Overload shown as zero, for scales that do that: zero straight after a load rising to near Max."""
        assert self._max_mg is not None
        self._outside = False
        before_mg, self._value_mg = self._value_mg, indication.value_mg
        if indication.value_mg:
            self._zero_is_over = False
            if indication.value_mg > before_mg and indication.value_mg >= _NEAR * self._max_mg:
                self._risen_ns = indication.t_ns
            return Condition.NORMAL
        if before_mg and self._risen_ns is not None:
            near = before_mg >= _NEAR * self._max_mg
            self._zero_is_over = near and indication.t_ns - self._risen_ns <= _RISING_NS
        return Condition.OVERLOAD if self._zero_is_over else Condition.NORMAL
