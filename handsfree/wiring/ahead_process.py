"""Works a recording's sound out ahead of the session in a process of its own.

The recogniser holds Python's lock while it decodes, so a thread would wait for it: only a second
process uses a second core. What comes out is the same as without it, in the same order.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from multiprocessing import get_context
from multiprocessing.connection import Connection
from pathlib import Path

from handsfree.config import Config
from handsfree.errors import HandsfreeError, SessionError
from handsfree.merging import Step
from handsfree.speech.audio_file import AudioFile
from handsfree.wiring import hearing
from handsfree.wiring.sound_steps import sound_steps, with_own_voice

#: Steps sent at a time: a second of sound.
_BATCH = 50


@dataclass(frozen=True, slots=True)
class Recording:
    """What the other process needs to know."""

    sound: Path
    own_voice: tuple[tuple[int, int], ...]
    config: Config


class AheadProcess:
    """The steps of a recording, worked out by a process that runs ahead by what the pipe holds."""

    def __init__(self, recording: Recording) -> None:
        self._recording = recording
        self.warning = ""
        """After the last step: what was wrong with the file, empty when it was whole."""

    def steps(self) -> Iterator[Step]:
        """The steps in order of time.

        Raises:
            HandsfreeError: What reading or denoising raised there, after all that came before it.
        """
        context = get_context("spawn")
        ours, theirs = context.Pipe(duplex=False)
        process = context.Process(target=_work, args=(theirs, self._recording), daemon=True)
        process.start()
        theirs.close()
        try:
            while True:
                received = _receive(ours)
                if isinstance(received, HandsfreeError):
                    raise received
                if isinstance(received, str):
                    self.warning = received
                    return
                yield from received
        finally:
            ours.close()
            process.terminate()
            process.join()


def _receive(connection: Connection) -> list[Step] | str | HandsfreeError:
    try:
        received: list[Step] | str | HandsfreeError = connection.recv()
    except EOFError:
        raise SessionError(
            "the process that listens ahead ended without a word",
            kept="everything entered so far is in the ledger",
            next_step="replay the session again into a new ledger",
        ) from None
    return received


def _work(connection: Connection, recording: Recording) -> None:
    """The other process: steps in batches, at the end the warning, or what was raised."""
    try:
        sound = AudioFile(recording.sound)
        blocks = with_own_voice(sound.blocks(), recording.own_voice)
        batch: list[Step] = []
        for step in sound_steps(blocks, hearing.speech_parts(recording.config)):
            batch.append(step)
            if len(batch) >= _BATCH:
                connection.send(batch)
                batch = []
        connection.send(batch)
        connection.send(str(sound.cut_short) if sound.cut_short else "")
        sound.close()
    except HandsfreeError as error:
        connection.send(error)
    except (BrokenPipeError, KeyboardInterrupt):
        pass  # the session has ended; nobody listens any more
