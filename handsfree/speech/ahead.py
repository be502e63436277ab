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
    done: queue.Queue[Listened | BaseException | None] = queue.Queue(lead)
    stop = threading.Event()

    def put(item: Listened | BaseException | None) -> None:
        while not stop.is_set():
            try:
                done.put(item, timeout=_POLL_S)
            except queue.Full:
                continue
            return

    def work() -> None:
        try:
            for item in listened(blocks, first_half):
                put(item)
                if stop.is_set():
                    return
        except BaseException as error:  # noqa: BLE001  handed to the reader, whatever it is
            put(error)
        else:
            put(None)

    worker = threading.Thread(target=work, name="listening ahead", daemon=True)
    worker.start()
    try:
        while (item := done.get()) is not None:
            if isinstance(item, BaseException):
                raise item
            yield item
    finally:
        stop.set()
        worker.join()
