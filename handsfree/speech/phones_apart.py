"""The phone decoder in a process of its own, beside the engine's other passes. An edge module.

The recogniser holds Python's lock while it decodes, so a thread would wait for it: only a second
process uses a second core. What comes out is the same as without.
"""

from __future__ import annotations

import os
import signal
from contextlib import suppress
from multiprocessing import get_context
from multiprocessing.connection import Connection
from pathlib import Path

import numpy as np

from handsfree.errors import HandsfreeError
from handsfree.speech.evidence import Segment
from handsfree.speech.messages import Samples
from handsfree.speech.pocketsphinx_decoders import INITIAL_CMN, PhoneDecoder
from handsfree.speech.ports import Phones

_CORES = 2
#: Samples; enough to have a model loaded.
_A_MOMENT = 1600
#: Number of the request, whose voice, the sound, its cepstral mean.
_Request = tuple[int, Path | None, Samples, str]


class PhoneProcess:
    """One process that decodes phones for all voices of a session.

    It ends with `close`, and by itself when this process is gone. Where it dies before, its work is done
    here from then on: that is slower, and nothing is lost. Not thread-safe.
    """

    def __init__(self) -> None:
        """Start it.

        Raises:
            OSError: The system gives no more files or processes.
        """
        context = get_context("spawn")
        self._connection, theirs = context.Pipe()
        self._process = context.Process(target=_work, args=(theirs,), daemon=True)
        self._process.start()
        theirs.close()
        self._asked = 0

    @property
    def pid(self) -> int | None:
        """Of the process."""
        return self._process.pid

    def phones(self, adapted: Path | None = None) -> Phones:
        """A phone decoder for the model with these files of a speaker's own, which is loaded from now on."""
        with suppress(OSError):
            self.ask(adapted, np.zeros(_A_MOMENT, np.int16), INITIAL_CMN)
        return _Apart(self, adapted)

    def ask(self, adapted: Path | None, sound: Samples, cmn: str) -> int:
        """Have a sound decoded.

        Returns:
            The request's number.

        Raises:
            OSError: The process is gone.
        """
        self._asked += 1
        request: _Request = (self._asked, adapted, sound, cmn)
        self._connection.send(request)
        return self._asked

    def answer(self, number: int) -> list[Segment] | None:
        """Wait for what came of a request, the last one asked; None where the process could not do it.

        Raises:
            OSError: The process is gone.
            EOFError: The same.
        """
        while True:
            done, segments = self._connection.recv()
            if done == number:
                found: list[Segment] | None = segments
                return found

    def close(self) -> None:
        """End the process."""
        self._connection.close()
        self._process.terminate()
        self._process.join()


class _Apart:
    """A `Phones` whose work a process does; what it cannot do is done here."""

    def __init__(self, process: PhoneProcess, adapted: Path | None) -> None:
        self._process = process
        self._adapted = adapted
        self._here: PhoneDecoder | None = None
        self._sound: tuple[Samples, str] | None = None
        self._number: int | None = None

    def listen(self, sound: Samples, cmn: str) -> None:
        self._sound = (sound, cmn)
        self._number = None
        if self._here is None:
            with suppress(OSError):
                self._number = self._process.ask(self._adapted, sound, cmn)

    def segments(self) -> list[Segment]:
        found: list[Segment] | None = None
        if self._number is not None:
            with suppress(OSError, EOFError):
                found = self._process.answer(self._number)
        if found is None and self._sound is not None:
            self._here = self._here or PhoneDecoder(self._adapted)
            self._here.listen(*self._sound)
            found = self._here.segments()
        return found or []


def beside() -> PhoneProcess | None:
    """A process for the phones, where there is a second core for it and it can be started; else None."""
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count()
    if (cores or 1) < _CORES:
        return None
    try:
        return PhoneProcess()
    except OSError:
        # Too many files or processes already: hearing goes on as it does on one core.
        return None


def _work(connection: Connection) -> None:
    """The other process: one request after the other until the connection is closed."""
    # Ctrl-C goes to every process of a terminal; the session ends this one when it is done with it.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    decoders: dict[Path | None, PhoneDecoder] = {}
    with suppress(EOFError, OSError):
        while True:
            request: _Request = connection.recv()
            number, adapted, sound, cmn = request
            try:
                decoder = decoders.get(adapted) or decoders.setdefault(adapted, PhoneDecoder(adapted))
                decoder.listen(sound, cmn)
                connection.send((number, decoder.segments()))
            except HandsfreeError:
                connection.send((number, None))  # tried once more where it can be told
