"""Real words at known places in real noise, for everything that hears: endpoints, engines, gates."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import soundfile
from numpy.typing import NDArray

from handsfree.speech.messages import RATE_HZ, Samples
from handsfree.speech.resampling import Floats, to_int16

_FRAME = RATE_HZ // 100
# A clip is used where its ends are this far below its loudest 10 ms: the word is whole, the room quiet.
_CLEAN_ENDS_DB = 20.0
_ENDS_FRAMES = 10
# The word lies where the level is within this of the loudest 10 ms.
_WORD_DB = 20.0
_SPEECH_RMS = 0.06


def real_data() -> Path:
    """Where real recordings lie: HANDSFREE_REAL_DATA, or `../shared/real` beside the project."""
    beside = Path(__file__).resolve().parents[3] / "shared" / "real"
    return Path(os.environ.get("HANDSFREE_REAL_DATA", beside))


@dataclass(frozen=True, slots=True, eq=False)
class Placed:
    """One word at its place in the sound."""

    text: str
    start_ns: int
    """Where its level comes within 20 dB of its loudest 10 ms."""
    end_ns: int


@dataclass(frozen=True, slots=True, eq=False)
class WordsInNoise:
    """Sound with words at known places."""

    samples: Samples
    words: tuple[Placed, ...]


def whole_words(folder: Path) -> list[tuple[str, Path]]:
    """(word, file) of the clips that hold a whole word and are quiet at both ends; words by folder name."""
    clips = ((path.parent.name, path) for path in sorted(folder.glob("*/*.wav")))
    return [(word, path) for word, path in clips if _quiet_ends(_levels_db(_read(path)))]


def place(
    clips: list[tuple[str, Path]], noise: Path, snr_db: float, pause_s: float = 1.0, lead_s: float = 2.5
) -> WordsInNoise:
    """The clips one after the other in the noise.

    Every word has the same RMS where it is active; the noise has its RMS over all bands `snr_db`
    below that, and begins `lead_s` before the first clip.
    """
    pause = np.zeros(round(pause_s * RATE_HZ), dtype=np.float32)
    pieces: list[Floats] = [np.zeros(round(lead_s * RATE_HZ), dtype=np.float32)]
    at = len(pieces[0])
    words: list[Placed] = []
    for text, path in clips:
        clip = _read(path)
        active = np.flatnonzero(_levels_db(clip) > _levels_db(clip).max() - _WORD_DB)
        first, after = int(active[0]) * _FRAME, int(active[-1] + 1) * _FRAME
        clip = clip * np.float32(_SPEECH_RMS / np.sqrt(np.mean(clip[first:after] ** 2)))
        words.append(Placed(text, _ns(at + first), _ns(at + after)))
        pieces += [clip, pause]
        at += len(clip) + len(pause)
    speech = np.concatenate(pieces)
    hum = np.resize(_read(noise), len(speech))
    hum = hum * np.float32(_SPEECH_RMS * 10.0 ** (-snr_db / 20.0) / np.sqrt(np.mean(hum**2)))
    return WordsInNoise(to_int16(speech + hum), tuple(words))


def _ns(samples: int) -> int:
    return samples * 1_000_000_000 // RATE_HZ


def _read(path: Path) -> Floats:
    sound: Floats = soundfile.read(path, dtype="float32")[0]
    return sound


def _levels_db(sound: Floats) -> NDArray[np.float64]:
    frames = sound[: len(sound) // _FRAME * _FRAME].reshape(-1, _FRAME).astype(np.float64)
    levels: NDArray[np.float64] = 10.0 * np.log10(np.mean(frames**2, axis=1) + 1e-12)
    return levels


def _quiet_ends(levels_db: NDArray[np.float64]) -> bool:
    ends = np.concatenate([levels_db[:_ENDS_FRAMES], levels_db[-_ENDS_FRAMES:]])
    return bool(levels_db.max() - ends.max() > _CLEAN_ENDS_DB)
