"""Pure: whether a recording of a known phrase is fit to learn from."""

from __future__ import annotations

from enum import StrEnum

import numpy as np

from handsfree.speech.messages import RATE_HZ, Samples


class Fault(StrEnum):
    """Why a phrase is asked for again, in words that can be said."""

    QUIET = "too quiet, speak up or come nearer"
    CLIPPED = "too loud for the microphone"
    SHORT = "too short for this phrase"
    LONG = "too long for this phrase"
    NOISY = "too much noise around the voice"
    OTHER_WORDS = "that did not sound like this phrase"
    LOST = "some sound was lost"
    NOTHING = "nothing was said"


#: Limits are common practice, no source; a tenth of full scale is -20 dB.
QUIETEST_DB = -50.0
CLIPPED_SHARE = 0.001
_RAIL = 32_700
SHORTEST_S_A_LETTER = 0.025
"""Twice as fast as brisk English (some 15 to 20 letters a second)."""
LONGEST_S_A_LETTER = 0.30
LEAST_OVER_NOISE_DB = 8.0
_FRAME = RATE_HZ // 50


def fault_of(raw: Samples, speech_s: float, text: str) -> Fault | None:
    """What is wrong with the sound, None when nothing is.

    Args:
        raw: As the microphone gave it, the phrase with a little room before and after.
        speech_s: How long the voice was heard.
        text: The phrase.
    """
    frames = raw[: len(raw) // _FRAME * _FRAME].reshape(-1, _FRAME).astype(np.float64)
    if not len(frames) or speech_s <= 0:
        return Fault.NOTHING
    level = 10.0 * np.log10(np.mean(frames**2, axis=1) / 32768.0**2 + 1e-12)
    loud = float(np.percentile(level, 90))
    letters = sum(character.isalpha() for character in text)
    faults = {
        Fault.CLIPPED: np.mean(np.abs(raw.astype(np.int32)) >= _RAIL) > CLIPPED_SHARE,
        Fault.QUIET: loud < QUIETEST_DB,
        Fault.SHORT: speech_s < SHORTEST_S_A_LETTER * letters,
        Fault.LONG: speech_s > 1.0 + LONGEST_S_A_LETTER * letters,
        Fault.NOISY: loud - float(np.percentile(level, 5)) < LEAST_OVER_NOISE_DB,
    }
    return next((fault for fault, there in faults.items() if there), None)
