"""Plays every name to the engine in the voices that are installed: which are taken for which."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

import numpy as np

from handsfree.errors import EngineUnavailableError
from handsfree.speech.denoise_spectral import SpectralDenoiser
from handsfree.speech.heard_apart import WORTH_PLAYING, Playing, phrases_to_play
from handsfree.speech.lexicon import Lexicon
from handsfree.speech.messages import RATE_HZ, Samples
from handsfree.speech.pocketsphinx_engine import PocketSphinxRecogniser
from handsfree.speech.ports import Denoiser, Recogniser
from handsfree.speech.vocabulary import Vocabulary
from handsfree.testing.making_sound import in_blocks, joined
from handsfree.testing.rehearsal.noises import Sound, pink
from handsfree.testing.rehearsal.voices import Voice, installed, speak

#: Tried in this order; the voices not installed are left out. British first.
VOICES = (
    Voice("espeak-ng", "en-gb"),
    Voice("espeak-ng", "en-gb-scotland", 0.9),
    Voice("flite", "slt"),
    Voice("flite", "rms", 0.9),
    Voice("espeak-ng", "en-gb-x-gbclan+f3", 1.05),
)
NOISE_DB = 10.0
"""Speech over noise, in the noisy round."""

_LEAD_S, _TAIL_S = 0.25, 0.3  # as the endpointer cuts an utterance out
_NOISE_LEAD_S = 1.5  # the denoiser has heard the room before the word comes
_HUSH = 6.0
"""RMS of the faint noise of a quiet room, in steps of 16 bits."""
_SPEECH_RMS = 2600.0


def play(
    vocabulary: Vocabulary,
    lexicon: Lexicon,
    *,
    noise: bool = False,
    voices: Sequence[Voice] = VOICES,
    denoiser: Callable[[], Denoiser] = SpectralDenoiser,
    limit: float = WORTH_PLAYING,
) -> Iterator[Playing]:
    """Every phrase that has a near rival, said by every voice, and what the engine heard.

    The engine hears the whole vocabulary, the widest state there is: what is told apart here is told
    apart in every smaller one.

    Args:
        vocabulary: The words.
        lexicon: How they are said.
        noise: Also play each in pink noise at 10 dB, through the denoiser.
        voices: Who says them.
        denoiser: A maker of the denoiser for the noisy round.
        limit: How near a rival must be, in phones, weighted.

    Raises:
        EngineUnavailableError: None of the voices is installed.
    """
    there = [voice for voice in voices if installed(voice)]
    if not there:
        raise EngineUnavailableError(
            "no synthetic voice is installed to play the words with",
            next_step="install one: apt-get install espeak-ng flite",
        )
    grammar = vocabulary.everything()
    engine = PocketSphinxRecogniser(lexicon)
    engine.use(grammar)
    phrases = phrases_to_play(vocabulary, lexicon, limit)
    rng = np.random.default_rng(0)  # the same noise each time: a check must not flicker
    for voice in there:
        for spoken in phrases:
            clip = speak(spoken.phrase, voice).astype(np.float64)
            rounds = [("quiet", _in_quiet(clip, rng))]
            if noise:
                rounds.append((f"pink noise, {NOISE_DB:g} dB", _in_noise(clip, rng, denoiser())))
            for condition, samples in rounds:
                text = _heard(engine, samples)
                yield Playing(
                    spoken, str(voice), condition, text, (grammar.key_of(text) or "") if text else ""
                )


def _heard(engine: Recogniser, samples: Samples) -> str:
    engine.begin()
    engine.feed(samples)
    hypotheses = engine.finish(1).hypotheses
    return hypotheses[0].text if hypotheses else ""


def _levelled(clip: Sound, lead_s: float) -> Sound:
    rms = float(np.sqrt(np.mean(clip**2))) or 1.0
    room = (round(lead_s * RATE_HZ), round(_TAIL_S * RATE_HZ))
    return np.pad(clip * (_SPEECH_RMS / rms), room)


def _in_quiet(clip: Sound, rng: np.random.Generator) -> Samples:
    sound = _levelled(clip, _LEAD_S)
    return _to_samples(sound + _HUSH * pink(len(sound) / RATE_HZ, rng)[: len(sound)])


def _in_noise(clip: Sound, rng: np.random.Generator, denoiser: Denoiser) -> Samples:
    sound = _levelled(clip, _NOISE_LEAD_S)
    level = _SPEECH_RMS * 10 ** (-NOISE_DB / 20)
    noisy = _to_samples(sound + level * pink(len(sound) / RATE_HZ, rng)[: len(sound)])
    blocks = [ready for block in in_blocks(noisy) for ready in denoiser.feed(block)]
    clean = joined([*blocks, *denoiser.flush()])
    return clean[round((_NOISE_LEAD_S - _LEAD_S) * RATE_HZ) :]


def _to_samples(sound: Sound) -> Samples:
    return np.clip(np.round(sound), -32768, 32767).astype(np.int16)
