"""The sound path by the settings: denoiser, endpointer, engine."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from handsfree.config import Config
from handsfree.errors import ConfigError, EngineUnavailableError, GrammarError, ModelError
from handsfree.speech import denoise_deepfilter, voice_activity
from handsfree.speech.ahead import listened_ahead
from handsfree.speech.audio_file import AudioFile
from handsfree.speech.denoise_blend import BlendedDenoiser
from handsfree.speech.denoise_none import NoDenoiser
from handsfree.speech.denoise_spectral import SpectralDenoiser
from handsfree.speech.endpointing import Endpointer
from handsfree.speech.energy_activity import EnergyActivity
from handsfree.speech.fusion import packaged_fusion
from handsfree.speech.grammar import Grammar
from handsfree.speech.hearing import (
    READINGS,
    READINGS_WITH_SECOND_EAR,
    WITH_SECOND_EAR,
    WITH_THIRD_EAR,
    Listener,
    SpeechParts,
    Thresholds,
)
from handsfree.speech.lexicon import Lexicon
from handsfree.speech.messages import Utterance
from handsfree.speech.model_store import ModelStore
from handsfree.speech.models import to_use
from handsfree.speech.moonshine_ear import MoonshineEar
from handsfree.speech.pocketsphinx_decoders import PhoneDecoder
from handsfree.speech.pocketsphinx_engine import PhonesFor
from handsfree.speech.ports import Denoiser, Recogniser, VoiceActivityDetector
from handsfree.speech.token_model import Ear
from handsfree.speech.two_ears import FIRST_READINGS, TwoEars
from handsfree.speech.two_ears import READINGS as READINGS_OF_PAIR
from handsfree.speech.vosk_engine import VoskRecogniser
from handsfree.speech.whisper_ear import WhisperEar
from handsfree.wiring import voices, words


def denoiser(config: Config) -> Denoiser:
    """The denoiser of the settings; "auto" takes the best that runs here.

    Raises:
        EngineUnavailableError: DeepFilterNet was asked for by name and cannot run here.
    """
    wanted = config.speech.denoiser
    if wanted == "none":
        return NoDenoiser()
    if wanted == "deepfilter" or (wanted == "auto" and denoise_deepfilter.available()):
        try:
            return BlendedDenoiser(denoise_deepfilter.DeepFilterDenoiser(), SpectralDenoiser())
        except EngineUnavailableError:
            if wanted == "deepfilter":
                raise
    return SpectralDenoiser()


def recogniser(config: Config, lexicon: Lexicon, *, phones: PhonesFor = PhoneDecoder) -> Recogniser:
    """The engine of the settings.

    Args:
        config: The settings.
        lexicon: Pronunciations of the words that are listened for.
        phones: What the embedded engine decodes phones with.

    "auto" takes an installed English Vosk model that knows all words of the cut list, else the
    embedded engine. With a second ear, or with a voice that was read in, it is the embedded engine,
    which the ear's weights and the voices are for.

    Raises:
        EngineUnavailableError: The engine or the second ear asked for is not installed.
        ModelError: The model asked for is not installed or is damaged.
        ConfigError: A second ear is asked for beside Vosk.
    """
    wanted = config.speech.engine
    if config.speech.second_ear or config.speech.third_ear:
        if wanted == "vosk":
            raise ConfigError(
                "a second ear is set, and it goes with the embedded engine, not with Vosk",
                next_step='set engine = "pocketsphinx", or take second_ear out of the settings',
            )
        return with_ears(voices.embedded(config, lexicon, phones=phones), *ears_of(config))
    by_voice = bool(config.speech.voice) or voices.butchers_have_voices(config)
    if wanted == "pocketsphinx" or (wanted == "auto" and by_voice):
        return voices.embedded(config, lexicon, phones=phones)
    model = to_use(ModelStore().installed(), config.speech.model)
    if model is not None and model.folder is not None:
        try:
            engine = VoskRecogniser(model.folder)
        except EngineUnavailableError:
            if wanted == "vosk":
                raise
        else:
            # A model without the trade's words could never hear them: "auto" then stays with ours.
            if wanted == "vosk" or not engine.missing_words(words.vocabulary(config).everything().words()):
                return engine
    elif wanted == "vosk":
        raise ModelError(
            "no English model for Vosk is installed",
            next_step="see `handsfree models list` and fetch one, or use the embedded engine",
        )
    return voices.embedded(config, lexicon, phones=phones)


def ears_of(config: Config) -> list[Ear]:
    """The second ear of the settings, and the third where there is one.

    Raises:
        ConfigError: There is a third and no second.
    """
    if not config.speech.second_ear:
        raise ConfigError(
            "a third ear is set and no second",
            next_step="give the folder of a Whisper model as second_ear, or take third_ear out",
        )
    named = (config.speech.second_ear, config.speech.third_ear)
    return [ear_of(Path(folder).expanduser()) for folder in named if folder]


def with_ears(engine: Recogniser, *ears: Ear) -> Recogniser:
    """The engine with each of these ears beside what came before it.

    Raises:
        ConfigError: There are no weights for them in this order.
    """
    before = ""
    for ear in ears:
        readings = READINGS_OF_PAIR if before else FIRST_READINGS
        engine = TwoEars(engine, ear, packaged_fusion(ear.kind, before), first_readings=readings)
        before = ear.kind
    return engine


def ear_of(model: Path) -> Ear:
    """The model in a folder, of whichever kind it is.

    Raises:
        EngineUnavailableError: Its library is not installed.
        ModelError: The folder is missing, holds no model of a known kind, or cannot be loaded.
    """
    return MoonshineEar(model) if any(model.glob("encoder_model.*")) else WhisperEar(model)


def thresholds(config: Config) -> Thresholds:
    """How sure the engine of the settings must be."""
    if config.speech.third_ear:
        return WITH_THIRD_EAR
    return WITH_SECOND_EAR if config.speech.second_ear else Thresholds()


def listener(config: Config, engine: Recogniser, grammar: Grammar) -> Listener:
    """The second half of hearing, by the settings.

    Raises:
        UnknownWordError: A word of the grammar has no pronunciation.
    """
    readings = READINGS_WITH_SECOND_EAR if config.speech.second_ear else READINGS
    return Listener(engine, grammar, thresholds(config), alternatives=readings)


def endpointer() -> Endpointer:
    """Where speech begins and ends, by the best detector that runs here."""
    detector: VoiceActivityDetector = (
        voice_activity.SileroVoiceActivity() if voice_activity.available() else EnergyActivity()
    )
    return Endpointer(detector)


def speech_parts(config: Config) -> SpeechParts:
    """Denoiser and endpointer, the half of hearing that needs no grammar."""
    return SpeechParts(denoiser(config), endpointer())


def hear(sound: Path, config: Config, phrases: Path | None = None) -> Iterator[Utterance]:
    """Recognise a sound file without a session.

    Args:
        sound: wav or flac.
        config: The settings.
        phrases: A file with one phrase a line; None listens for everything the larder's words allow.

    Raises:
        AudioFileError: The sound cannot be read.
        GrammarError: A phrase has a word without pronunciation, or the file cannot be used.
    """
    grammar = _phrases(phrases) if phrases else words.vocabulary(config).everything()
    source = AudioFile(sound)
    try:
        by_settings = listener(config, recogniser(config, words.lexicon(config)), grammar)
        for heard in listened_ahead(source.blocks(), speech_parts(config)):
            for part in heard.parts:
                yield from by_settings.feed(part)
    finally:
        source.close()


def _phrases(file: Path) -> Grammar:
    try:
        lines = [line.strip().lower() for line in file.read_text(encoding="utf-8").splitlines()]
    except (OSError, UnicodeDecodeError) as error:
        raise GrammarError(f"the phrase file {file} cannot be read: {error}") from error
    found = [line for line in lines if line and not line.startswith("#")]
    if not found:
        raise GrammarError(f"the phrase file {file} has no phrases", next_step="write one phrase a line")
    return Grammar.from_phrases(file.stem, found)
