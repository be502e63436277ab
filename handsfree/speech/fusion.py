"""Pure: two engines' views of one utterance weighed into an order of readings and a confidence."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import astuple, dataclass, fields, replace
from functools import cache
from importlib.resources import files
from math import exp, isfinite, log

from handsfree.errors import ConfigError

UNHEARD = -6.0
"""Natural log probability of a reading that the first engine did not name, or hardly believes."""
_FAR = 60.0
"""The margin of a reading without rivals."""


@dataclass(frozen=True, slots=True)
class Reading:
    """One candidate as both engines see it."""

    text: str
    ear: float
    """Natural-log probability of the phrase's tokens, given the sound."""
    blank: float
    """The same given silence: how readily the model writes the phrase unasked."""
    tokens: int
    first_best: bool
    """Whether it is the first engine's best reading."""
    first: float = UNHEARD
    """Natural log of the first engine's probability for it, `UNHEARD` at least."""

    def figures(self) -> tuple[float, ...]:
        """What its rank is weighed from, in the order of `RANK_FIGURES`.

        Both probabilities stand there as sums and as means: the errors of a phrase's tokens hang together,
        so ten tokens tell less than ten times what one does.
        """
        tokens = max(1, self.tokens)
        return (
            self.ear,
            self.blank,
            float(self.tokens),
            float(self.first_best),
            self.first,
            self.ear / tokens,
            self.blank / tokens,
        )


RANK_FIGURES = ("ear", "blank", "tokens", "first_best", "first", "ear_per_token", "blank_per_token")


@dataclass(frozen=True, slots=True)
class Belief:
    """What the confidence in the chosen reading is weighed from."""

    gate: float
    """Log odds of the first engine's own confidence, if it chose the same reading, else 0."""
    gate_other: float
    """The same if it chose another one, else 0."""
    agree: float
    """1 when both engines put this reading first."""
    margin: float
    """How far the next reading is behind, in the units of the rank."""
    free: float
    """Natural log that the likeliest free text explains the sound better, per token of the reading."""
    ear: float
    """Natural-log probability of the reading per token."""
    lift: float
    """How much likelier the sound makes the reading than silence does, per token."""
    tokens: float

    def figures(self) -> tuple[float, ...]:
        """The figures in field order."""
        return tuple(float(figure) for figure in astuple(self))


BELIEF_FIGURES = tuple(field.name for field in fields(Belief))


@dataclass(frozen=True, slots=True)
class Column:
    """One figure's weight, and the range it was learned in."""

    weight: float
    lowest: float
    highest: float

    def of(self, figure: float) -> float:
        """Its share of the sum; outside the range nothing more is concluded."""
        return self.weight * min(max(figure, self.lowest), self.highest)


@dataclass(frozen=True, slots=True)
class Fusion:
    """The weights; how they were found stands in their data file."""

    rank: tuple[float, ...]
    """In the order of `RANK_FIGURES`."""
    intercept: float
    belief: tuple[Column, ...]
    """In the order of `BELIEF_FIGURES`."""
    own_voice: float = 0.0
    """What the intercept gains beside a model of the speaker's own voice, which is right more often."""

    def beside_own_voice(self) -> Fusion:
        """The weights where the first engine knows the speaker's voice."""
        return replace(self, intercept=self.intercept + self.own_voice, own_voice=0.0)

    def worth(self, reading: Reading) -> float:
        """The higher, the likelier is the reading; differences are natural-log odds."""
        return sum(weight * figure for weight, figure in zip(self.rank, reading.figures(), strict=True))

    def ordered(self, readings: Sequence[Reading]) -> list[Reading]:
        """Likeliest first."""
        return sorted(readings, key=lambda reading: -self.worth(reading))

    def belief_in(self, ordered: Sequence[Reading], first_confidence: float, freely: float) -> Belief:
        """The evidence for the first of the ordered readings."""
        best = ordered[0]
        tokens = max(1, best.tokens)
        odds = log_odds(first_confidence)
        same = best.first_best
        ear_best = max(reading.ear for reading in ordered)
        margin = self.worth(best) - self.worth(ordered[1]) if len(ordered) > 1 else _FAR
        return Belief(
            gate=odds if same else 0.0,
            gate_other=0.0 if same else odds,
            agree=float(same and best.ear == ear_best),
            margin=margin,
            free=(freely - best.ear) / tokens,
            ear=best.ear / tokens,
            lift=(best.ear - best.blank) / tokens,
            tokens=float(tokens),
        )

    def confidence(self, belief: Belief) -> float:
        """Probability, 0 to 1, that the best reading is what was said."""
        total = self.intercept + sum(
            column.of(figure) for column, figure in zip(self.belief, belief.figures(), strict=True)
        )
        return 1.0 / (1.0 + exp(-max(-50.0, min(50.0, total))))


def log_odds(chance: float) -> float:
    """ln(p / (1 - p)), held within ±7."""
    held = min(max(chance, 0.001), 0.999)
    return log(held / (1.0 - held))


def read_fusion(data: Mapping[str, object], where: str) -> Fusion:
    """The weights from their data.

    Raises:
        ConfigError: One is missing or no number.
    """

    def number(table: object, name: str) -> float:
        value = table.get(name) if isinstance(table, Mapping) else None
        if not isinstance(value, int | float) or isinstance(value, bool) or not isfinite(value):
            raise ConfigError(
                f"{where} has no number for {name!r}",
                next_step="install handsfree again, or train the second ear again",
            )
        return float(value)

    def column(name: str) -> Column:
        belief = data.get("belief")
        table = belief.get(name) if isinstance(belief, Mapping) else None
        return Column(number(table, "weight"), number(table, "lowest"), number(table, "highest"))

    return Fusion(
        rank=tuple(number(data.get("rank"), name) for name in RANK_FIGURES),
        intercept=number(data.get("belief"), "intercept"),
        belief=tuple(column(name) for name in BELIEF_FIGURES),
        own_voice=number(data.get("belief"), "own_voice"),
    )


def fusion_file(kind: str, after: str = "") -> str:
    """The name of the data file with an ear's weights.

    Args:
        kind: The kind of its model, such as "whisper".
        after: The kind of the ear before it, for a third ear.
    """
    return f"third_ear_{kind}_after_{after}.toml" if after else f"second_ear_{kind}.toml"


@cache
def packaged_fusion(kind: str, after: str = "") -> Fusion:
    """The weights trained for the embedded engine with an English model of this kind; see `fusion_file`.

    Raises:
        ConfigError: There are none for this order of ears, or the installation is incomplete.
    """
    name = fusion_file(kind, after)
    if not (files("handsfree.speech") / name).is_file():
        raise ConfigError(
            f"there is no {'third' if after else 'second'} ear of the kind {kind}",
            next_step="give a Whisper model as second_ear and, if one is wanted, a Moonshine model as "
            "third_ear",
        )
    try:
        text = (files("handsfree.speech") / name).read_text(encoding="utf-8")
        return read_fusion(tomllib.loads(text), name)
    except (OSError, tomllib.TOMLDecodeError) as error:
        raise ConfigError(f"{name} cannot be read: {error}", next_step="install handsfree again") from error
