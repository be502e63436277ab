"""A CTranslate2 Whisper model that scores phrases in a sound; it never writes free text. An edge module."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np

from handsfree.errors import EngineUnavailableError, ModelError
from handsfree.speech.log_mel import log_mel
from handsfree.speech.messages import RATE_HZ, Samples
from handsfree.speech.token_model import LogProbabilities, log_probabilities

_WINDOWS_S = (2.0, 3.0, 5.0)
"""The model was trained on 30 s, and encoding 30 s costs forty times what 3 s cost; the shortest
window that holds the sound is taken. Real people's words of the development half, a closed list of 24:
92.0 % right with 2 s, 90.4 % with 3 s and 5 s, 93.8 % (of a quarter of them) with 30 s."""
_BEGIN = ("<|startoftranscript|>", "<|notimestamps|>")
_BEGIN_MANY = ("<|startoftranscript|>", "<|en|>", "<|transcribe|>", "<|notimestamps|>")
"""A model of many languages is told that it hears English."""
_ENDINGS = ("<|endoftext|>", ".", "!", "?", ",")
_LONGEST_TEXT = 12
"""Tokens of free text looked at for the comparison; a phrase rarely has more."""
_NEEDED = ("model.bin", "tokenizer.json", "config.json")


class WhisperEar:
    """A Whisper model in a folder, on one core of the processor.

    Args:
        model: The folder, with `model.bin`, `config.json` and `tokenizer.json`.

    Raises:
        EngineUnavailableError: ctranslate2 or tokenizers is not installed.
        ModelError: The folder is missing, is no such model, or cannot be loaded.
    """

    def __init__(self, model: Path) -> None:
        try:
            import ctranslate2  # noqa: PLC0415 - an optional library says so when asked for
            from tokenizers import Tokenizer  # noqa: PLC0415
        except ImportError as error:
            raise EngineUnavailableError(
                f"the second ear cannot be loaded ({error})",
                next_step="install it: pip install 'handsfree[second-ear]', or take second_ear out of the "
                "settings",
            ) from error
        missing = [name for name in _NEEDED if not (model / name).is_file()]
        if missing:
            raise ModelError(
                f"{model} is no Whisper model for the second ear: it has no {' and no '.join(missing)}",
                next_step="give the folder of a model converted for CTranslate2, or take second_ear out of "
                "the settings",
            )
        try:
            self._tokenizer = Tokenizer.from_file(str(model / "tokenizer.json"))
            self._model = ctranslate2.models.Whisper(
                str(model), device="cpu", compute_type="int8", intra_threads=1, inter_threads=1
            )
        except Exception as error:  # both libraries raise bare Exception and RuntimeError
            raise ModelError(
                f"the second ear's model in {model} cannot be loaded ({error})",
                next_step="fetch or convert the model again, or take second_ear out of the settings",
            ) from error
        self._view = ctranslate2.StorageView.from_array
        self._name = model.name
        begin = _BEGIN_MANY if self._model.is_multilingual else _BEGIN
        found = [self._tokenizer.token_to_id(mark) for mark in (*begin, *_ENDINGS)]
        ids = [token for token in found if token is not None]
        if len(ids) < len(found):
            raise ModelError(
                f"the tokenizer in {model} is not that of a Whisper model",
                next_step="give the folder of a Whisper model converted for CTranslate2",
            )
        self._begin, self.endings = ids[: len(begin)], tuple(ids[len(begin) :])
        self.spelling = lru_cache(maxsize=10_000)(self._spelling)

    @property
    def name(self) -> str:
        """Which model."""
        return f"Whisper {self._name}"

    @property
    def kind(self) -> str:
        """Of which make."""
        return "whisper"

    def listen(self, samples: Samples) -> HeardSound:
        """The sound, encoded once for any number of questions; what is past 5 s is not heard.

        Args:
            samples: int16 at 16 kHz.
        """
        length_s = len(samples) / RATE_HZ
        window_s = next((window for window in _WINDOWS_S if window >= length_s), _WINDOWS_S[-1])
        spectrogram = log_mel(samples, round(window_s * 100), self._model.n_mels)
        return HeardSound(self, np.array(self._model.encode(self._view(spectrogram[None]))))

    def _spelling(self, word: str, *, first: bool) -> tuple[int, ...]:
        del first  # small letters throughout
        return tuple(self._tokenizer.encode(f" {word}", add_special_tokens=False).ids)

    def _freely(self, encoded: Any) -> float:
        result = self._model.generate(
            self._view(encoded),
            [[*self._begin]],
            beam_size=1,
            length_penalty=0,
            max_length=2 * _LONGEST_TEXT,
            return_scores=True,
        )[0]
        return float(result.scores[0])

    def _next_tokens(self, encoded: Any, beginnings: Sequence[tuple[int, ...]]) -> list[LogProbabilities]:
        longest = max(map(len, beginnings))
        results = self._model.generate(
            self._view(np.repeat(encoded, len(beginnings), axis=0)),
            [[*self._begin, *beginning] for beginning in beginnings],
            beam_size=1,
            max_length=max(2 * (longest + 1), len(self._begin) + longest + 2),
            return_logits_vocab=True,
            suppress_blank=False,
            suppress_tokens=[],
        )
        return [
            log_probabilities(
                np.stack([np.asarray(row, np.float32) for row in result.logits[0][: len(beginning) + 1]])
            )
            for result, beginning in zip(results, beginnings, strict=True)
        ]


class HeardSound:
    """One sound as the model hears it; a `SoundTokens`."""

    def __init__(self, ear: WhisperEar, encoded: Any) -> None:
        self._ear = ear
        self._encoded = encoded

    @property
    def endings(self) -> tuple[int, ...]:
        """End of text and closing punctuation."""
        return self._ear.endings

    def spelling(self, word: str, *, first: bool) -> tuple[int, ...]:
        """The tokens of a word."""
        return self._ear.spelling(word, first=first)

    def freely(self) -> float:
        """See `SoundTokens.freely`."""
        return self._ear._freely(self._encoded)  # noqa: SLF001 - the two are one

    def next_tokens(self, beginnings: Sequence[tuple[int, ...]]) -> list[LogProbabilities]:
        """See `SoundTokens.next_tokens`."""
        return self._ear._next_tokens(self._encoded, beginnings)  # noqa: SLF001 - the two are one
