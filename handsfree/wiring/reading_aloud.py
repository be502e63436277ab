"""Reads a voice in at the microphone: prompts on the loudspeaker and on the screen, no hands."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import ExitStack
from pathlib import Path

from handsfree.answering.espeak_voice import EspeakVoice
from handsfree.answering.loudspeaker import Loudspeaker
from handsfree.answering.messages import Saying, Tone
from handsfree.answering.ports import SoundOutput, Voice
from handsfree.answering.speaker import Answerer
from handsfree.answering.system_voice import SystemVoice
from handsfree.answering.voices import FirstVoice
from handsfree.clock import Clock, SystemClock
from handsfree.config import Config
from handsfree.errors import AudioFileError
from handsfree.speech.enrolment import Enrolment, Finished, Kept, LeftOut, Prompt, Step
from handsfree.speech.enrolment_phrases import phrases_to_read
from handsfree.speech.grammar import Grammar
from handsfree.speech.lexicon import Lexicon
from handsfree.speech.messages import Samples
from handsfree.speech.microphone import Microphone
from handsfree.speech.pocketsphinx_engine import PocketSphinxRecogniser
from handsfree.speech.ports import SoundSource
from handsfree.speech.reading import Reading
from handsfree.speech.voice_store import VoiceStore
from handsfree.wiring import hearing, words
from handsfree.wiring.sound_steps import flagged


def read_phrases(
    name: str, config: Config, store: VoiceStore, tell: Callable[[str], None], *, quiet: bool = False
) -> Path:
    """Lead a person through the phrases, and give the folder the recordings are kept in.

    Args:
        name: Whose voice.
        config: The settings: microphone, loudspeaker, read-back voice, cut list.
        store: Where the recordings go.
        tell: Shows a line.
        quiet: Do not say the phrases.

    Raises:
        ConfigError: The name cannot be one.
        MicrophoneError: The microphone cannot be used.
        AudioFileError: Recordings cannot be kept, or the reading was ended early.
    """
    phrases = phrases_to_read(words.vocabulary(config))
    plausible = Plausibility(words.lexicon(config), phrases)
    parts = hearing.speech_parts(config)
    clock = SystemClock()
    with ExitStack() as stack:
        microphone = Microphone(clock, device(config.speech.microphone))
        stack.callback(microphone.close)
        store.begin(name)
        answerer = None
        if not quiet:
            wanted = config.answers.voice
            voice = FirstVoice([EspeakVoice(wanted), SystemVoice(wanted)])
            answerer = _answerer(voice, Loudspeaker(device(config.answers.speaker), tell=tell), clock, tell)
            stack.callback(answerer.close)
        reading = Reading(enrolment := Enrolment(phrases), parts, plausible)
        try:
            lead_through(name, enrolment, reading, microphone, store, answerer, tell)
        except KeyboardInterrupt:
            tell("Stopped from the keyboard.")
    if enrolment.phrase is not None:
        raise AudioFileError(
            "not all phrases were read",
            kept=f"what was read is in {store.recordings_of(name)}",
            next_step=f'make do with it (handsfree voice add "{name}" --from that folder), '
            "or remove it and begin again",
        )
    return store.recordings_of(name)


def lead_through(
    name: str,
    enrolment: Enrolment,
    reading: Reading,
    source: SoundSource,
    store: VoiceStore,
    answerer: Answerer | None,
    tell: Callable[[str], None],
) -> None:
    """Prompt, listen and keep until all phrases were read or the sound ends.

    Raises:
        MicrophoneError: The microphone has gone away.
        AudioFileError: A recording cannot be kept.
    """
    hands = _Hands(name, store, answerer, tell)
    hands.carry_out(enrolment.begin())
    for block in source.blocks():
        own = answerer is not None and answerer.was_speaking(block.t_ns, block.end_ns)
        hands.carry_out(reading.feed(flagged(block) if own else block))
        if enrolment.phrase is None:
            break
    else:
        hands.carry_out(reading.flush())
    if answerer is not None:
        answerer.wait_until_quiet(5.0)


class _Hands:
    """Does what the enrolment asks for: show, say, keep."""

    def __init__(
        self, name: str, store: VoiceStore, answerer: Answerer | None, tell: Callable[[str], None]
    ) -> None:
        self._name = name
        self._store = store
        self._answerer = answerer
        self._tell = tell
        self._kept = 0

    def carry_out(self, steps: list[Step]) -> None:
        for step in steps:
            match step:
                case Prompt():
                    again = f"  (again: {step.again.value})" if step.again else ""
                    self._tell(f"{step.number:2d} of {step.of}   {step.phrase}{again}")
                    self._say(Tone.REFUSED if step.again else Tone.QUESTION, step.words())
                case Kept():
                    self._kept += 1
                    self._store.keep(self._name, self._kept, step.phrase, step.raw)
                case LeftOut():
                    self._tell(f"           left out: {step.phrase} ({step.fault.value})")
                case Finished():
                    self._tell(f"{step.kept} phrases kept, {step.left_out} left out.")
                    self._say(Tone.CLOSED, "thank you, that is all")

    def _say(self, tone: Tone, text: str) -> None:
        if self._answerer is not None:
            self._answerer.say(Saying(tone, text))


class Plausibility:
    """Whether sound may be one of the phrases: the engine names it among its first three.

    Lenient on purpose: voices the engine understands badly are the ones that need reading in.
    """

    def __init__(self, lexicon: Lexicon, phrases: list[str]) -> None:
        self._engine = PocketSphinxRecogniser(lexicon)
        self._engine.use(Grammar.from_phrases("phrases to read", phrases))

    def __call__(self, clean: Samples, phrase: str) -> bool:
        """Whether denoised sound may be this phrase."""
        self._engine.begin()
        self._engine.feed(clean)
        return phrase in [reading.text for reading in self._engine.finish(3).hypotheses]


def device(text: str) -> int | str | None:
    """A device of the settings: a number, a name, or None for the system's default."""
    return int(text) if text.isdecimal() else text or None


def _answerer(voice: Voice, output: SoundOutput, clock: Clock, tell: Callable[[str], None]) -> Answerer:
    answerer = Answerer(voice, output, clock, tell=tell)
    answerer.start()
    return answerer
