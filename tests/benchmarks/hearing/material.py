"""Sound for training and measuring: phrases by synthetic voices, real people's words, real talk.

What belongs to which half stands in halves.py; tracks are kept on disk by sound_store.py. The level
of speech is its RMS where it is within 30 dB of its loudest 20 ms; a signal-to-noise ratio is that
over the full-band RMS of the noise. 40 dB and more count as clean.
"""

from __future__ import annotations

import hashlib
import random
from collections.abc import Callable, Iterator, Sequence

import numpy as np
import soundfile
from backgrounds import Floats, active_rms, in_room, noise, talk_recordings
from halves import HALVES, NOISES, VOICES, Half, half_of_speaker
from sound_store import Clip, Said, Track, kept

from handsfree.speech.denoise_deepfilter import DeepFilterDenoiser
from handsfree.speech.denoise_none import NoDenoiser
from handsfree.speech.denoise_spectral import SpectralDenoiser
from handsfree.speech.endpointing import Endpointer
from handsfree.speech.grammar import Grammar
from handsfree.speech.messages import RATE_HZ, Samples
from handsfree.speech.ports import Denoiser
from handsfree.speech.timeline import NS_PER_SAMPLE
from handsfree.speech.voice_activity import SileroVoiceActivity
from handsfree.testing.making_sound import in_blocks, joined
from handsfree.testing.rehearsal.voices import Voice, installed, speak
from handsfree.testing.words_in_noise import real_data

DENOISERS: dict[str, Callable[[], Denoiser]] = {
    "deepfilter": DeepFilterDenoiser,
    "spectral": SpectralDenoiser,
    "none": NoDenoiser,
}

#: As wired: both filters, blended.
SHIPPED = "blend"
_BLEND = ("deepfilter", "spectral")
_GENTLE = np.float32(0.3)

_SPEECH_RMS = 0.08
_PAUSE_S = 0.8
_LEAD_S = 2.5


def phrases(grammar: Grammar, count: int, seed: int) -> list[str]:
    """Phrases as they come in a day's work: three calls to one command."""
    draw = random.Random(seed)
    found: dict[str, None] = {}
    while len(found) < count:
        phrase = grammar.random_phrase(draw)
        if phrase.startswith("ledger") == (len(found) % 4 == 3) and len(phrase.split()) <= 6:
            found[phrase] = None
    return list(found)


def voices(half: Half) -> list[Voice]:
    """The half's voices that are installed."""
    return [voice for voice in VOICES[half] if installed(voice)]


def phrases_track(
    texts: Sequence[str],
    voice: Voice,
    source: str,
    snr_db: float,
    *,
    half: Half,
    seed: int = 0,
    room: str = "",
    denoiser: str = SHIPPED,
) -> Track:
    """The phrases by the voice, 0.8 s apart, in the noise, denoised in one go.

    Args:
        texts: What is said.
        voice: By whom.
        source: A noise as in `halves.NOISES`.
        snr_db: Level of the speech over the noise.
        half: Whose noise.
        seed: Which stretch of the noise.
        room: An impulse response as in `halves.ROOMS`, none when empty.
        denoiser: A key of `DENOISERS`.
    """
    if denoiser == SHIPPED:
        return _blended(
            *(
                phrases_track(texts, voice, source, snr_db, half=half, seed=seed, room=room, denoiser=one)
                for one in _BLEND
            )
        )
    what = ("phrases", tuple(texts), voice, source, snr_db, half, seed, room, denoiser)

    def make() -> Track:
        said = [(text, str(voice), speak(text, voice).astype(np.float64) / 32768) for text in texts]
        return _track(said, source, snr_db, half, seed, room, denoiser)

    return kept(what, make)


def words_track(
    half: Half,
    source: str,
    snr_db: float,
    *,
    seed: int = 0,
    room: str = "",
    denoiser: str = SHIPPED,
    only: Sequence[str] = (),
) -> Track:
    """All single words of the half's real people (or of `only` these words), laid in the noise.

    The order is drawn by `seed`; each recording has its own room's noise in it besides.
    """
    if denoiser == SHIPPED:
        return _blended(
            *(
                words_track(half, source, snr_db, seed=seed, room=room, denoiser=one, only=only)
                for one in _BLEND
            )
        )
    clips = [clip for clip in word_files(half) if not only or clip[0] in only]
    random.Random(seed).shuffle(clips)
    what = ("words", tuple(clips), source, snr_db, half, seed, room, denoiser)

    def make() -> Track:
        said = [(word, name[:8], _softened(_word(word, name))) for word, name in clips]
        return _track(said, source, snr_db, half, seed, room, denoiser)

    return kept(what, make)


def word_files(half: Half) -> list[tuple[str, str]]:
    """(word, file name) of the half's recordings of single words."""
    files = sorted((real_data() / "words").glob("*/*.wav"))
    return [(file.parent.name, file.name) for file in files if half_of_speaker(file.name) == half]


def words(half: Half, denoiser: str = SHIPPED) -> list[Clip]:
    """The half's single words as recorded, each denoised by itself, in the order of the files."""
    track = _words_alone(half, denoiser)
    return [
        Clip(s.text, track.clean[s.first : s.after], track.raw[s.first : s.after], s.speaker)
        for s in track.said
    ]


def _words_alone(half: Half, denoiser: str) -> Track:
    if denoiser == SHIPPED:
        return _blended(*(_words_alone(half, one) for one in _BLEND))
    clips = word_files(half)

    def make() -> Track:
        raws, cleans, said, at = [], [], [], 0
        for word, name in clips:
            sound = (_word(word, name) * 32768).astype(np.int16)
            # Half a second of the recording's own beginning goes before: the filter learns its noise.
            lead = np.concatenate([np.resize(sound[:800], RATE_HZ // 2), sound])
            raws.append(lead)
            cleans.append(_denoised(lead, denoiser))
            # The clip is used whole: 1/8 s of lead and all of the recording.
            said.append(Said(word, name[:8], at + 3 * RATE_HZ // 8, at + len(lead)))
            at += len(lead)
        return Track(np.concatenate(raws), np.concatenate(cleans), tuple(said))

    return kept(("single words", tuple(clips), half, denoiser), make)


def talk_track(half: Half, denoiser: str = SHIPPED, recordings: Sequence[tuple[str, Floats]] = ()) -> Track:
    """The half's talk that is no call, or other recordings of such, in a row; `said` names each recording."""
    if denoiser == SHIPPED:
        return _blended(*(talk_track(half, one, recordings) for one in _BLEND))
    recordings = recordings or talk_recordings(half)

    def make() -> Track:
        raws, cleans, said, at = [], [], [], 0
        for name, sound in recordings:
            raws.append(np.round(sound * 32767).astype(np.int16))
            cleans.append(_denoised(raws[-1], denoiser))
            said.append(Said("", name, at, at + len(sound)))
            at += len(sound)
        return Track(np.concatenate(raws), np.concatenate(cleans), tuple(said))

    return kept(("talk", tuple(name for name, _ in recordings), half, denoiser), make)


def talk(half: Half, denoiser: str = SHIPPED) -> Iterator[Samples]:
    """Real people's talk that is no call: whole segments up to 4.5 s, and pieces of 0.9 to 2.2 s."""
    return (clean for clean, _ in talk_twice(half, denoiser))


def talk_twice(half: Half, denoiser: str = SHIPPED) -> Iterator[tuple[Samples, Samples]]:
    """The same, each denoised and as it was."""
    track = talk_track(half, denoiser)
    for number, said in enumerate(track.said):
        draw = np.random.default_rng(2 * number + HALVES.index(half))
        for at in segment_spans(track.clean[said.first : said.after]):
            span = slice(said.first + at.start, said.first + at.stop)
            length = span.stop - span.start
            if length <= 4.75 * RATE_HZ:
                yield track.clean[span], track.raw[span]
            for _ in range(3):
                shorter = int(draw.uniform(0.9, 2.2) * RATE_HZ)
                if length > shorter:
                    start = span.start + int(draw.integers(0, length - shorter))
                    yield track.clean[start : start + shorter], track.raw[start : start + shorter]


def segments(clean: Samples) -> list[Samples]:
    """What the endpointer cuts out of denoised sound, too long ones as well."""
    return [clean[span] for span in segment_spans(clean)]


def segment_spans(clean: Samples) -> list[slice]:
    """Where those segments lie in the sound."""
    endpointer = Endpointer(SileroVoiceActivity())
    found: list[slice] = []
    length = 0
    for block in in_blocks(clean):
        for part in endpointer.feed(block):
            length = len(part.samples) + (0 if part.first else length)
            if part.last:
                start = part.start_ns // NS_PER_SAMPLE
                found.append(slice(start, start + length))
    return found


def noises(half: Half) -> dict[str, str]:
    """Kind of noise -> its source in the half."""
    return {kind: sources[half] for kind, sources in NOISES.items()}


def sounds_track(sounds: Sequence[tuple[str, Samples]], denoiser: str = SHIPPED) -> Track:
    """Any sounds one after the other, 0.8 s apart in faint noise; for what is no call at all."""
    if denoiser == SHIPPED:
        return _blended(*(sounds_track(sounds, one) for one in _BLEND))
    identity = tuple((name, hashlib.sha256(sound.tobytes()).hexdigest()) for name, sound in sounds)

    def make() -> Track:
        said = [(name, "", sound.astype(np.float64) / 32768) for name, sound in sounds]
        return _track(said, "pink", 30, "development", 0, "", denoiser)

    return kept(("sounds", identity, denoiser), make)


def _blended(strong: Track, gentle: Track) -> Track:
    """What `BlendedDenoiser` makes of the two, without filtering again."""
    mixed = (1 - _GENTLE) * strong.clean.astype(np.float32) + _GENTLE * gentle.clean.astype(np.float32)
    return Track(strong.raw, np.rint(mixed).astype(np.int16), strong.said)


def _track(
    said: Sequence[tuple[str, str, Floats]],
    source: str,
    snr_db: float,
    half: Half,
    seed: int,
    room: str,
    denoiser: str,
) -> Track:
    length = round(_LEAD_S * RATE_HZ) + sum(len(clip) + round(_PAUSE_S * RATE_HZ) for _, _, clip in said)
    speech = np.zeros(length)
    places: list[Said] = []
    at = round(_LEAD_S * RATE_HZ)
    for text, speaker, clip in said:
        dry = clip * (_SPEECH_RMS / active_rms(clip))
        places.append(Said(text, speaker, at, at + len(dry)))
        heard = in_room(dry, room, half) if room else dry
        heard = heard[: length - at]
        speech[at : at + len(heard)] += heard
        at += len(dry) + round(_PAUSE_S * RATE_HZ)
    mixed = speech + noise(source, length, seed, half) * _SPEECH_RMS * 10 ** (-snr_db / 20)
    raw = (np.clip(mixed, -1.0, 1.0) * 32767).astype(np.int16)
    return Track(raw, _denoised(raw, denoiser), tuple(places))


def _denoised(raw: Samples, denoiser: str) -> Samples:
    chain = DENOISERS[denoiser]()
    clean = joined([out for block in in_blocks(raw) for out in chain.feed(block)] + chain.flush())
    return np.resize(clean, len(raw)) if len(clean) > len(raw) else np.pad(clean, (0, len(raw) - len(clean)))


def _word(word: str, name: str) -> Floats:
    return np.asarray(soundfile.read(real_data() / "words" / word / name, dtype="float64")[0])


def _softened(clip: Floats) -> Floats:
    """The recording's own noise fades in and out over 20 ms, so that its ends are no clicks."""
    ramp = np.linspace(0.0, 1.0, RATE_HZ // 50)
    soft = clip.copy()
    soft[: len(ramp)] *= ramp
    soft[-len(ramp) :] *= ramp[::-1]
    return soft
