"""The lines of a rehearsal's scales, all at once or as the story goes on. Pure."""

from __future__ import annotations

from collections.abc import Sequence

from handsfree.testing import bench_scale as bench
from handsfree.testing.rehearsal.scenario import Act, Dropout, Put, Scale, Scenario, Take, Touch

_AT_REST_S = 20.0
"""After this long no load swings any more; the slowest scale here settles in 1.8 s."""

Row = tuple[float, str, str]
"""Seconds, scale, line."""


def rows(scenario: Scenario) -> list[Row]:
    """The lines of all scales in order of time."""
    found = [row for each in instruments(scenario) for row in each.until(scenario.duration_s, scenario.acts)]
    return sorted(found, key=lambda row: row[0])


def instruments(scenario: Scenario) -> list[ScaleLines]:
    """The scales of a scenario, each with a seed of its own."""
    return [
        ScaleLines(name, scale, scenario.seed + number)
        for number, (name, scale) in enumerate(scenario.scales.items())
    ]


class ScaleLines:
    """One scale, read on as the story goes on.

    Args:
        name: Its name.
        scale: What it is like.
        seed: Of its display noise.
    """

    def __init__(self, name: str, scale: Scale, seed: int) -> None:
        self._name = name
        self._instrument = bench.BenchScale(
            name,
            scale.d_g,
            scale.max_kg,
            scale.rate_hz,
            scale.shape,
            seed,
            settle_s=scale.settle_s,
            damping=scale.damping,
        )
        self._until_s = 0.0

    def until(self, t_s: float, acts: Sequence[Act]) -> list[Row]:
        """The lines displayed since the last call and up to this time, in order.

        Args:
            t_s: Seconds of the session.
            acts: Everything that has happened so far; what concerns this scale is picked out.
        """
        mine = [
            act for act in acts if isinstance(act, Put | Take | Touch | Dropout) and act.scale == self._name
        ]
        events = _with_old_loads_at_rest(sorted(mine, key=lambda act: act.at_s), self._until_s)
        lines = self._instrument.run(events, t_s, since_s=self._until_s)
        self._until_s = t_s
        return [(at_s, self._name, line) for at_s, line in lines]


def _with_old_loads_at_rest(
    acts: Sequence[Put | Take | Touch | Dropout], now_s: float
) -> list[bench.BenchEvent]:
    """What came to rest long ago is one load that has always lain there: it costs no reckoning."""
    rests_s = now_s - _AT_REST_S
    lain_g = sum(
        (act.mass_g if isinstance(act, Put) else -act.mass_g)
        for act in acts
        if isinstance(act, Put | Take) and act.at_s < rests_s
    )
    recent = [
        act
        for act in acts
        if (act.at_s + act.seconds if isinstance(act, Touch | Dropout) else act.at_s) >= rests_s
    ]
    return [bench.Put(-_AT_REST_S, lain_g), *(_event(act) for act in recent)]


def _event(act: Put | Take | Touch | Dropout) -> bench.BenchEvent:
    match act:
        case Put():
            return bench.Put(act.at_s, act.mass_g)
        case Take():
            return bench.Take(act.at_s, act.mass_g)
        case Touch():
            return bench.Touch(act.at_s, act.seconds, act.mass_g)
        case Dropout():
            return bench.Dropout(act.at_s, act.seconds)
