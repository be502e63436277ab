"""Blocks of sound as steps for the recorder: level watched, denoised, endpointed."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Iterator

from handsfree.merging import DeviceStep, SoundStep, Step
from handsfree.speech.ahead import listened
from handsfree.speech.hearing import SpeechParts
from handsfree.speech.messages import AudioBlock, SoundFlags
from handsfree.speech.sound_level import MICROPHONE, SoundLevel, SoundNotice


def sound_steps(blocks: Iterable[AudioBlock], first_half: SpeechParts) -> Iterator[Step]:
    """The steps of a stream of blocks, in order of time.

    Args:
        blocks: From a microphone or a file.
        first_half: Denoiser and endpointer.
    """
    notices: deque[SoundNotice] = deque()
    level = SoundLevel()
    watched = _watched(blocks, level, notices)
    for heard in listened(watched, first_half):
        # The denoiser holds sound back: what was noticed later waits for its time.
        while notices and notices[0].t_ns <= heard.t_ns:
            yield _device_step(notices.popleft())
        yield SoundStep(heard.t_ns, heard.parts, busy=level.is_busy)


def with_own_voice(blocks: Iterable[AudioBlock], spans: Iterable[tuple[int, int]]) -> Iterator[AudioBlock]:
    """The blocks, those within a span (from, to, in ns) flagged as the recorder's own voice."""
    waiting = deque(sorted(spans))
    for block in blocks:
        while waiting and waiting[0][1] <= block.t_ns:
            waiting.popleft()
        own = bool(waiting) and waiting[0][0] < block.end_ns
        yield flagged(block) if own else block


def flagged(block: AudioBlock) -> AudioBlock:
    """The block marked as holding the recorder's own voice."""
    return AudioBlock(block.t_ns, block.samples, block.flags | SoundFlags.OWN_VOICE)


def _watched(
    blocks: Iterable[AudioBlock], level: SoundLevel, notices: deque[SoundNotice]
) -> Iterator[AudioBlock]:
    for block in blocks:
        notices.extend(level.feed(block))
        yield block


def _device_step(notice: SoundNotice) -> DeviceStep:
    return DeviceStep(notice.t_ns, MICROPHONE, notice.kind, notice.detail)
