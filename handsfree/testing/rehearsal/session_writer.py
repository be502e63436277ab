"""Writes a rehearsal as a session folder: session.toml, the sound, scale.csv and truth.csv.

An edge: it writes files and, for the sound, starts the synthesisers of `voices`.

The folder is the one `replay` takes. `truth.csv` beside it says what is true:

| event | the row says |
|---|---|
| carcass | a carcass was begun |
| dressed | dressed weight on the rail scale, `net_g` |
| container | the empty tray stands on the bench scale, `net_g` |
| piece | a piece that stands at the end: final name, `count`, net mass as the scale has it, destination |
| struck | a piece that was entered and taken back |
| renamed | the last piece was corrected by voice, to this name |
| question | the recorder should ask about the last piece; it ends as this |
| chatter | talk that is no call |
| noise | a loud sound; `cut` holds its kind |
| dropout | a scale falls silent; `cut` holds its name |
| missing | a piece that is neither called nor weighed |
| close | the carcass is closed |
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
import soundfile
import soxr
import tomli_w
from numpy.typing import NDArray

from handsfree.errors import SessionError
from handsfree.testing.rehearsal import scale_lines, voices
from handsfree.testing.rehearsal.mixing import Soundtrack, mix
from handsfree.testing.rehearsal.noises import RATE_HZ, Sound
from handsfree.testing.rehearsal.scenario import Say, Scenario

SCALE_HEADER = ("seconds", "scale", "line")
TRUTH_HEADER = ("seconds", "event", "cut", "side", "count", "net_g", "destination")


def write_session(scenario: Scenario, folder: Path, *, sound: str = "wav") -> None:
    """Write the whole folder; files of the same names are replaced.

    Args:
        scenario: What happens.
        folder: Made when it is not there.
        sound: "wav" or "flac".

    Raises:
        EngineUnavailableError: A voice of the scenario is not installed here.
        SessionError: The scenario cannot be played, or the folder cannot be written.
    """
    _write(folder, silent_files(scenario), soundtrack(scenario), sound)


def _write(folder: Path, texts: Mapping[str, str], track: NDArray[np.int16], sound: str) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for name, text in texts.items():
            (folder / name).write_bytes(text.encode("utf-8"))
        soundfile.write(folder / f"audio.{sound}", track, RATE_HZ, subtype="PCM_16")
    except OSError as error:
        raise SessionError(
            f"the session folder {folder} cannot be written: {error.strerror}",
            next_step="choose another folder",
        ) from error


def silent_files(scenario: Scenario) -> dict[str, str]:
    """Everything but the sound, by file name; needs no synthesiser."""
    return {
        "session.toml": tomli_w.dumps(_description(scenario)),
        "scale.csv": _csv(SCALE_HEADER, scale_rows(scenario)),
        "truth.csv": _csv(TRUTH_HEADER, truth_rows(scenario)),
    }


def write_played(
    scenario: Scenario,
    folder: Path,
    track: NDArray[np.int16],
    lines: Sequence[scale_lines.Row],
    *,
    sound: str = "wav",
) -> None:
    """Write the folder of a rehearsal that was played as it was told.

    Args:
        scenario: What happened in the end.
        folder: Made when it is not there; files of the same names are replaced.
        track: The sound that was played.
        lines: What the scales sent.
        sound: "wav" or "flac".

    Raises:
        SessionError: The folder cannot be written.
    """
    texts = silent_files(replace(scenario, acts=(), duration_s=0.0))
    _write(folder, texts | {"scale.csv": _csv(SCALE_HEADER, written_lines(lines))}, track, sound)


def growing_track(scene: Scenario) -> Soundtrack:
    """The sound of a rehearsal that is told while it is played.

    Raises:
        SessionError: A recording cannot be read.
    """
    return Soundtrack(scene, lambda say: _clip(scene, say), _recording)


def soundtrack(scenario: Scenario) -> NDArray[np.int16]:
    """The sound, 16 kHz mono.

    Raises:
        EngineUnavailableError: A voice of the scenario is not installed here.
        SessionError: The scenario cannot be played.
    """
    return mix(scenario, lambda say: _clip(scenario, say), _recording)


@lru_cache(maxsize=32)
def _recording(path: str) -> Sound:
    """A sound file as float samples, mono, 16 kHz."""
    try:
        sound, rate_hz = soundfile.read(path, dtype="float64", always_2d=True)
    except (OSError, soundfile.LibsndfileError) as error:
        raise SessionError(f"the recording {path} cannot be read: {error}") from error
    mono: Sound = sound.mean(axis=1)
    if rate_hz != RATE_HZ:
        mono = np.asarray(soxr.resample(mono, rate_hz, RATE_HZ))
    return mono


def scale_rows(scenario: Scenario) -> list[tuple[str, str, str]]:
    """The lines of all scales in order of time, as `scale.csv` has them."""
    return written_lines(scale_lines.rows(scenario))


def written_lines(lines: Iterable[scale_lines.Row]) -> list[tuple[str, str, str]]:
    """Lines as `scale.csv` has them."""
    return [(f"{t_s:.4f}", name, repr(line)[1:-1]) for t_s, name, line in lines]


def truth_rows(scenario: Scenario) -> list[tuple[str, ...]]:
    """The rows of `truth.csv`."""
    return [
        (
            f"{row.seconds:.3f}",
            row.event,
            row.cut,
            row.side,
            str(row.count) if row.count else "",
            "" if row.net_g is None else str(row.net_g),
            row.destination,
        )
        for row in sorted(scenario.truth, key=lambda row: row.seconds)
    ]


def _clip(scenario: Scenario, say: Say) -> NDArray[np.int16]:
    speaker = scenario.speakers[say.speaker]
    return voices.speak(say.text, voices.Voice(speaker.program, speaker.voice, speaker.pace * say.pace))


def _description(scenario: Scenario) -> dict[str, Any]:
    described: dict[str, Any] = {"format": 1, "start": scenario.start}
    if scenario.plan:
        described["plan"] = scenario.plan
    if scenario.carcass:
        described["carcass"] = dict(scenario.carcass)
    described["scale"] = {
        name: {"d_g": scale.d_g, "max_kg": scale.max_kg, "shape": "auto"}
        for name, scale in scenario.scales.items()
    }
    return described


def _csv(header: tuple[str, ...], rows: list[Any]) -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(header)
    writer.writerows(rows)
    return out.getvalue()
