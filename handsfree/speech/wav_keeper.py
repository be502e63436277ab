"""Edge: a live session's sound, kept as one wav that can be read whatever ends the process."""

from __future__ import annotations

import struct
from pathlib import Path

import numpy as np

from handsfree.errors import AudioFileError
from handsfree.speech.messages import RATE_HZ, AudioBlock, Samples
from handsfree.speech.timeline import samples_in

_HEADER = struct.Struct("<4sI4s4sIHHIIHH4sI")


class WavKeeper:
    """Writes one continuous 16 kHz mono 16-bit wav, t = 0 at its first sample.

    The header is made true after every second of sound. Time that no block covers is kept as
    silence, so that a time in the file is a time in the session. The first write that fails is
    raised; later blocks are then ignored, so that the session itself goes on.

    Args:
        path: The file to write; must not exist yet.

    Raises:
        AudioFileError: The file exists or cannot be written.
    """

    #: A wav's sizes are 32-bit: 37 hours at 16 kHz.
    LONGEST_SAMPLES = (2**32 - 1 - _HEADER.size) // 2

    def __init__(self, path: Path) -> None:
        self._path = Path(path)
        self._count = 0
        self._whole = 0  # samples the header on disk speaks of
        self._broken = False
        try:
            self._file = self._path.open("xb")
        except FileExistsError as error:
            raise AudioFileError(
                f"{path} exists already", kept="it was not touched", next_step="choose another folder"
            ) from error
        except OSError as error:
            raise self._failed(error) from error
        try:
            self._make_header_true()
        except OSError as error:
            raise self._failed(error) from error

    @property
    def kept_s(self) -> float:
        """How many seconds are on disk with a header that says so."""
        return self._whole / RATE_HZ

    def keep(self, block: AudioBlock) -> None:
        """Write the block at its time.

        Raises:
            AudioFileError: The disk is full, or the file is as long as a wav can be; raised once.
        """
        if self._broken:
            return
        start = samples_in(block.t_ns)
        while start > self._count and not self._broken:
            self._append(np.zeros(min(start - self._count, RATE_HZ), dtype=np.int16))
        # Sound that came twice (a block stamped before the end) is kept once.
        self._append(block.samples[max(0, self._count - start) :])

    def close(self) -> None:
        """Finish the file. Safe to call twice.

        Raises:
            AudioFileError: The last second could not be written.
        """
        if self._file.closed:
            return
        try:
            if not self._broken:
                self._make_header_true()
            self._file.close()
        except OSError as error:
            if not self._broken:
                raise self._failed(error) from error

    def _append(self, samples: Samples) -> None:
        if self._count + len(samples) > self.LONGEST_SAMPLES:
            self._broken = True
            self._make_header_true()
            raise AudioFileError(
                f"{self._path} is as long as a wav can be",
                kept=f"its {self._count / RATE_HZ / 3600:.1f} hours are kept",
                next_step="start a new session to keep more sound",
            )
        try:
            self._file.write(np.ascontiguousarray(samples, dtype="<i2").tobytes())
            self._count += len(samples)
            if self._count - self._whole >= RATE_HZ:
                self._make_header_true()
        except OSError as error:
            raise self._failed(error) from error

    def _make_header_true(self) -> None:
        # The sound first, then the header that speaks of it: never a promise without the sound.
        self._file.flush()
        size = 2 * self._count
        self._file.seek(0)
        header = (b"RIFF", size + _HEADER.size - 8, b"WAVE", b"fmt ", 16, 1, 1, RATE_HZ, 2 * RATE_HZ, 2, 16)
        self._file.write(_HEADER.pack(*header, b"data", size))
        self._file.flush()
        self._file.seek(0, 2)
        self._whole = self._count

    def _failed(self, error: OSError) -> AudioFileError:
        self._broken = True
        return AudioFileError(
            f"{self._path} cannot be written: {error.strerror}",
            kept=f"the first {self.kept_s:.1f} s of sound are kept",
            next_step="free some disk space or choose another folder",
        )
