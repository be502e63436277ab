"""A whole session without sound or devices: typed words and generated scale lines, into any ledger."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import UTC, datetime

from handsfree.clock import NS_PER_S, from_seconds
from handsfree.merging import ScaleStep, SoundStep, Step, in_order
from handsfree.speech.messages import RATE_HZ, SpeechPart
from handsfree.speech.typed import encode
from handsfree.testing.bench_scale import BenchEvent, BenchScale
from handsfree.weighing.ports import Chunk

#: An invented Tuesday.
STARTED_AT = datetime(2026, 11, 17, 8, 10, tzinfo=UTC)


def said(at_s: float, text: str) -> SoundStep:
    """Words typed at a moment, as a recogniser that is never wrong would hear them."""
    samples = encode(text)
    start_ns = from_seconds(at_s)
    end_ns = start_ns + len(samples) * NS_PER_S // RATE_HZ
    return SoundStep(end_ns, (SpeechPart(start_ns, samples, first=True, last=True, end_ns=end_ns),))


def silence(until_s: float, every_s: float = 0.1) -> Iterator[Step]:
    """Sound without speech: time passing."""
    for number in range(1, int(until_s / every_s) + 1):
        yield SoundStep(from_seconds(number * every_s))


def lines(
    scale: str,
    events: Sequence[BenchEvent],
    until_s: float,
    *,
    d_g: float = 5,
    max_kg: float = 60,
    seed: int = 1,
) -> Iterator[Step]:
    """What a generated scale sends while loads come and go."""
    for at_s, line in BenchScale(scale, d_g, max_kg, 10, "status_comma", seed).run(list(events), until_s):
        yield ScaleStep(from_seconds(at_s), scale, Chunk(from_seconds(at_s), line.encode("latin-1")))


def session(words: Iterable[tuple[float, str]], *streams: Iterable[Step], until_s: float) -> Iterator[Step]:
    """Words and scales in order of time."""
    return in_order([said(at_s, text) for at_s, text in words], silence(until_s), *streams)
