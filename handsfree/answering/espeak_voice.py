"""The voice of the eSpeak NG program, asked once for each part; its sound comes back through a pipe.

A program of its own keeps its memory, its locks and its faults to itself, and answers in some
hundredths of a second.
"""

from __future__ import annotations

import io
import shutil
import subprocess
import wave

import numpy as np

from handsfree.answering.ports import Spoken
from handsfree.answering.trimming import trimmed

#: Words a minute: brisk, but consonants stay apart from the noise (common practice, no source).
WORDS_PER_MINUTE = 165

#: Voices tried in this order when none is asked for: British first.
_PREFERRED = ("en-gb-x-rp", "en-gb", "en")
_TIMEOUT_S = 10.0


class EspeakVoice:
    """Speaks with `espeak-ng` where it is installed.

    Args:
        voice: A voice of the program (`espeak-ng --voices`); empty for a British one.
        words_per_minute: Speed.
        program: Name or path of the program.
    """

    def __init__(
        self, voice: str = "", words_per_minute: int = WORDS_PER_MINUTE, program: str = "espeak-ng"
    ) -> None:
        self._voices = [voice] if voice else list(_PREFERRED)
        self._words_per_minute = words_per_minute
        self._program = program
        self._missing = ""

    @property
    def name(self) -> str:
        """Program and voice."""
        return f"{self._program} {self._voices[0]}"

    @property
    def missing(self) -> str:
        """Why there is no voice; empty as long as there is one, or it was not tried."""
        return self._missing

    def render(self, text: str) -> Spoken | None:
        """The words as sound at the voice's own rate; None when there is no such program or voice."""
        if self._missing or not text.strip():
            return None
        program = shutil.which(self._program)
        if program is None:
            self._missing = f"the program {self._program} is not installed"
            return None
        while self._voices:
            try:
                done = self._ask(program, self._voices[0], text)
            except (OSError, subprocess.TimeoutExpired) as error:
                self._missing = f"{self._program} did not answer: {error}"
                return None
            spoken = _read(done.stdout) if done.returncode == 0 else None
            if spoken is not None:
                return spoken
            self._missing = done.stderr.decode(errors="replace").strip() or "it gave no sound"
            if len(self._voices) == 1:
                return None
            self._voices.pop(0)
            self._missing = ""
        return None

    def _ask(self, program: str, voice: str, text: str) -> subprocess.CompletedProcess[bytes]:
        # The words go in through standard input: nothing in them can be taken for an option.
        command = [program, "-v", voice, "-s", str(self._words_per_minute), "--stdin", "--stdout"]
        return subprocess.run(
            command, input=text.encode(), capture_output=True, timeout=_TIMEOUT_S, check=False
        )


def _read(sound: bytes) -> Spoken | None:
    try:
        with wave.open(io.BytesIO(sound), "rb") as file:
            if file.getsampwidth() != 2 or file.getnchannels() != 1:
                return None
            # The header of a piped file claims an endless length; what is there is read.
            data, rate_hz = file.readframes(file.getnframes()), file.getframerate()
    except (wave.Error, EOFError):
        return None
    samples = np.frombuffer(data[: len(data) // 2 * 2], dtype="<i2").astype(np.int16)
    return Spoken(trimmed(samples, rate_hz), rate_hz) if len(samples) else None
