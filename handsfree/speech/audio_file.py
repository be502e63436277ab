"""Edge: sound files in, mono 16 kHz blocks out.

A file is read piece by piece, never as a whole. A file that ends before its header says so is read
to its last sample; then `AudioFile.cut_short` says what is missing, and a strict reader raises it.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator
from pathlib import Path
from typing import BinaryIO

import soundfile

from handsfree.errors import AudioFileError
from handsfree.speech.messages import RATE_HZ, AudioBlock
from handsfree.speech.resampling import ToSixteenKilohertz
from handsfree.speech.timeline import BlockCutter

# One read is a tenth of a second at 48 kHz: small in memory, few calls.
_FRAMES_A_READ = 4_800
# Telephone sound has 8 kHz; below half of that no word is left and a header is not believed.
_SLOWEST_HZ = 4_000
# Sizes that a recorder writes when it does not yet know how long the sound will be.
_UNKNOWN_SIZES = (0, 0xFFFFFFFF, 0x7FFFFFFF)
_ADVICE = "give a wav or flac recording"


class AudioFile:
    """A wav or flac file (any rate, any channels) as a source of sound.

    Args:
        path: The file.
        strict: Raise at the end when the file holds less than its header promises.
        start_ns: Time of the first sample.

    Raises:
        AudioFileError: The file is missing, empty, no sound, or holds no sample.
    """

    def __init__(self, path: Path, *, strict: bool = False, start_ns: int = 0) -> None:
        self._path = Path(path)
        self._strict = strict
        self._start_ns = start_ns
        self._cut_short: AudioFileError | None = None
        self._file = _open(self._path)

    @property
    def name(self) -> str:
        """The file's name."""
        return self._path.name

    @property
    def duration_s(self) -> float:
        """How long the sound is by the file's header, limited to what the file can hold."""
        return float(self._file.frames / self._file.samplerate)

    @property
    def cut_short(self) -> AudioFileError | None:
        """After `blocks` ended: what the file was missing, None when it was whole."""
        return self._cut_short

    def blocks(self) -> Iterator[AudioBlock]:
        """20 ms blocks in time order, to the last sample the file holds.

        Raises:
            AudioFileError: The file cannot be read on, or (strict) was cut short; every sample
                before that has been handed out.
        """
        file = self._file
        resampler = ToSixteenKilohertz(file.samplerate)
        cutter = BlockCutter(self._start_ns)
        # 16-bit files are read as they are, so that a session's own recording passes bit for bit.
        dtype = "int16" if file.subtype == "PCM_16" else "float32"
        done, trouble = 0, ""
        while not file.closed:
            try:
                frames = file.read(_FRAMES_A_READ, dtype=dtype, always_2d=True)
            except (soundfile.SoundFileError, RuntimeError) as error:
                trouble = f" ({error})"
                break
            if not len(frames):
                break
            done += len(frames)
            yield from cutter.feed(resampler.feed(frames))
        if file.closed:
            return
        yield from cutter.feed(resampler.flush())
        yield from cutter.flush()
        self._judge_length(done, trouble)

    def close(self) -> None:
        """Free the file; `blocks` ends at once. Safe to call twice."""
        self._file.close()

    def _judge_length(self, done: int, trouble: str) -> None:
        rate = self._file.samplerate
        promised = max(self._file.frames, _promised_wav_frames(self._path))
        if done >= promised and not trouble:
            return
        self._cut_short = AudioFileError(
            f"{self._path} is cut short{trouble}: its header promises {promised / rate:.2f} s, "
            f"it holds {done / rate:.2f} s",
            kept=f"the first {done / rate:.2f} s were read",
            next_step="copy the file again if the rest of it still exists somewhere",
        )
        if self._strict:
            raise self._cut_short


def _open(path: Path) -> soundfile.SoundFile:
    try:
        size = path.stat().st_size
        if path.is_dir():
            raise AudioFileError(f"{path} is a folder, not a sound file", next_step=_ADVICE)
        if not size:
            raise AudioFileError(f"{path} is empty (0 bytes)", next_step="record it again, or " + _ADVICE)
        file = soundfile.SoundFile(path)
    except FileNotFoundError as error:
        raise AudioFileError(f"there is no file {path}", next_step="check the name") from error
    except OSError as error:
        raise AudioFileError(f"{path} cannot be read: {error.strerror}", next_step=_ADVICE) from error
    except (soundfile.SoundFileError, RuntimeError, TypeError) as error:
        # TypeError: a name ending in .raw, which soundfile will not open without being told a rate.
        raise AudioFileError(f"{path} is not a sound file that can be read", next_step=_ADVICE) from error
    if file.samplerate < _SLOWEST_HZ:
        file.close()
        raise AudioFileError(
            f"{path} says it has {file.samplerate} samples per second, too few to hold speech",
            next_step=f"{_ADVICE} of {RATE_HZ} Hz or more",
        )
    if not file.frames:
        file.close()
        raise AudioFileError(f"{path} holds no sound (0 samples)", next_step="record it again")
    return file


def _promised_wav_frames(path: Path) -> int:
    """Frames that a wav's data chunk promises, 0 for another kind of file or an unknown size."""
    try:
        with path.open("rb") as file:
            riff, _, kind = struct.unpack("<4sI4s", file.read(12))
            if riff != b"RIFF" or kind != b"WAVE":
                return 0
            return _data_chunk_frames(file)
    except (struct.error, OSError):
        return 0


def _data_chunk_frames(file: BinaryIO) -> int:
    frame_bytes = 0
    while True:
        name, size = struct.unpack("<4sI", file.read(8))
        if name == b"data":
            return 0 if size in _UNKNOWN_SIZES or not frame_bytes else size // frame_bytes
        body = file.read(size + size % 2) if name == b"fmt " else b""
        if body:
            frame_bytes = struct.unpack("<12xH", body[:14])[0]
        else:
            file.seek(size + size % 2, 1)
