"""A Moonshine model that scores phrases in a sound; it never writes free text. An edge module.

Such a model (Jeffries et al., "Moonshine: Speech Recognition for Live Transcription and Voice Commands",
2024) takes the sound itself, and no more of it than there is: a call of one second costs a thirtieth of
what a model made for windows of 30 s would spend on it.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from functools import lru_cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from handsfree.errors import EngineUnavailableError, ModelError
from handsfree.speech.messages import RATE_HZ, Samples
from handsfree.speech.token_model import LogProbabilities, log_probabilities
from handsfree.speech.word_pieces import WordPieces

Floats = NDArray[np.float32]
Past = dict[str, Floats]

_BEGIN, _END = 1, 2
_CLOSING = (".", "!", "?", ",")
_LONGEST_TEXT = 12
"""Tokens of free text looked at for the comparison; a phrase rarely has more."""
_LONGEST_S = 6.0
_SHORTEST_S = 0.5
"""What is shorter is followed by silence; the encoder's first layers need about a tenth of a second."""
_PIECES = "tokenizer.bin"
_ENCODER = ("encoder_model.ort", "encoder_model.onnx")
_DECODER = ("decoder_model_merged.ort", "decoder_model_merged.onnx")


class MoonshineEar:
    """A Moonshine model in a folder, on one core of the processor.

    Args:
        model: The folder, with `encoder_model` and `decoder_model_merged` (`.ort` or `.onnx`), the decoder
            with and without past in one file, and `tokenizer.bin`.

    Raises:
        EngineUnavailableError: onnxruntime is not installed.
        ModelError: The folder is missing, is no such model, or cannot be loaded.
    """

    def __init__(self, model: Path) -> None:
        try:
            import onnxruntime  # noqa: PLC0415 - an optional library says so when asked for
        except ImportError as error:
            raise EngineUnavailableError(
                f"the Moonshine model cannot be used ({error})",
                next_step="install it: pip install 'handsfree[second-ear]', or take it out of the settings",
            ) from error
        options = onnxruntime.SessionOptions()
        options.intra_op_num_threads = options.inter_op_num_threads = 1
        options.log_severity_level = 4
        try:
            self._pieces = WordPieces(_file(model, _PIECES).read_bytes())
            self._encoder, self._decoder = (
                onnxruntime.InferenceSession(str(_file(model, *names)), options, ["CPUExecutionProvider"])
                for names in (_ENCODER, _DECODER)
            )
            self.endings = (_END, *(self._pieces.piece(mark) for mark in _CLOSING))
            self._past = [
                (given.name, (given.shape[1], given.shape[3]))
                for given in self._decoder.get_inputs()
                if given.name.startswith("past_key_values")
            ]
            self._outputs = [given.name for given in self._decoder.get_outputs()]
        except ModelError:
            raise
        except Exception as error:  # the library raises exceptions of its own making
            raise ModelError(
                f"the Moonshine model in {model} cannot be loaded ({error})",
                next_step="fetch the model again, or take it out of the settings",
            ) from error
        self._name = model.name
        self.spelling = lru_cache(maxsize=10_000)(self._spelling)

    @property
    def name(self) -> str:
        """Which model."""
        return f"Moonshine {self._name}"

    @property
    def kind(self) -> str:
        """Of which make."""
        return "moonshine"

    def listen(self, samples: Samples) -> HeardSound:
        """The sound, encoded once for any number of questions; what is past 6 s is not heard.

        Args:
            samples: int16 at 16 kHz.
        """
        heard = samples[: round(_LONGEST_S * RATE_HZ)].astype(np.float32) / 32768
        heard = np.pad(heard, (0, max(0, round(_SHORTEST_S * RATE_HZ) - len(heard))))
        states = self._encoder.run(None, {"input_values": heard[None]})[0]
        nothing_yet = {
            name: np.zeros((1, heads, 0, width), np.float32) for name, (heads, width) in self._past
        }
        return HeardSound(self, states, *self._decoded(np.array([[_BEGIN]]), states, nothing_yet, past=False))

    def _decoded(
        self, tokens: NDArray[np.int64], states: Floats, past_values: Past, *, past: bool = True
    ) -> tuple[Floats, Past]:
        """Logits of the token after each, shape (phrases, tokens, vocabulary), and what each layer keeps."""
        feed = {
            "input_ids": tokens,
            "encoder_hidden_states": states,
            "use_cache_branch": np.array([past]),
            **past_values,
        }
        results = dict(zip(self._outputs, self._decoder.run(None, feed), strict=True))
        kept = {name: results[name.replace("past_key_values", "present")] for name, _ in self._past}
        return np.asarray(results["logits"], np.float32), kept

    def _spelling(self, word: str, *, first: bool) -> tuple[int, ...]:
        # The model writes sentences: a capital first.
        return self._pieces.spelled(word.capitalize() if first else word)


class HeardSound:
    """One sound as the model hears it; a `SoundTokens`. What it has worked out it remembers."""

    def __init__(self, ear: MoonshineEar, states: Floats, logits: Floats, past: Past) -> None:
        self._ear = ear
        self._states = states
        self._crossed = {name: value for name, value in past.items() if ".encoder." in name}
        self._known: dict[tuple[int, ...], tuple[Floats, Past]] = {
            (): (
                log_probabilities(logits[0, -1]),
                {name: past[name][0] for name in past if ".decoder." in name},
            )
        }

    @property
    def endings(self) -> tuple[int, ...]:
        """End of text and closing punctuation."""
        return self._ear.endings

    def spelling(self, word: str, *, first: bool) -> tuple[int, ...]:
        """The tokens of a word; a phrase begins with a capital."""
        return self._ear.spelling(word, first=first)

    def freely(self) -> float:
        """See `SoundTokens.freely`."""
        tokens: tuple[int, ...] = ()
        total = 0.0
        while len(tokens) < _LONGEST_TEXT:
            row, _ = self._known[tokens]
            best = int(row.argmax())
            total += float(row[best])
            if best == _END:
                break
            tokens = (*tokens, best)
            self._learn([tokens])
        return total

    def next_tokens(self, beginnings: Sequence[tuple[int, ...]]) -> list[LogProbabilities]:
        """See `SoundTokens.next_tokens`."""
        self._learn(beginnings)
        return [
            np.stack([self._known[beginning[:length]][0] for length in range(len(beginning) + 1)])
            for beginning in beginnings
        ]

    def _learn(self, beginnings: Sequence[tuple[int, ...]]) -> None:
        """Work out what comes after each beginning, those that continue from the same length together."""
        by_length: defaultdict[int, list[tuple[int, ...]]] = defaultdict(list)
        for beginning in dict.fromkeys(beginnings):
            length = next(n for n in range(len(beginning), -1, -1) if beginning[:n] in self._known)
            if length < len(beginning):
                by_length[length].append(beginning)
        for length, group in by_length.items():
            self._continue(length, group)

    def _continue(self, length: int, group: Sequence[tuple[int, ...]]) -> None:
        many, longest = len(group), max(map(len, group)) - length
        tokens = np.full((many, longest), _END, np.int64)  # what fills a row comes after it, and is not read
        for row, beginning in enumerate(group):
            tokens[row, : len(beginning) - length] = beginning[length:]
        before = [self._known[beginning[:length]][1] for beginning in group]
        past = {name: np.repeat(value, many, axis=0) for name, value in self._crossed.items()}
        past |= {name: np.stack([kept[name] for kept in before]) for name in before[0]}
        logits, kept = self._ear._decoded(tokens, np.repeat(self._states, many, axis=0), past)  # noqa: SLF001
        for row, beginning in enumerate(group):
            rows = log_probabilities(logits[row, : len(beginning) - length])
            for place in range(length, len(beginning)):
                # One more than the tokens: the mark every text begins with.
                after = {name: kept[name][row, :, : place + 2] for name in before[0]}
                self._known[beginning[: place + 1]] = (rows[place - length], after)


def _file(model: Path, *names: str) -> Path:
    """The first of these files that is there."""
    found = next((model / name for name in names if (model / name).is_file()), None)
    if found is None:
        raise ModelError(
            f"{model} is no Moonshine model: it has no {' or '.join(names)}",
            next_step="give the folder of such a model, or take it out of the settings",
        )
    return found
