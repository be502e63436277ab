"""Messages of the sound path. All frozen, stamped in `*_ns` from the session's start."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import Flag, StrEnum, auto

import numpy as np
from numpy.typing import NDArray

from handsfree.speech.meaning import Meaning

#: The rate every stage after the source works at, samples per second.
RATE_HZ = 16_000

Samples = NDArray[np.int16]


class SoundFlags(Flag):
    """What went wrong with a block of sound; travels with the data."""

    NONE = 0
    OVERFLOW = auto()
    """The sound system dropped samples before this block."""
    GAP = auto()
    """Time is missing between the block before and this one."""
    OWN_VOICE = auto()
    """The recorder was speaking while this was captured."""


@dataclass(frozen=True, slots=True, eq=False)
class AudioBlock:
    """Mono 16-bit sound at `RATE_HZ`."""

    t_ns: int
    """Time of the first sample, from the sample count, not from the arrival."""
    samples: Samples
    """Shape (n,), dtype int16."""
    flags: SoundFlags = SoundFlags.NONE

    @property
    def end_ns(self) -> int:
        """Time just after the last sample."""
        return self.t_ns + len(self.samples) * 1_000_000_000 // RATE_HZ


@dataclass(frozen=True, slots=True, eq=False)
class SpeechPart:
    """A stretch of denoised speech between two endpoints, handed out while it is spoken."""

    start_ns: int
    """Time of the first sample of the whole segment (pre-roll included)."""
    samples: Samples
    """The new samples since the part before, shape (n,), int16."""
    first: bool
    last: bool
    too_long: bool = False
    """With `last`: the segment passed the longest call and was given up."""
    end_ns: int = 0
    """With `last`: time just after the last voiced sample (hangover not counted)."""
    flags: SoundFlags = SoundFlags.NONE
    captured: Samples | None = None
    """The same samples as they were before the denoiser; None where nothing was captured (typed words)."""
    pausing: bool = False
    """It has been quiet for so long that the word may be over; whether it is, the next parts tell."""


@dataclass(frozen=True, slots=True)
class Hypothesis:
    """One reading of an utterance."""

    text: str
    meaning: Meaning | None
    """None when the text is not a phrase of the grammar (an engine may mix words)."""
    score: float
    """Natural-log acoustic likelihood per 10 ms frame of the utterance, comparable between its readings
    only; how far apart two scores decide something is the engine's own: fusion takes `probability`."""
    probability: float | None = None
    """0 to 1, calibrated: how likely this is what was said. What the readings of an utterance lack to
    1 is "none of these". None where the engine gives none."""


class Refusal(StrEnum):
    """Why an utterance was not taken for a call, command or answer."""

    NOT_IN_GRAMMAR = "not in the grammar"
    NOT_LIKE_SPEECH_WE_KNOW = "does not sound like any phrase"
    TOO_LONG = "too long for a call"
    OWN_VOICE = "the recorder's own voice"
    BAD_SOUND = "samples were lost"


@dataclass(frozen=True, slots=True)
class VoiceFigures:
    """How an utterance sounded, whatever was said."""

    level_db: float
    """Active speech level (ITU-T P.56, method B) after denoising, decibels of RMS over full scale."""
    brightness_db: float
    """Power between 2.5 and 6.5 kHz over that between 0.3 and 1 kHz in its loud frames, decibels."""


@dataclass(frozen=True, slots=True)
class Utterance:
    """One stretch of speech and its n-best readings, best first."""

    start_ns: int
    end_ns: int
    """Time of the last voiced sample."""
    heard_ns: int
    """Time of the sample at which the decision could be made (end plus hangover)."""
    hypotheses: tuple[Hypothesis, ...]
    confidence: float
    """0 to 1, probability that the best reading is what was said (1.0 for typed words)."""
    refusal: Refusal | None = None
    flags: SoundFlags = field(default=SoundFlags.NONE)
    figures: VoiceFigures | None = None
    """None for typed words and where nothing could be measured."""

    @property
    def accepted(self) -> bool:
        """Whether the best reading may be acted on."""
        return self.refusal is None and bool(self.hypotheses) and self.hypotheses[0].meaning is not None

    @property
    def text(self) -> str:
        """The best reading's words, empty when nothing was recognised."""
        return self.hypotheses[0].text if self.hypotheses else ""

    @property
    def meaning(self) -> Meaning | None:
        """The best reading's meaning, None when refused."""
        return self.hypotheses[0].meaning if self.accepted else None
