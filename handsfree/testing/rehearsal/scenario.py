"""A rehearsal as data: who says what when, what lies on which scale, and what is then true.

Everything here is pure. Times are seconds from the session's start, masses are grams as they truly
are (not yet rounded to a scale's interval), levels are decibels relative to the butcher's voice.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal
from itertools import pairwise

BUTCHER = "butcher"


@dataclass(frozen=True, slots=True)
class Speaker:
    """A person in the room and the synthetic voice that plays them."""

    program: str
    """Synthesiser, a key of `voices.PACKAGES`."""
    voice: str
    level_db: float = 0.0
    """Loudness relative to the butcher at the microphone."""
    pace: float = 1.0


@dataclass(frozen=True, slots=True)
class Scale:
    """An instrument in the room, as the session folder describes it."""

    d_g: int
    max_kg: int
    shape: str
    """Name of its line shape, as `BenchScale` knows it."""
    rate_hz: float = 10.0
    settle_s: float = 0.7
    """Time in which a step settles to a thousandth of itself."""
    damping: float = 0.7
    """Damping ratio; a hanging carcass swings (0.3)."""


@dataclass(frozen=True, slots=True)
class Say:
    """Words said by one of the people."""

    at_s: float
    text: str
    speaker: str = BUTCHER
    to_recorder: bool = True
    """False for talk: the words are no phrase of the grammar."""
    pace: float = 1.0
    """Length beside the speaker's own pace: what has to be said again is said slower."""


@dataclass(frozen=True, slots=True)
class Put:
    """A mass laid on a scale."""

    at_s: float
    scale: str
    mass_g: float


@dataclass(frozen=True, slots=True)
class Take:
    """A mass taken off a scale."""

    at_s: float
    scale: str
    mass_g: float


@dataclass(frozen=True, slots=True)
class Touch:
    """A hand, an elbow or a knife leaning on the pan for a moment."""

    at_s: float
    scale: str
    mass_g: float
    seconds: float


@dataclass(frozen=True, slots=True)
class Dropout:
    """No lines from a scale for a while: a loose plug."""

    at_s: float
    scale: str
    seconds: float


@dataclass(frozen=True, slots=True)
class Noise:
    """A sound of the larder, by its name in `noises.MAKERS`."""

    at_s: float
    kind: str
    seconds: float
    level_db: float


Act = Say | Put | Take | Touch | Dropout | Noise


@dataclass(frozen=True, slots=True)
class TruthRow:
    """One row of `truth.csv`; what an event needs not is empty."""

    seconds: float
    event: str
    cut: str = ""
    side: str = ""
    count: int = 0
    net_g: int | None = None
    destination: str = ""


@dataclass(frozen=True, slots=True)
class Scenario:
    """A whole rehearsal."""

    title: str
    start: str
    """RFC 3339 wall time of second 0."""
    duration_s: float
    acts: tuple[Act, ...]
    truth: tuple[TruthRow, ...]
    speakers: dict[str, Speaker]
    scales: dict[str, Scale]
    seed: int
    bed: tuple[tuple[str, float], ...] = (("fridge fan", -19.0),)
    """Sounds that never stop: (kind, level in dB relative to the butcher)."""
    plan: str = ""
    carcass: dict[str, str | float] = field(default_factory=dict)
    """The `[carcass]` table of session.toml, empty when all of it is said aloud."""

    def said(self) -> list[Say]:
        """Everything said, in order of time."""
        return sorted((act for act in self.acts if isinstance(act, Say)), key=lambda act: act.at_s)

    def on_scale(self, name: str) -> list[Put | Take | Touch | Dropout]:
        """Everything that happens to one scale, in order of time."""
        kinds = (Put, Take, Touch, Dropout)
        return sorted(
            (act for act in self.acts if isinstance(act, kinds) and act.scale == name),
            key=lambda act: act.at_s,
        )

    def faults(self) -> list[str]:
        """What is impossible in it, as sentences: a butcher talking over himself, a negative load."""
        found = [
            f"{speaker} begins {later.text!r} at {later.at_s:.1f} s before {earlier.text!r} is over"
            for speaker in self.speakers
            for earlier, later in pairwise(say for say in self.said() if say.speaker == speaker)
            if later.at_s < earlier.at_s + spoken_s(earlier.text) * earlier.pace
        ]
        for name, scale in self.scales.items():
            load_g = 0.0
            for act in self.on_scale(name):
                if isinstance(act, Put | Take):
                    load_g += act.mass_g if isinstance(act, Put) else -act.mass_g
                    if load_g < -1 or load_g > scale.max_kg * 1000:
                        found.append(f"the {name} scale bears {load_g:.0f} g at {act.at_s:.1f} s")
        found += [f"{act} is after the end" for act in self.acts if act.at_s > self.duration_s]
        return found


def spoken_s(text: str) -> float:
    """Seconds a text takes at most at a bench's pace: a bound that needs no synthesiser.

    Measured on the flite, espeak-ng and festival voices used here: no call, command or sentence took
    longer than 0.8 s and 0.07 s a letter. `mixing` refuses a clip that does.
    """
    return 0.8 + 0.068 * sum(letter.isalpha() for letter in text) + 0.02 * text.count(" ")


def rounded_g(mass_g: float, d_g: int) -> int:
    """A mass as a scale of interval `d_g` indicates it: to the nearest, a half upwards."""
    return int((Decimal(repr(mass_g)) / d_g + Decimal("0.5")) // 1) * d_g
