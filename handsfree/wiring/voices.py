"""The embedded engine with the voice of the settings: by name, or found out from who speaks."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from handsfree.config import Config
from handsfree.config_writing import write_setting
from handsfree.speech.acoustic_files import MEANS_FILE, read_acoustic_model, read_means
from handsfree.speech.acoustic_model import AcousticModel, log_likelihood
from handsfree.speech.bench_voices import BenchRecogniser
from handsfree.speech.choosing_voice import ChoosingRecogniser, Marks
from handsfree.speech.enrolled_voice import EnrolledVoice
from handsfree.speech.gate import packaged_gate
from handsfree.speech.lexicon import Lexicon
from handsfree.speech.messages import Samples
from handsfree.speech.pocketsphinx_alignment import Aligner
from handsfree.speech.pocketsphinx_decoders import PhoneDecoder, model_folder
from handsfree.speech.pocketsphinx_engine import PhonesFor, PocketSphinxRecogniser
from handsfree.speech.ports import Recogniser
from handsfree.speech.voice_store import VoiceStore

BY_VOICE = "auto"
"""The setting under which the voice is found out."""


def embedded(
    config: Config, lexicon: Lexicon, store: VoiceStore | None = None, *, phones: PhonesFor = PhoneDecoder
) -> Recogniser:
    """The embedded engine as the settings' voice wants it, with the voices of butchers to switch to.

    Raises:
        EngineUnavailableError: The embedded engine is not installed.
        ConfigError: The voice named cannot be a name.
        ModelError: The voice named is not known, or damaged.
    """
    known = store or VoiceStore()
    anybody = _anybody(config.speech.voice, lexicon, known, phones)
    if not known.names():
        return anybody
    plain = anybody if not config.speech.voice else PocketSphinxRecogniser(lexicon, phones=phones)
    return BenchRecogniser(
        anybody,
        plain,
        lambda name: of_voice(known.voice(name), lexicon, phones) if name in known.names() else None,
        config.butchers,
    )


def butchers_have_voices(config: Config) -> bool:
    """Whether the voice of a butcher with a number was read in."""
    return not set(config.butchers.values()).isdisjoint(VoiceStore().names())


def _anybody(name: str, lexicon: Lexicon, known: VoiceStore, phones: PhonesFor) -> Recogniser:
    """The engine while nobody is named at the bench."""
    if not name:
        return PocketSphinxRecogniser(lexicon, phones=phones)
    if name != BY_VOICE:
        return of_voice(known.voice(name), lexicon, phones)
    voices = [known.voice(each) for each in known.names()]
    own = [voice for voice in voices if voice.adapted is not None]
    if not own:
        return PocketSphinxRecogniser(lexicon, phones=phones)
    by_name = {voice.name: voice for voice in own}
    judge = VoiceJudge(own, lexicon)
    return ChoosingRecogniser(
        PocketSphinxRecogniser(lexicon, phones=phones),
        judge.marks,
        lambda chosen: of_voice(by_name[chosen], lexicon, phones),
    )


def of_voice(
    voice: EnrolledVoice, lexicon: Lexicon, phones: PhonesFor = PhoneDecoder
) -> PocketSphinxRecogniser:
    """The embedded engine with this voice's model and gate.

    Raises:
        EngineUnavailableError: The embedded engine is not installed.
        ModelError: The voice's model cannot be loaded.
    """
    gate = voice.gate(packaged_gate())
    return PocketSphinxRecogniser(lexicon, gate, adapted=voice.adapted, phones=phones)


class VoiceJudge:
    """Says how well known voices explain an utterance. Not thread-safe.

    Args:
        voices: With a model of their own.
        lexicon: Pronunciations.

    Raises:
        ModelError: A voice's model cannot be read.
    """

    def __init__(self, voices: list[EnrolledVoice], lexicon: Lexicon) -> None:
        self._base = read_acoustic_model(model_folder() / "en-us")
        self._voices: dict[str, AcousticModel] = {
            voice.name: replace(self._base, means=read_means(Path(voice.adapted) / MEANS_FILE))
            for voice in voices
            if voice.adapted is not None
        }
        self._aligner = Aligner(lexicon, self._base.phones)

    def marks(self, sound: Samples, text: str) -> Marks:
        """Natural log likelihood per frame of each voice over the model as it comes; empty if unknown."""
        aligned = self._aligner.align(sound, text)
        if aligned is None:
            return {}
        said = aligned.alignment
        plain = log_likelihood(self._base, said)
        return {
            name: (log_likelihood(model, said) - plain) / len(said.codebooks)
            for name, model in self._voices.items()
        }


def store() -> VoiceStore:
    """The user's own voices."""
    return VoiceStore()


def give_number(file: Path, number: int, name: str | None) -> None:
    """Write into the settings which butcher has this number.

    Args:
        file: The settings file.
        number: 1 to 20.
        name: Whether a voice was read in under it or not; None takes the number away.

    Raises:
        ConfigError: The name cannot be one or has a number, or the file cannot be written.
    """
    write_setting(file, "butchers", str(number), name)


def choose(file: Path, name: str) -> None:
    """Write into the settings whose voice is heard.

    Args:
        file: The settings file.
        name: A known voice, "auto", or "none".

    Raises:
        ConfigError: The name cannot be one, or the file cannot be written.
        ModelError: There is no such voice.
    """
    if name not in (BY_VOICE, "none"):
        store().voice(name)
    write_setting(file, "speech", "voice", None if name == "none" else name)
