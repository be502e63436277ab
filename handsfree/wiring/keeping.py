"""Keeps a live session as a folder that `replay` takes: the same sound, lines and own-voice spans."""

from __future__ import annotations

from pathlib import Path

from handsfree.session_folder import AnswerLog, SessionDescription, write_description
from handsfree.speech.messages import AudioBlock, SoundFlags
from handsfree.speech.wav_keeper import WavKeeper
from handsfree.weighing.ports import Received
from handsfree.weighing.recording import CaptureWriter


class SessionKeeper:
    """Writes while the session runs, so that a power cut loses seconds and not the session.

    Raises:
        SessionError: The folder cannot be written.
        AudioFileError: There is a session in this folder already.
    """

    def __init__(self, folder: Path, description: SessionDescription, *, sound: bool) -> None:
        write_description(folder, description)
        self._wav = WavKeeper(folder / "audio.wav") if sound else None
        self._answers = AnswerLog(folder) if sound else None
        self._capture = CaptureWriter(folder / "scale.csv") if description.scales else None
        self._own: tuple[int, int] | None = None

    def sound(self, block: AudioBlock) -> None:
        """Keep a block of sound, flags and all.

        Raises:
            AudioFileError: The disk is full; told once, later blocks are passed over.
            SessionError: The file of own-voice spans cannot be written.
        """
        if self._wav is None:
            return
        self._wav.keep(block)
        if SoundFlags.OWN_VOICE in block.flags:
            start_ns = self._own[0] if self._own else block.t_ns
            self._own = (start_ns, block.end_ns)
        else:
            self._end_span()

    def scale(self, name: str, received: Received) -> None:
        """Keep what a scale sent.

        Raises:
            SessionError: The disk is full or the file cannot be written.
        """
        if self._capture is not None:
            self._capture.feed(name, received)

    def close(self) -> None:
        """Finish all files."""
        self._end_span()
        for part in (self._wav, self._answers, self._capture):
            if part is not None:
                part.close()

    def _end_span(self) -> None:
        if self._own is not None and self._answers is not None:
            self._answers.spoke(*self._own, "")
        self._own = None
