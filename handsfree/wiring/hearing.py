"""The sound path by the settings: denoiser, endpointer, engine."""

from __future__ import annotations

from handsfree.config import Config
from handsfree.errors import EngineUnavailableError
from handsfree.speech import denoise_deepfilter, voice_activity
from handsfree.speech.denoise_none import NoDenoiser
from handsfree.speech.denoise_spectral import SpectralDenoiser
from handsfree.speech.endpointing import Endpointer
from handsfree.speech.energy_activity import EnergyActivity
from handsfree.speech.hearing import SpeechParts
from handsfree.speech.ports import Denoiser, VoiceActivityDetector


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
            return denoise_deepfilter.DeepFilterDenoiser()
        except EngineUnavailableError:
            if wanted == "deepfilter":
                raise
    return SpectralDenoiser()


def speech_parts(config: Config) -> SpeechParts:
    """Denoiser and endpointer, the half of hearing that needs no grammar."""
    detector: VoiceActivityDetector = (
        voice_activity.SileroVoiceActivity() if voice_activity.available() else EnergyActivity()
    )
    return SpeechParts(denoiser(config), Endpointer(detector))
