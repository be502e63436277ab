"""Replays a session folder into a ledger."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

from handsfree.answering.messages import Saying
from handsfree.clerk import Outcome
from handsfree.clock import seconds
from handsfree.config import Config
from handsfree.errors import SessionError
from handsfree.ledger.digest import rfc3339
from handsfree.ledger.entries import SessionBegan
from handsfree.ledger.ports import LedgerStore
from handsfree.ledger.sqlite_store import open_ledger
from handsfree.merging import ScaleStep, Step, in_order
from handsfree.session_folder import open_session
from handsfree.speech.audio_file import AudioFile
from handsfree.speech.messages import Utterance
from handsfree.weighing.capture import CaptureTransport, read_scale_csv
from handsfree.weighing.ports import Chunk, Lost
from handsfree.wiring import hearing, scales, words
from handsfree.wiring.ahead_process import AheadProcess, Recording
from handsfree.wiring.workplace import Occasion, Workplace, workplace


@dataclass(slots=True)
class Watch:
    """Who is told of what while a session runs; each does nothing unless set."""

    progress: Callable[[float, float], None] = lambda _done_s, _whole_s: None
    """Seconds of the session done, and its length in seconds."""
    utterance: Callable[[Utterance], None] = lambda _utterance: None
    outcome: Callable[[Outcome, list[Saying]], None] = lambda _outcome, _sayings: None


@dataclass(frozen=True, slots=True)
class Replayed:
    """What came of a replay."""

    workplace: Workplace
    engine: str
    duration_s: float
    carcasses: frozenset[int] = frozenset()
    """Numbers of the carcasses that were in hand at any time of it."""
    warnings: tuple[str, ...] = field(default=())


Work = Callable[[Watch], Replayed]
"""A replay that is told who watches."""


def replay(
    folder: Path, ledger: Path, config: Config, watch: Watch | None = None, *, again: bool = False
) -> Replayed:
    """Hear, weigh and enter a session folder, as the live session would have.

    Args:
        folder: The session folder.
        ledger: The ledger file; made when it is not there.
        config: The settings.
        watch: Who is told of what.
        again: Enter it even when this session is in the ledger already.

    Raises:
        SessionError: The folder cannot be replayed, or is in this ledger already.
        HandsfreeError: Any of the sound, grammar, model or ledger errors.
    """
    watch = watch or Watch()
    session = open_session(folder)
    vocabulary = words.vocabulary(config)
    known = scales.all_settings(config, session.description.scales)
    sound = AudioFile(session.sound) if session.sound else None
    engine = hearing.recogniser(config, words.lexicon(config)) if sound else None
    listener = hearing.listener(config, engine, vocabulary.listening()) if engine else None
    transports = read_scale_csv(session.scale_lines) if session.scale_lines else []
    store = open_ledger(ledger)
    try:
        if not again:
            refuse_twice(store, rfc3339(session.description.start))
        description = session.description
        occasion = Occasion(
            "replay",
            description.start,
            engine.name if engine else "",
            description.carcass,
            description.plan,
            description.butcher,
        )
        place = workplace(
            config, store, vocabulary, occasion, scales=known, listener=listener, overheard=watch.utterance
        )
        if session.scale_lines:
            place.recorder.expect(description.scales)
        length_s = sound.duration_s if sound else 0.0
        ahead = None
        if session.sound is not None:
            ahead = AheadProcess(Recording(session.sound, session.own_voice, config))
        steps = _steps(ahead, transports)
        carcasses = _run(place, steps, watch, length_s)
    finally:
        store.close()
        if sound:
            sound.close()
    warnings = (ahead.warning,) if ahead and ahead.warning else ()
    return Replayed(place, engine.name if engine else "", length_s, carcasses, warnings)


def _run(place: Workplace, steps: Iterator[Step], watch: Watch, length_s: float) -> frozenset[int]:
    shown_s = -1.0
    in_hand = {place.books.current}
    for step in steps:
        for outcome in place.recorder.take(step):
            in_hand.add(place.books.current)
            watch.outcome(outcome, place.replies.to(outcome))
        if seconds(step.t_ns) - shown_s >= 1.0:
            shown_s = seconds(step.t_ns)
            watch.progress(shown_s, max(length_s, shown_s))
    for outcome in place.recorder.finish("end of the recording"):
        watch.outcome(outcome, place.replies.to(outcome))
    watch.progress(length_s, length_s)
    return frozenset(number for number in in_hand if number is not None)


def _steps(ahead: AheadProcess | None, transports: list[CaptureTransport]) -> Iterator[Step]:
    streams: list[Iterator[Step]] = [_scale_steps(transport) for transport in transports]
    if ahead is not None:
        streams.append(ahead.steps())
    return in_order(*streams)


def _scale_steps(transport: CaptureTransport) -> Iterator[Step]:
    while isinstance(received := transport.receive(0.0), Chunk | Lost):
        yield ScaleStep(received.t_ns, transport.scale, received)


def refuse_twice(store: LedgerStore, start: str) -> None:
    """Refuse a session that is in the ledger already: entered twice it would double every piece.

    Args:
        store: The ledger.
        start: When the session began, as the ledger writes it.

    Raises:
        SessionError: It is in there.
    """
    for entry in store.sessions_begun(start):
        if isinstance(entry.body, SessionBegan) and entry.body.source != "typed":
            raise SessionError(
                f"the session of {start} is in this ledger already (entry {entry.seq})",
                kept="nothing was entered",
                next_step="take another ledger, or replay it with --again to enter it a second time",
            )
