"""The voice of the system through pyttsx3, rendered to a file, never played.

For systems that have a speech library and no eSpeak NG program. One engine serves the whole process;
the speed is a wish: the library's queue may hand it over one phrase late.
"""

from __future__ import annotations

import atexit
import contextlib
import importlib
import tempfile
import threading
import wave
from pathlib import Path
from typing import Any

import numpy as np

from handsfree.answering.ports import Spoken
from handsfree.answering.trimming import trimmed

#: British voices first, by the identifiers eSpeak NG uses.
_PREFERRED = ("gmw/en-gb-x-rp", "gmw/en", "gmw/en-gb-scotland", "gmw/en-us")

# The library keeps one engine a process and loses sound when a second is made: share it, one at a time.
_LOCK = threading.Lock()
_ENGINE: list[Any] = []
# Let go of it while the library can still clean up: at the interpreter's end it complains.
atexit.register(_ENGINE.clear)


class SystemVoice:
    """Speaks with what the system has; nothing is loaded before the first word.

    Args:
        voice: Identifier of a voice of the system; empty for a British one where there is one.
        words_per_minute: Speed.
    """

    def __init__(self, voice: str = "", words_per_minute: int = 165) -> None:
        self._wanted = voice
        self._words_per_minute = words_per_minute
        self._missing = ""

    @property
    def name(self) -> str:
        """Which voice is asked for."""
        return self._wanted or "the system's voice"

    @property
    def missing(self) -> str:
        """Why there is no voice; empty as long as there is one, or it was not tried."""
        return self._missing

    def render(self, text: str) -> Spoken | None:
        """The words as sound at the voice's own rate; None when the system has no voice."""
        if self._missing or not text.strip():
            return None
        with _LOCK:
            try:
                engine = self._engine()
                # A rendering that comes out empty is tried once more: the library hands the file
                # over on an event that now and then belongs to the words before.
                return _rendered(engine, text) or _rendered(engine, text)
            except Exception as error:  # noqa: BLE001 - the library raises whatever its driver raises
                self._missing = f"{type(error).__name__}: {error}"
                return None

    def _engine(self) -> Any:
        if not _ENGINE:
            pyttsx3 = importlib.import_module("pyttsx3")
            # The library reports every file on standard output, which belongs to our answers.
            with contextlib.suppress(ImportError):
                driver: Any = importlib.import_module("pyttsx3.drivers.espeak")
                driver.print = lambda *_args, **_options: None
            _ENGINE.append(pyttsx3.init())
        engine = _ENGINE[0]
        voices = {str(voice.id) for voice in engine.getProperty("voices")}
        if not voices:
            raise RuntimeError("the system has no voices")
        if self._wanted and self._wanted not in voices:
            raise RuntimeError(f"the system has no voice {self._wanted!r}")
        chosen = self._wanted or next((name for name in _PREFERRED if name in voices), "")
        if chosen:
            engine.setProperty("voice", chosen)
        engine.setProperty("rate", self._words_per_minute)
        return engine


def _rendered(engine: Any, text: str) -> Spoken | None:
    with tempfile.TemporaryDirectory(prefix="handsfree-voice-") as folder:
        path = Path(folder) / "spoken.wav"
        engine.save_to_file(text, str(path))
        engine.runAndWait()
        if not path.exists():
            return None
        with wave.open(str(path), "rb") as file:
            if file.getsampwidth() != 2 or file.getnframes() == 0:
                return None
            channels, rate_hz = file.getnchannels(), file.getframerate()
            samples = np.frombuffer(file.readframes(file.getnframes()), dtype="<i2")
    mono = samples.reshape(-1, channels)[:, 0].astype(np.int16)
    return Spoken(trimmed(mono, rate_hz), rate_hz)
