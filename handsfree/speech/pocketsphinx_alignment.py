"""Lays known words over their sound, state by state, with the embedded engine. An edge module.

The features are the ones the engine itself computed (its own noise removal and live cepstral mean),
written by it to a scratch folder, so nothing about them is guessed.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np

from handsfree.errors import EngineUnavailableError
from handsfree.speech.acoustic_model import CEPSTRA, Alignment, Floats, Numbers, features
from handsfree.speech.lexicon import Lexicon
from handsfree.speech.messages import Samples
from handsfree.speech.pocketsphinx_decoders import NO_WORDS, SCORE_STEP, MeanListener, SphinxDecoder

_FEATURES_ONLY = "features only"


@dataclass(frozen=True, slots=True, eq=False)
class Aligned:
    """Words laid over their sound."""

    alignment: Alignment
    frames: Numbers
    """Which frames of the sound `alignment` tells of, ascending."""
    loss: float
    """Natural log likelihood per frame by which the words explain the sound worse than each frame's
    best state would; some 0.5 to 3 for words that were said."""
    speech_frames: int
    """Frames of 10 ms that are words, not silence."""


class Aligner(SphinxDecoder):
    """Aligns utterances, each with the cepstral mean it would be recognised with.

    Args:
        lexicon: Pronunciations of the words.
        phones: The phones in the order of their codebooks (`AcousticModel.phones`).

    Raises:
        EngineUnavailableError: The library is not installed, or is too old to align.
        ModelError: The model cannot be loaded.
    """

    def __init__(self, lexicon: Lexicon, phones: tuple[str, ...]) -> None:
        self._lexicon = lexicon
        self._codebooks = {phone: number for number, phone in enumerate(phones)}
        self._scratch = TemporaryDirectory(prefix="handsfree-frames-")
        super().__init__(mfclogdir=self._scratch.name)
        if not hasattr(self._decoder, "set_alignment"):
            raise EngineUnavailableError(
                "this version of the embedded recogniser cannot align words",
                next_step="install a newer one: pip install --upgrade pocketsphinx",
            )
        self._decoder.add_jsgf_string(_FEATURES_ONLY, NO_WORDS)
        self._known: set[str] = set()
        self._mean = MeanListener()

    def close(self) -> None:
        """Remove the scratch files. Safe to call twice."""
        self._scratch.cleanup()

    def align(self, samples: Samples, text: str) -> Aligned | None:
        """Lay the words over the sound.

        Args:
            samples: Denoised, one utterance, shape (n,), int16 at 16 kHz.
            text: What was said, in words of the lexicon.

        Returns:
            None when the words do not fit into the sound at all.

        Raises:
            UnknownWordError: A word has no pronunciation; names all of them.
        """
        words = text.split()
        self._lexicon.require(words, needed_by=f"the phrase {text!r}")
        for word in set(words) - self._known:
            for number, phones in enumerate(self._lexicon.pronunciations(word), 1):
                head = word if number == 1 else f"{word}({number})"
                self._decoder.add_word(head, " ".join(phones), False)
            self._known.add(word)
        mean = self._mean_of(samples)
        try:
            self._decoder.set_align_text(text)
            self._pass(samples, mean)
            if self._decoder.hyp() is None:
                return None
            # The second pass goes from words down to states.
            self._decoder.set_alignment()
            cepstra = self._pass(samples, mean)
        except RuntimeError:  # the library's word for "does not fit"
            return None
        return self._states(cepstra, mean)

    def in_other_sound(self, laid: Aligned, samples: Samples) -> Alignment:
        """The words where they were laid, in the frames of another sound: the same recording in noise.

        Args:
            laid: The words laid over the sound as it was recorded.
            samples: As long as that, denoised by itself.
        """
        mean = self._mean_of(samples)
        self._decoder.activate_search(_FEATURES_ONLY)
        cepstra = self._pass(samples, mean)
        return Alignment(
            _streams(cepstra, mean)[laid.frames], laid.alignment.codebooks, laid.alignment.states
        )

    def _mean_of(self, samples: Samples) -> str:
        self._mean.begin()
        self._mean.feed(samples)
        self._mean.end()
        return self._mean.mean()

    def _pass(self, samples: Samples, mean: str) -> Floats:
        for old in Path(self._scratch.name).iterdir():
            old.unlink()
        self.begin(mean)
        self.feed(samples)
        self.end()
        (written,) = Path(self._scratch.name).glob("*.mfc")
        # The library writes the number of values, then the values, big-endian whatever the machine.
        data = written.read_bytes()
        order = ">" if int.from_bytes(data[:4], "big") * 4 == len(data) - 4 else "<"
        return np.frombuffer(data, f"{order}f4", offset=4).astype(np.float64).reshape(-1, CEPSTRA)

    def _states(self, cepstra: Floats, mean: str) -> Aligned | None:
        found = self._decoder.get_alignment()
        if found is None:
            return None
        codebooks = np.full(len(cepstra), -1, np.int64)
        states = np.zeros(len(cepstra), np.int64)
        speech = 0
        for word in found.words():
            for phone in word:
                speech += 0 if phone.name == "SIL" else phone.duration
                for state in phone:
                    span = slice(state.start, state.start + state.duration)
                    codebooks[span] = self._codebooks[phone.name]
                    states[span] = int(state.name)
        covered = codebooks >= 0
        if not speech or not covered.any():
            return None
        loss = -SCORE_STEP * sum(word.score for word in found.words()) / len(cepstra)
        frames = np.flatnonzero(covered)
        laid = Alignment(_streams(cepstra, mean)[frames], codebooks[frames], states[frames])
        return Aligned(laid, frames, loss, speech)


def _streams(cepstra: Floats, mean: str) -> Floats:
    return features(cepstra, np.array([float(part) for part in mean.split(",")]))
