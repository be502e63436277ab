"""Speech clips from offline synthesisers that the system has, each run as its own program.

An edge: it starts programs. The same program, version, voice and text give the same samples.
"""

from __future__ import annotations

import io
import shutil
import subprocess
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np
import soundfile
import soxr
from numpy.typing import NDArray

from handsfree.errors import EngineUnavailableError

RATE_HZ = 16_000
TIMEOUT_S = 120

#: Program -> what to install, as Debian (or, for piper, the Python package index) names it.
PACKAGES = {
    "flite": "apt-get install flite",
    "espeak-ng": "apt-get install espeak-ng",
    "festival": "apt-get install festival festvox-us-slt-hts",
    "piper": "pip install piper-tts, and a voice file (.onnx)",
}

#: American letter-to-sound rules say these trade words in a way no British butcher does.
_RESPELT = {"fillet": "fillit", "fillets": "fillits"}

#: A clip's silence is cut where it stays this far below its own peak.
_SILENCE_DB = -46.0
_FRAME = 80


@dataclass(frozen=True, slots=True)
class Voice:
    """One synthetic speaker."""

    program: str
    """A key of `PACKAGES`."""
    name: str
    """The program's own name of the voice; for piper the path of the voice file."""
    pace: float = 1.0
    """Length of the speech relative to the voice's own: 1.1 is a tenth slower."""

    def __str__(self) -> str:
        return f"{self.program} {self.name}"


AWB = Voice("flite", "awb")
"""A Scottish man: the nearest to a butcher in a deer larder that Debian packages."""
RMS = Voice("flite", "rms")
SLT = Voice("flite", "slt")
ESPEAK_GB = Voice("espeak-ng", "en-gb")
ESPEAK_SCOTLAND = Voice("espeak-ng", "en-gb-scotland")
ESPEAK_RP = Voice("espeak-ng", "en-gb-x-rp")
FESTIVAL_SLT = Voice("festival", "cmu_us_slt_arctic_hts")


def installed(voice: Voice) -> bool:
    """Whether the voice's program is on the PATH (and for piper, whether its voice file exists)."""
    if voice.program == "piper" and not Path(voice.name).is_file():
        return False
    return shutil.which(voice.program) is not None


@lru_cache
def version(program: str) -> str:
    """One line by which two runs can be known to use the same synthesiser.

    Raises:
        EngineUnavailableError: The program is not installed.
    """
    if program == "piper":  # has no version option
        return "piper"
    option = "-v" if program == "festival" else "--version"
    text = _run(program, [option], b"", may_fail=True).decode(errors="replace")
    lines = [line.strip() for line in text.splitlines() if line.strip()]
    named = [line for line in lines if "version" in line or "text-to-speech" in line or "2." in line]
    return (named or lines or [program])[0].split("  ")[0]


@lru_cache(maxsize=512)
def speak(text: str, voice: Voice) -> NDArray[np.int16]:
    """The text spoken once: 16 kHz mono, silence at both ends cut, in the voice's own loudness.

    The array is shared between callers and cannot be written to.

    Raises:
        EngineUnavailableError: The program or voice is missing, or gave no sound.
    """
    if voice.program not in PACKAGES:
        raise EngineUnavailableError(
            f"{voice.program!r} is not a speech synthesiser known here",
            next_step=f"use one of {', '.join(PACKAGES)}",
        )
    samples, rate_hz = _DRIVERS[voice.program](text, voice)
    sound = samples.astype(np.float64)
    if rate_hz != RATE_HZ:
        sound = soxr.resample(sound, rate_hz, RATE_HZ)
    sound = _trimmed(sound)
    if not sound.size:
        raise EngineUnavailableError(
            f"{voice} gave no sound for {text!r}",
            next_step=f"check that the voice is installed: {PACKAGES[voice.program]}",
        )
    clip: NDArray[np.int16] = np.clip(np.round(sound), -32768, 32767).astype(np.int16)
    clip.setflags(write=False)
    return clip


def _flite(text: str, voice: Voice) -> tuple[NDArray[np.float64], int]:
    # An unknown voice name makes flite speak with another voice without a word: look first.
    known = _run("flite", ["-lv"], b"", may_fail=True).decode(errors="replace").split(":")[-1].split()
    if voice.name not in known:
        raise _no_such_voice(voice, known)
    return _to_file(
        "flite",
        lambda out: [
            "-voice",
            voice.name,
            "--setf",
            f"duration_stretch={voice.pace:g}",
            "-t",
            f" {_respelt(text)} ",
            "-o",
            out,
        ],
    )


def _espeak(text: str, voice: Voice) -> tuple[NDArray[np.float64], int]:
    speed = round(165 / voice.pace)  # words a minute
    return _read(_run("espeak-ng", ["-v", voice.name, "-s", str(speed), "--stdout", text], b""), voice)


def _festival(text: str, voice: Voice) -> tuple[NDArray[np.float64], int]:
    # An unknown voice is an error it only prints, and then it speaks with another: look first.
    known = _run("festival", ["--pipe"], b"(print (voice.list))").decode().strip().strip("()").split()
    if voice.name not in known:
        raise _no_such_voice(voice, known)
    said = _respelt(text).replace("\\", " ").replace('"', " ")

    def script(out: str) -> bytes:
        return (
            f"(voice_{voice.name}) (Parameter.set 'Duration_Stretch {voice.pace:g})"
            f' (set! u (SynthText "{said}")) (utt.save.wave u "{out}" \'riff)'
        ).encode()

    return _to_file("festival", lambda _out: ["--pipe"], script)


def _piper(text: str, voice: Voice) -> tuple[NDArray[np.float64], int]:
    # Without its two noises the voice is a little flatter, and the same every time.
    options = ["--model", voice.name, "--length-scale", f"{voice.pace:g}"]
    still = ["--noise-scale", "0", "--noise-w-scale", "0"]
    return _to_file("piper", lambda out: [*options, *still, "--output-file", out], lambda _out: text.encode())


_DRIVERS = {"flite": _flite, "espeak-ng": _espeak, "festival": _festival, "piper": _piper}


def _to_file(
    program: str, arguments: Callable[[str], list[str]], stdin: Callable[[str], bytes] = lambda _out: b""
) -> tuple[NDArray[np.float64], int]:
    with tempfile.TemporaryDirectory(prefix="handsfree-voice-") as folder:
        out = Path(folder, "clip.wav")
        _run(program, arguments(str(out)), stdin(str(out)))
        return _read(out.read_bytes() if out.exists() else b"", program)


def _read(data: bytes, source: object) -> tuple[NDArray[np.float64], int]:
    # espeak-ng writes to a pipe with a length of "unknown" in the header, which soundfile bears.
    try:
        samples, rate_hz = soundfile.read(io.BytesIO(data), dtype="int16", always_2d=True)
    except soundfile.LibsndfileError as error:
        raise EngineUnavailableError(
            f"{source} gave no sound file", next_step="check that the voice is installed"
        ) from error
    return samples[:, 0].astype(np.float64), int(rate_hz)


def _run(program: str, arguments: list[str], stdin: bytes, *, may_fail: bool = False) -> bytes:
    try:
        done = subprocess.run(
            [program, *arguments],
            input=stdin,
            capture_output=True,
            timeout=TIMEOUT_S,
            check=False,
        )
    except FileNotFoundError as error:
        raise EngineUnavailableError(
            f"the speech synthesiser {program} is not installed",
            next_step=f"install it: {PACKAGES.get(program, program)}",
        ) from error
    except subprocess.TimeoutExpired as error:
        raise EngineUnavailableError(f"{program} did not answer within {TIMEOUT_S} s") from error
    if done.returncode and not may_fail:
        said = done.stderr.decode(errors="replace").strip().splitlines()
        raise EngineUnavailableError(
            f"{program} failed: {said[-1] if said else f'exit status {done.returncode}'}",
            next_step=f"check that the voice is installed: {PACKAGES.get(program, program)}",
        )
    return done.stdout or done.stderr if may_fail else done.stdout


def _no_such_voice(voice: Voice, known: list[str]) -> EngineUnavailableError:
    return EngineUnavailableError(
        f"{voice.program} has no voice {voice.name!r}", next_step=f"use one of {', '.join(known)}"
    )


def _respelt(text: str) -> str:
    return " ".join(_RESPELT.get(word, word) for word in text.split())


def _trimmed(sound: NDArray[np.float64]) -> NDArray[np.float64]:
    frames = len(sound) // _FRAME
    if not frames:
        return sound[:0]
    level = np.abs(sound[: frames * _FRAME]).reshape(frames, _FRAME).max(axis=1)
    loud = np.flatnonzero(level > level.max() * 10 ** (_SILENCE_DB / 20))
    if not len(loud):  # nothing but zeros
        return sound[:0]
    return sound[max(loud[0] - 2, 0) * _FRAME : (loud[-1] + 3) * _FRAME]
