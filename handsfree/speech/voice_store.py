"""Voices that were read in, each in a folder of its own in the user's data folder. An edge module.

`NAME/voice.toml` and `NAME/means` are what the engine needs; `NAME/recordings` holds the phrases as
they were read (`phrases.csv`: file, text), from which both can be worked out again.
"""

from __future__ import annotations

import csv
import re
import shutil
import tomllib
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import platformdirs
import soundfile
import tomli_w

from handsfree.errors import AudioFileError, ConfigError, ModelError
from handsfree.speech.acoustic_files import MEANS_FILE
from handsfree.speech.enrolled_voice import EnrolledVoice, data_of, voice_from
from handsfree.speech.messages import RATE_HZ, Samples

PHRASES_FILE = "phrases.csv"
_VOICE_FILE = "voice.toml"
_RECORDINGS = "recordings"
_NAME = re.compile(r"\w[\w .'-]{0,39}", re.UNICODE)
_RESERVED = ("auto", "none")
_LONGEST_S = 60.0


@dataclass(frozen=True, slots=True, eq=False)
class Recording:
    """One phrase as it was read."""

    text: str
    samples: Samples
    """Shape (n,), int16 at 16 kHz."""
    file: Path


def default_folder() -> Path:
    """Where voices are kept."""
    return platformdirs.user_data_path("handsfree") / "voices"


class VoiceStore:
    """The voices of a folder.

    Args:
        folder: None for the user's own.
    """

    def __init__(self, folder: Path | None = None) -> None:
        self._folder = folder or default_folder()

    def names(self) -> list[str]:
        """The voices that can be used, by name."""
        return sorted(file.parent.name for file in self._folder.glob(f"*/{_VOICE_FILE}"))

    def folder_of(self, name: str) -> Path:
        """The voice's folder, whether it is there or not.

        Raises:
            ConfigError: The name cannot be one.
        """
        if not _NAME.fullmatch(name) or name.lower() in _RESERVED or name != name.strip(" ."):
            raise ConfigError(
                f"{name!r} cannot be the name of a voice",
                next_step='use letters, digits, spaces and hyphens, at most 40, and not "auto" or "none"',
            )
        return self._folder / name

    def recordings_of(self, name: str) -> Path:
        """The folder of its recordings."""
        return self.folder_of(name) / _RECORDINGS

    def voice(self, name: str) -> EnrolledVoice:
        """What is known of the voice.

        Raises:
            ConfigError: The name cannot be one.
            ModelError: There is no such voice, or its files are damaged.
        """
        folder = self.folder_of(name)
        try:
            data = tomllib.loads((folder / _VOICE_FILE).read_text(encoding="utf-8"))
            voice = voice_from(name, data, folder)
        except FileNotFoundError:
            known = ", ".join(self.names()) or "none yet"
            raise ModelError(
                f"there is no voice {name!r} (known: {known})",
                next_step=f'read it in: handsfree voice add "{name}"',
            ) from None
        except (OSError, UnicodeDecodeError, ValueError) as error:
            raise _damaged(folder / _VOICE_FILE, name, str(error)) from error
        if voice.adapted is not None and not (folder / MEANS_FILE).is_file():
            raise _damaged(folder / MEANS_FILE, name, "it is missing")
        return voice

    def begin(self, name: str) -> None:
        """Make room for new recordings of this voice; what is there of it stays in use until `save`.

        Raises:
            ConfigError: The name cannot be one.
            AudioFileError: There are recordings already, or the folder cannot be written.
        """
        folder = self.recordings_of(name)
        if folder.is_dir() and any(folder.iterdir()):
            raise AudioFileError(
                f"there are recordings of {name!r} already in {folder}",
                kept="they were not touched",
                next_step=f'remove them first: handsfree voice remove "{name}" --recordings',
            )
        try:
            folder.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise _cannot_write(folder, error) from error

    def keep(self, name: str, number: int, text: str, samples: Samples) -> None:
        """Keep one phrase as it was read.

        Raises:
            AudioFileError: The disk is full, or the folder cannot be written.
        """
        folder = self.recordings_of(name)
        file = folder / f"{number:02d}.wav"
        try:
            soundfile.write(file, samples, RATE_HZ, subtype="PCM_16")
            fresh = not (folder / PHRASES_FILE).exists()
            with (folder / PHRASES_FILE).open("a", encoding="utf-8", newline="") as out:
                rows = csv.writer(out)
                if fresh:
                    rows.writerow(("file", "text"))
                rows.writerow((file.name, text))
        except (OSError, soundfile.SoundFileError) as error:
            raise _cannot_write(folder, error) from error

    def save(self, voice: EnrolledVoice, means: bytes | None) -> EnrolledVoice:
        """Put the voice in use, in place of what was known of it.

        Args:
            voice: Its `adapted` is taken from `means`.
            means: Its own means file; None to use the model as it comes.

        Raises:
            ConfigError: The name cannot be one.
            ModelError: The disk is full, or the folder cannot be written; the old voice stays in use.
        """
        folder = self.folder_of(voice.name)
        saved = replace(voice, adapted=folder if means is not None else None)
        try:
            folder.mkdir(parents=True, exist_ok=True)
            for name, data in ((MEANS_FILE, means), (_VOICE_FILE, tomli_w.dumps(data_of(saved)).encode())):
                if data is None:
                    continue
                fresh = folder / f"{name}.new"
                fresh.write_bytes(data)
                fresh.replace(folder / name)
        except OSError as error:
            raise ModelError(
                f"the voice {voice.name!r} cannot be kept in {folder}: {error.strerror}",
                kept="its recordings are kept",
                next_step="free some disk space, then work it out again with --from that folder",
            ) from error
        return saved

    def remove(self, name: str, *, recordings: bool = False) -> None:
        """Take a voice out of use.

        Args:
            name: Which.
            recordings: Delete its recordings too; else they stay.

        Raises:
            ConfigError: The name cannot be one.
            ModelError: There is no such voice, or it cannot be removed.
        """
        folder = self.folder_of(name)
        if not folder.is_dir() or (not recordings and not (folder / _VOICE_FILE).exists()):
            raise ModelError(f"there is no voice {name!r}", next_step="see handsfree voice list")
        try:
            for file in (_VOICE_FILE, MEANS_FILE):
                (folder / file).unlink(missing_ok=True)
            if recordings:
                shutil.rmtree(folder)
        except OSError as error:
            raise ModelError(f"the voice in {folder} cannot be removed: {error.strerror}") from error


def read_recordings(folder: Path) -> list[Recording]:
    """The recordings of a folder: sound files (wav or flac) and `phrases.csv` with file and text.

    Raises:
        AudioFileError: The list is missing or has faults, or a sound cannot be read; all are named.
    """
    rows = _rows(folder / PHRASES_FILE)
    found: list[Recording] = []
    faults: list[str] = []
    for line, (name, text) in enumerate(rows, 2):
        where = f"{folder / PHRASES_FILE}:{line}"
        words = " ".join(text.lower().split())
        if not words or not name or Path(name).name != name:
            faults.append(f"{where}: needs the name of a file in this folder and a text")
            continue
        try:
            info = soundfile.info(folder / name)
            if info.duration > _LONGEST_S:
                faults.append(f"{where}: {name} is {info.duration:.0f} s long, a phrase is one of a few")
                continue
            found.append(Recording(words, _sound(folder / name), folder / name))
        except (OSError, soundfile.SoundFileError) as error:
            faults.append(f"{where}: {name} cannot be read ({error})")
    if faults:
        raise AudioFileError("; ".join(faults), next_step="put these lines right, or take them out")
    if not found:
        raise AudioFileError(
            f"{folder / PHRASES_FILE} names no recordings", next_step="add a line for each file: file,text"
        )
    return found


def _rows(file: Path) -> list[tuple[str, str]]:
    try:
        with file.open(encoding="utf-8-sig", newline="") as lines:
            table = csv.DictReader(lines)
            if not {"file", "text"} <= set(table.fieldnames or ()):
                raise AudioFileError(f"{file} has no columns file and text", next_step="name them in line 1")
            return [((row["file"] or "").strip(), row["text"] or "") for row in table]
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        raise AudioFileError(
            f"the list of phrases {file} cannot be read: {error}",
            next_step="write one: a first line file,text and a line for each recording",
        ) from error


def _sound(file: Path) -> Samples:
    import soxr  # noqa: PLC0415 - only for files of another rate

    data, rate_hz = soundfile.read(file, dtype="float64", always_2d=True)
    mono = data.mean(axis=1)
    if rate_hz != RATE_HZ:
        mono = soxr.resample(mono, rate_hz, RATE_HZ)
    samples: Samples = np.clip(np.rint(mono * 32768), -32768, 32767).astype(np.int16)
    return samples


def _damaged(file: Path, name: str, what: str) -> ModelError:
    return ModelError(
        f"the voice {name!r} cannot be used: {file} ({what})",
        kept="its recordings are kept, if there were any",
        next_step=f'work it out again: handsfree voice add "{name}" --from "{file.parent / _RECORDINGS}"',
    )


def _cannot_write(folder: Path, error: Exception) -> AudioFileError:
    what = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
    return AudioFileError(
        f"recordings cannot be kept in {folder}: {what}",
        kept="what was read before is kept",
        next_step="free some disk space, then begin again",
    )
