"""Pure: the rejection gate, a logistic weighing of evidence into a probability."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from importlib.resources import files
from math import exp, isfinite

from handsfree.errors import ConfigError
from handsfree.speech.evidence import FIGURES, Evidence

GATE_FILE = "gate.toml"


@dataclass(frozen=True, slots=True)
class RivalOdds:
    """Log odds that a rival reading is what was said: what it starts from, and two slopes."""

    intercept: float
    behind: float
    """For each unit of log likelihood (natural, whole utterance) the rival is behind the best."""
    best: float
    """For each unit of log odds of the best reading."""


@dataclass(frozen=True, slots=True)
class Gate:
    """How likely a reading is right, from its evidence.

    Each figure is held within the range seen in development, centred, scaled and weighted; outside
    that range nothing was learned, so nothing more is concluded.
    """

    intercept: float
    weights: tuple[float, ...]
    centres: tuple[float, ...]
    scales: tuple[float, ...]
    lowest: tuple[float, ...]
    highest: tuple[float, ...]
    rival: RivalOdds = field(default_factory=lambda: RivalOdds(0.0, 0.0, 0.0))

    def probability(self, evidence: Evidence | None) -> float:
        """Probability, 0 to 1, that the reading is what was said; 0 without any evidence."""
        return 0.0 if evidence is None else _logistic(self._log_odds(evidence))

    def probabilities(self, evidence: Evidence | None, behind: Sequence[float]) -> tuple[float, ...]:
        """Probability of each reading, best first; what they lack to 1 is "none of these".

        Args:
            evidence: For the best reading.
            behind: Log likelihood of the best reading over each rival's, whole utterance, 0 or more.
        """
        if evidence is None:
            return (0.0,) * (1 + len(behind))
        best = self._log_odds(evidence)
        odds = self.rival
        chances = [_logistic(odds.intercept + odds.behind * gap + odds.best * best) for gap in behind]
        sure = _logistic(best)
        share = min(1.0, (1.0 - sure) / sum(chances)) if sum(chances) > 0 else 1.0
        return (sure, *(share * chance for chance in chances))

    def _log_odds(self, evidence: Evidence) -> float:
        total = self.intercept
        for figure, weight, centre, scale, low, high in zip(
            evidence.figures(),
            self.weights,
            self.centres,
            self.scales,
            self.lowest,
            self.highest,
            strict=True,
        ):
            total += weight * (min(max(figure, low), high) - centre) / scale
        return total


def _logistic(log_odds: float) -> float:
    return 1.0 / (1.0 + exp(-max(-50.0, min(50.0, log_odds))))


def read_gate(data: Mapping[str, object], where: str) -> Gate:
    """A gate from its data.

    Raises:
        ConfigError: A coefficient is missing or no number.
    """

    def number(table: object, name: str) -> float:
        value = table.get(name) if isinstance(table, Mapping) else None
        if not isinstance(value, int | float) or isinstance(value, bool) or not isfinite(value):
            raise ConfigError(
                f"{where} has no number for {name!r}",
                next_step="install handsfree again, or train the gate again",
            )
        return float(value)

    def column(name: str) -> tuple[float, ...]:
        return tuple(number(data.get(figure), name) for figure in FIGURES)

    scales = column("scale")
    if any(scale <= 0 for scale in scales):
        raise ConfigError(f"{where} has a scale that is not positive", next_step="train the gate again")
    return Gate(
        intercept=number(data, "intercept"),
        weights=column("weight"),
        centres=column("centre"),
        scales=scales,
        lowest=column("lowest"),
        highest=column("highest"),
        rival=RivalOdds(*(number(data.get("rival"), name) for name in ("intercept", "behind", "best"))),
    )


@cache
def packaged_gate() -> Gate:
    """The gate trained for the embedded engine; how, and on what, stands in its data file.

    Raises:
        ConfigError: The installation is incomplete.
    """
    file = files("handsfree.speech") / GATE_FILE
    try:
        data = tomllib.loads(file.read_text(encoding="utf-8"))
    except (OSError, tomllib.TOMLDecodeError) as error:
        raise ConfigError(
            f"{GATE_FILE} cannot be read: {error}", next_step="install handsfree again"
        ) from error
    return read_gate(data, GATE_FILE)
