"""Denoising and endpointing ahead of the session, in a thread, for replays.

The first half of hearing does not depend on what the session says, so a replay may run it on one
core while the other decodes. The result is the same as without the thread: in order, complete, and
an error comes out where the sound before it has been handed on.
"""

from __future__ import annotations

import queue
import threading
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from handsfree.speech.hearing import SpeechParts
from handsfree.speech.messages import AudioBlock, SpeechPart

#: Blocks of lead: 20 s of sound, less than a megabyte.
_LEAD = 1_000
_POLL_S = 0.1


@dataclass(frozen=True, slots=True, eq=False)
class Listened:
    """What one block of sound brought: the session may move on to `t_ns`."""

    t_ns: int
    """Time just after the last sample of the block."""
    parts: tuple[SpeechPart, ...]


def listened(blocks: Iterable[AudioBlock], first_half: SpeechParts) -> Iterator[Listened]:
    """Each block's end and the parts of speech it completed; at the end, what was held back."""
    end_ns = 0
    for block in blocks:
        end_ns = block.end_ns
        yield Listened(end_ns, tuple(first_half.feed(block)))
    rest = tuple(first_half.flush())
    if rest:
        yield Listened(end_ns, rest)


def listened_ahead(
    blocks: Iterable[AudioBlock], first_half: SpeechParts, lead: int = _LEAD
) -> Iterator[Listened]:
    """The same as `listened`, worked out in a thread up to `lead` blocks ahead.

    Whatever `blocks` or `first_half` raises is raised here, after all that came before it. Closing
    the iterator early ends the thread.
    """
    worker = _Worker(blocks, first_half, lead)
    worker.start()
    try:
        while (item := worker.done.get()) is not None:
            if isinstance(item, BaseException):
                raise item
            yield item
    finally:
        worker.stop.set()
        worker.join()


class _Worker(threading.Thread):
    """Works out `listened` into a bounded queue; ends with None or with what was raised."""

    def __init__(self, blocks: Iterable[AudioBlock], first_half: SpeechParts, lead: int) -> None:
        super().__init__(name="listening ahead", daemon=True)
        self._blocks = blocks
        self._first_half = first_half
        self.done: queue.Queue[Listened | BaseException | None] = queue.Queue(lead)
        self.stop = threading.Event()

    def run(self) -> None:
        try:
            for item in listened(self._blocks, self._first_half):
                self._put(item)
                if self.stop.is_set():
                    return
        except BaseException as error:  # noqa: BLE001  handed to the reader, whatever it is
            self._put(error)
        else:
            self._put(None)

    def _put(self, item: Listened | BaseException | None) -> None:
        while not self.stop.is_set():
            try:
                self.done.put(item, timeout=_POLL_S)
            except queue.Full:
                continue
            return
