"""Runs a live session: microphone and scales in threads of their own, one loop that decides."""

from __future__ import annotations

import queue
import threading
from collections.abc import Callable, Iterator
from contextlib import ExitStack, suppress
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from pathlib import Path

from handsfree.answering import enquiries
from handsfree.answering.espeak_voice import EspeakVoice
from handsfree.answering.loudspeaker import Loudspeaker
from handsfree.answering.messages import Saying
from handsfree.answering.speaker import Answerer
from handsfree.answering.system_voice import SystemVoice
from handsfree.answering.voices import FirstVoice
from handsfree.board.server import BoardServer
from handsfree.clerk import Outcome
from handsfree.clock import Clock, SystemClock, WallClockWatch, clock_was_set
from handsfree.config import Config
from handsfree.errors import ConfigError, HandsfreeError, ScaleError
from handsfree.ledger.sqlite_store import open_ledger
from handsfree.merging import DeviceStep, ScaleStep, SoundStep, Step, StepBuffer
from handsfree.session_folder import SessionDescription
from handsfree.speech import phones_apart
from handsfree.speech.messages import AudioBlock, SoundFlags, Utterance
from handsfree.speech.microphone import Microphone
from handsfree.speech.ports import Recogniser, SoundSource
from handsfree.weighing.ports import Chunk, Ended, Lost, Transport
from handsfree.wiring import board, hearing, scale_ports, words
from handsfree.wiring.keeping import SessionKeeper
from handsfree.wiring.replaying import Watch
from handsfree.wiring.sound_steps import flagged, sound_steps
from handsfree.wiring.workplace import Occasion, Workplace, workplace

_POLL_S = 0.05
_TICK_NS = 250_000_000
_TOGETHER_NS = 100_000_000
#: The longest to wait for the first sound; without a loudspeaker it comes back at once.
_AWAKE_S = 8.0
#: The longest a source may take to hand over what it still has.
_JOIN_S = 3.0


@dataclass(slots=True)
class LiveOptions:
    """What a live session is run with."""

    ledger: Path
    keep: Path | None = None
    quiet: bool = False
    """No answers aloud."""
    sound: bool = True
    plan: str = ""
    butcher: str = ""
    """Who works, by number or name; "none" for nobody, empty for whom the ledger has at the bench."""
    board_port: int | None = None
    """Where the board is served; None for no board, 0 for a free port."""
    board_host: str = "127.0.0.1"
    ready: Callable[[str], None] = lambda _text: None
    """Told once, when everything listens."""
    tell: Callable[[str], None] = lambda _text: None
    """Told of things that are no errors: no voice, no loudspeaker."""
    stop: threading.Event = field(default_factory=threading.Event)
    """Set from outside to end the session in order."""


def _engine(config: Config, stack: ExitStack) -> Recogniser:
    """The engine of the settings, with a process for the phones where there is a core for it."""
    process = phones_apart.beside()
    if process is None:
        return hearing.recogniser(config, words.lexicon(config))
    stack.callback(process.close)
    return hearing.recogniser(config, words.lexicon(config), phones=process.phones)


def record(config: Config, options: LiveOptions, watch: Watch) -> Workplace:
    """Run until stopped; the ledger is always level with what was answered.

    Raises:
        HandsfreeError: A device, grammar, model or ledger cannot be used. What was answered is in the
            ledger, and the session's end is noted there where that is possible.
    """
    if not config.scales and not options.sound:
        raise ConfigError("there is neither a microphone nor a scale to record from")
    vocabulary = words.vocabulary(config)
    with ExitStack() as stack:
        engine = _engine(config, stack) if options.sound else None
        listener = hearing.listener(config, engine, vocabulary.listening()) if engine else None
        first_half = hearing.speech_parts(config) if options.sound else None
        store = open_ledger(options.ledger)
        stack.callback(store.close)
        # Time begins when all that is slow to start has started.
        clock = SystemClock()
        microphone = Microphone(clock, _device(config.speech.microphone)) if options.sound else None
        if microphone is not None:
            stack.callback(microphone.close)
        ports = scale_ports.transports(config.scales, clock, tell=options.tell)
        for port in ports:
            stack.callback(port.close)
        answerer = _answerer(config, options, clock)
        occasion = Occasion(
            "live",
            clock.started_at(),
            engine.name if engine else "",
            plan=options.plan,
            butcher=options.butcher,
        )
        place = workplace(
            config,
            store,
            vocabulary,
            occasion,
            scales=config.scales,
            listener=listener,
            overheard=_overhearing(watch, answerer),
        )
        place.recorder.expect(config.scales)
        at_the_bench = place.books.bench.butcher
        keeper = _keeper(config, options, clock, place.books.bench.name, sound=microphone is not None)
        if keeper is not None:
            stack.callback(keeper.close)
        if answerer is not None:
            answerer.start()
            stack.callback(answerer.close)
            # The first sound opens the loudspeaker, which takes seconds on some machines.
            answerer.say(enquiries.awake())
        if options.board_port is not None:
            served = BoardServer(board.document(config), options.board_host, options.board_port)
            stack.callback(served.close)
            watch = _with_board(watch, board.LiveBoard(place.books, place.plans, served.show))
            options.tell(f"The board is at {served.address}")
        live = _Live(place, watch, options, clock, keeper, answerer)
        for port in ports:
            # With one scale alone a port that is not there is a mistake to be put right at once; with two
            # the other goes on.
            live.listen_to_scale(port, patient=len(ports) > 1)
        if microphone is not None and first_half is not None:
            blocks = live.heard(microphone)
            live.listen_to(sound_steps(blocks, first_half))
        if answerer is not None:
            answerer.wait_until_quiet(_AWAKE_S)
        heard_by = microphone.name if microphone else "no microphone"
        who = f"; at the bench: {at_the_bench.words()}" if at_the_bench is not None else ""
        options.ready(f"listening: {heard_by}; scales: {', '.join(config.scales) or 'none'}{who}")
        live.run(sound=microphone is not None)
    return place


def _device(text: str) -> int | str | None:
    return int(text) if text.isdecimal() else text or None


def _keeper(
    config: Config, options: LiveOptions, clock: Clock, butcher: str, *, sound: bool
) -> SessionKeeper | None:
    if options.keep is None:
        return None
    description = SessionDescription(clock.started_at(), None, config.scales, options.plan, butcher)
    return SessionKeeper(options.keep, description, sound=sound)


def _answerer(config: Config, options: LiveOptions, clock: Clock) -> Answerer | None:
    if options.quiet:
        return None
    output = Loudspeaker(_device(config.answers.speaker), tell=options.tell)
    wanted = config.answers.voice
    rate = round(config.answers.rate)
    voice = FirstVoice([EspeakVoice(wanted, rate), SystemVoice(wanted, rate)])
    return Answerer(voice, output, clock, tell=options.tell, loudness=config.answers.loudness)


def _overhearing(watch: Watch, answerer: Answerer | None) -> Callable[[Utterance], None]:
    """Tells the watch of every utterance; a command said over an answer ends the answer."""

    def overheard(utterance: Utterance) -> None:
        if answerer is not None and utterance.accepted and SoundFlags.OWN_VOICE in utterance.flags:
            answerer.hush()
        watch.utterance(utterance)

    return overheard


def _with_board(watch: Watch, shown: board.LiveBoard) -> Watch:
    """The watch, and the board told of every outcome after it."""

    def outcome(happened: Outcome, sayings: list[Saying]) -> None:
        watch.outcome(happened, sayings)
        shown.outcome(happened, sayings)

    return replace(watch, outcome=outcome)


class _Live:
    """The threads of a live session and the loop between them."""

    def __init__(
        self,
        place: Workplace,
        watch: Watch,
        options: LiveOptions,
        clock: Clock,
        keeper: SessionKeeper | None,
        answerer: Answerer | None,
    ) -> None:
        self._place = place
        self._watch = watch
        self._options = options
        self._clock = clock
        self._keeper = keeper
        self._answerer = answerer
        self._queue: queue.Queue[Step | HandsfreeError] = queue.Queue()
        self._stopped = threading.Event()
        self._sources: list[SoundSource | Transport] = []
        self._threads: list[threading.Thread] = []

    def heard(self, source: SoundSource) -> Iterator[AudioBlock]:
        """The blocks of the microphone, own voice flagged, kept as they are."""
        self._sources.append(source)
        for block in source.blocks():
            own = self._answerer is not None and self._answerer.was_speaking(block.t_ns, block.end_ns)
            marked = flagged(block) if own else block
            self._keep(marked)
            yield marked

    def listen_to(self, steps: Iterator[Step]) -> None:
        """Take steps of sound from a thread."""
        self._thread("hearing", lambda: self._pass_on(steps))

    def listen_to_scale(self, transport: Transport, *, patient: bool = False) -> None:
        """Take bytes of a scale from a thread; a patient one waits for a port that is not there yet."""
        self._sources.append(transport)
        self._thread(
            f"scale {transport.scale}",
            lambda: self._pass_on(self._scale_steps(transport, patient=patient)),
        )

    def run(self, *, sound: bool) -> None:
        """Decide until stopped, then end in order whatever the reason."""
        buffer = StepBuffer(sound=sound)
        reason = "stopped"
        ticked_ns = 0
        try:
            jumps = WallClockWatch(self._clock.started_at())
            while not self._options.stop.is_set():
                self._collect(buffer)
                now_ns = self._clock.now_ns()
                if not sound and now_ns - ticked_ns >= _TICK_NS:
                    # Nothing else tells the weighers that time passed while a scale is silent.
                    ticked_ns = now_ns
                    buffer.push(SoundStep(now_ns))
                wall, read_ns = datetime.now(UTC), self._clock.now_ns()
                # Held up between the two, they say nothing about each other.
                together = read_ns - now_ns < _TOGETHER_NS
                if together and (jump_s := jumps.feed(read_ns, wall)) is not None:
                    buffer.push(DeviceStep(read_ns, "clock", clock_was_set(jump_s)))
                for step in buffer.ready(self._clock.now_ns()):
                    self._take(step)
        except KeyboardInterrupt:
            reason = "stopped from the keyboard"
        except HandsfreeError as error:
            reason = error.what
            raise
        finally:
            self._stop_listening()
            with suppress(HandsfreeError):  # a second fault must not hide the first
                self._collect(buffer)
            for step in buffer.rest():
                self._take(step)
            for outcome in self._place.recorder.finish(reason):
                self._watch.outcome(outcome, self._place.replies.to(outcome))

    def _collect(self, buffer: StepBuffer) -> None:
        """Everything that has arrived; waits a moment for the first."""
        try:
            item = self._queue.get(timeout=_POLL_S)
            while True:
                if isinstance(item, HandsfreeError):
                    raise item
                if isinstance(item, ScaleStep):
                    self._keep(item)
                buffer.push(item)
                item = self._queue.get_nowait()
        except queue.Empty:
            return

    def _keep(self, what: AudioBlock | ScaleStep) -> None:
        """Keep something in the session folder; when that fails the session goes on without it."""
        if self._keeper is None:
            return
        try:
            if isinstance(what, AudioBlock):
                self._keeper.sound(what)
            else:
                self._keeper.scale(what.scale, what.received)
        except HandsfreeError as error:
            self._keeper = None
            self._options.tell(f"{error} The session goes on; from here on it is not kept.")

    def _take(self, step: Step) -> None:
        for outcome in self._place.recorder.take(step):
            sayings = self._place.replies.to(outcome)
            if self._answerer is not None:
                for saying in sayings:
                    self._answerer.say(saying)
            self._watch.outcome(outcome, sayings)
        if isinstance(step, SoundStep):
            self._watch.progress(step.t_ns / 1e9, 0.0)

    def _scale_steps(self, transport: Transport, *, patient: bool) -> Iterator[Step]:
        while not self._stopped.is_set():
            try:
                received = transport.receive(0.2)
            except ScaleError as error:
                if not patient:
                    raise
                self._options.tell(str(error))
                received = Lost(self._clock.now_ns(), error.what)
            if isinstance(received, Ended):
                return
            if isinstance(received, Chunk | Lost):
                yield ScaleStep(received.t_ns, transport.scale, received)

    def _pass_on(self, steps: Iterator[Step]) -> None:
        try:
            for step in steps:
                self._queue.put(step)
        except HandsfreeError as error:
            self._queue.put(error)

    def _stop_listening(self) -> None:
        """End the sources and wait for what they still had in hand."""
        self._stopped.set()
        for source in self._sources:
            source.close()
        for thread in self._threads:
            thread.join(timeout=_JOIN_S)

    def _thread(self, name: str, work: Callable[[], None]) -> None:
        thread = threading.Thread(target=work, name=name, daemon=True)
        self._threads.append(thread)
        thread.start()
