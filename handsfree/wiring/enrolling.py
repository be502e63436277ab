"""Works a voice out from its recordings: teach, test on what was kept back, keep only what is better."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import closing
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np

from handsfree.config import Config
from handsfree.errors import AudioFileError, GrammarError, UnknownWordError
from handsfree.speech.acoustic_files import MEANS_FILE, means_file, read_acoustic_model
from handsfree.speech.acoustic_model import (
    AcousticModel,
    Alignment,
    Statistics,
    accumulate,
    map_means,
    mllr_means,
    nothing_heard,
)
from handsfree.speech.enrolled_voice import EnrolledVoice, Gain
from handsfree.speech.enrolment_phrases import Split, split
from handsfree.speech.gate import packaged_gate
from handsfree.speech.grammar import Grammar
from handsfree.speech.lexicon import Lexicon
from handsfree.speech.messages import RATE_HZ, Samples
from handsfree.speech.pocketsphinx_alignment import Aligned, Aligner
from handsfree.speech.pocketsphinx_decoders import model_folder
from handsfree.speech.pocketsphinx_engine import PocketSphinxRecogniser
from handsfree.speech.reading_track import ReadingTrack, denoised, laid_out, spoken_spans, with_noise
from handsfree.speech.take_checks import Fault, fault_of
from handsfree.speech.voice_judgement import QUIET, Trial, is_better, rival_scale, tally
from handsfree.speech.voice_store import Recording, VoiceStore, read_recordings
from handsfree.testing.rehearsal.noises import shaped, unit_rms
from handsfree.wiring import hearing, words

#: Frames the model's own mean counts for against the speaker's; chosen on development voices.
TAU = 10.0
#: Worst fit of words that were said, natural log per frame (see `Aligned.loss`): 0.5 to 3.0 on
#: synthetic voices, most for those far from the model, which need it most. Of fourteen phrases laid
#: over another one's words eleven did not fit at all, and the others stood at 2.0 to 3.2.
WORST_LOSS = 3.5
NOISE_DB = 10.0
NOISY = "noise, 10 dB"
#: As loud as the loudest noise that teaches and of another colour: decibels and power as in `TAUGHT_IN`.
LOUD = "louder noise, 5 dB"
_LOUD = (5.0, -0.75)
#: A voice is taught as it was read, in the noise of the test and in these: what the denoiser leaves of
#: speech in noise is not what it leaves in quiet. Decibels of speech over noise, and the power of
#: the frequency its amplitude goes with: pink, white, brown.
TAUGHT_IN = ((5.0, -0.5), (10.0, 0.0), (5.0, -1.0))
NOT_SPEECH = ("+NSN+", "+SPN+", "SIL")


@dataclass(frozen=True, slots=True)
class Outcome:
    """What came of it."""

    voice: EnrolledVoice
    """As it was saved."""
    refused: tuple[tuple[str, Fault], ...]
    """Recordings not used: text and why."""
    unseen_before: str
    """Right of so many among the phrases with words that were never read, before."""
    unseen_after: str


@dataclass(frozen=True, slots=True, eq=False)
class _Heard:
    text: str
    captured: Samples
    quiet: Samples
    """Denoised, as `noisy` and `loud`."""
    noisy: Samples
    loud: Samples
    laid: Aligned
    """The words over `quiet`."""


class VoiceWorkshop:
    """Makes voices.

    Args:
        config: The settings: denoiser, cut list, own words.
        store: Where voices are kept.
        tell: Told what is being done, a line at a time.

    Raises:
        EngineUnavailableError: The embedded engine is not installed.
        GrammarError: The cut list or a pronunciation file has faults.
    """

    def __init__(
        self, config: Config, store: VoiceStore, tell: Callable[[str], None] = lambda _text: None
    ) -> None:
        self._config = config
        self._store = store
        self._tell = tell
        self._lexicon: Lexicon = words.lexicon(config)
        self._grammar: Grammar = words.vocabulary(config).listening()

    def make(self, name: str, recordings: Sequence[Recording]) -> Outcome:
        """Teach, test, and save the voice; the model as it comes stays in use where that is better.

        Raises:
            AudioFileError: Too few of the recordings can be used.
            GrammarError: A text is no phrase of the cut list, or has a word without pronunciation.
            ModelError: The voice cannot be kept.
            ConfigError: The name cannot be one.
        """
        self._store.folder_of(name)
        self._check_texts(recordings)
        base = _model()
        heard, refused = self._listen(recordings, base)
        sides = split([each.text for each in heard])
        if not sides.enough:
            raise AudioFileError(
                f"of {len(recordings)} recordings {len(heard)} can be used, which is too few"
                + "".join(f"; {text}: {fault.value}" for text, fault in refused[:5]),
                kept="they are kept",
                next_step="read more phrases, about thirty",
            )
        self._tell(f"teaching with {len(sides.teaching)} phrases")
        taught = adapted_model(base, self._alignments([heard[n] for n in sides.teaching], base))
        means = means_file(model_folder() / "en-us", taught.means)
        with TemporaryDirectory(prefix="handsfree-voice-") as scratch:
            (Path(scratch) / MEANS_FILE).write_bytes(means)
            self._tell(f"testing on {len(sides.kept_back)} phrases kept back, quiet and in noise")
            before = self._trials(None, heard, sides)
            after = self._trials(Path(scratch), heard, sides)
            better = is_better(before, after, packaged_gate())
        kept = after if better else before
        voice = EnrolledVoice(
            name,
            datetime.now(UTC).replace(microsecond=0).isoformat(),
            None,
            rival_scale(packaged_gate(), [each for each in kept if each.condition != LOUD]),
            len(sides.teaching),
            tuple(
                Gain(each, tally(before, each).right, tally(after, each).right, tally(before, each).of)
                for each in (QUIET, NOISY, LOUD)
            ),
        )
        saved = self._store.save(voice, means if better else None)
        unseen = [str(tally(trials, unseen=True)) for trials in (before, after)]
        return Outcome(saved, tuple(refused), *unseen)

    def _check_texts(self, recordings: Sequence[Recording]) -> None:
        for each in recordings:
            if not self._grammar.contains(each.text):
                raise GrammarError(
                    f"{each.file}: {each.text!r} is no phrase of the cut list {self._config.speech.list!r}",
                    next_step="correct the text, or name the cut list in the settings",
                )

    def _listen(
        self, recordings: Sequence[Recording], base: AcousticModel
    ) -> tuple[list[_Heard], list[tuple[str, Fault]]]:
        track = laid_out([each.samples for each in recordings])
        quiet = self._denoised(track.samples)
        noisy = self._denoised(_in_noise(track, NOISE_DB, _PINK, seed=10))
        loud = self._denoised(_in_noise(track, *_LOUD, seed=11))
        spans = spoken_spans(quiet, track.places, hearing.endpointer())
        heard: list[_Heard] = []
        refused: list[tuple[str, Fault]] = []
        with closing(Aligner(self._lexicon, base.phones)) as aligner:
            for recording, span in zip(recordings, spans, strict=True):
                fault: Fault | None = Fault.NOTHING
                if span is not None:
                    cut = slice(*span)
                    fault = fault_of(track.samples[cut], (span[1] - span[0]) / RATE_HZ - 0.55, recording.text)
                    if fault is None:
                        laid = _fitting(aligner, quiet[cut], recording.text)
                        if laid is not None:
                            sounds = (track.samples[cut], quiet[cut], noisy[cut], loud[cut])
                            heard.append(_Heard(recording.text, *sounds, laid))
                            continue
                        fault = Fault.OTHER_WORDS
                refused.append((recording.text, fault or Fault.OTHER_WORDS))
        return heard, refused

    def _alignments(self, said: Sequence[_Heard], base: AcousticModel) -> list[Alignment]:
        """What was said in quiet, in the noise of the test and in each of `TAUGHT_IN`."""
        track = laid_out([each.captured for each in said])
        sounds = [
            self._denoised(_in_noise(track, snr_db, slope, seed=20 + number))
            for number, (snr_db, slope) in enumerate(TAUGHT_IN)
        ]
        found = [each.laid.alignment for each in said]
        with closing(Aligner(self._lexicon, base.phones)) as aligner:
            for each, (first, after) in zip(said, track.places, strict=True):
                noisy = (each.noisy, *(sound[first:after] for sound in sounds))
                found += [aligner.in_other_sound(each.laid, sound) for sound in noisy]
        return found

    def _denoised(self, sound: Samples) -> Samples:
        return denoised(sound, hearing.denoiser(self._config))

    def _trials(self, adapted: Path | None, heard: Sequence[_Heard], sides: Split) -> list[Trial]:
        engine = PocketSphinxRecogniser(self._lexicon, adapted=adapted)
        engine.use(self._grammar)
        trials: list[Trial] = []
        for place in sides.kept_back:
            said = heard[place]
            for condition, sound in ((QUIET, said.quiet), (NOISY, said.noisy), (LOUD, said.loud)):
                engine.begin()
                engine.feed(sound)
                found = [reading.text for reading in engine.finish(3).hypotheses]
                trials.append(
                    Trial(
                        condition,
                        place in sides.unseen,
                        found.index(said.text) if said.text in found else None,
                        engine.evidence,
                        engine.behind,
                    )
                )
        return trials


def adapted_model(base: AcousticModel, said: Sequence[Alignment]) -> AcousticModel:
    """The model moved to the speaker: one transform for all that was said, then phone by phone."""
    heard: Statistics = nothing_heard(base)
    for each in said:
        heard += accumulate(base, each)
    return map_means(mllr_means(base, heard, leave_out=NOT_SPEECH), heard, TAU)


def _fitting(aligner: Aligner, sound: Samples, text: str) -> Aligned | None:
    try:
        aligned = aligner.align(sound, text)
    except UnknownWordError as error:
        raise GrammarError(error.what, next_step=error.next_step) from error
    return aligned if aligned is not None and aligned.loss <= WORST_LOSS else None


_PINK = -0.5


def _in_noise(track: ReadingTrack, snr_db: float, slope: float, seed: int) -> Samples:
    """The track in steady noise whose amplitude goes as the frequency to the power of `slope`."""
    rng = np.random.default_rng(seed)
    noise = shaped(len(track.samples), rng, lambda f_hz: np.maximum(f_hz, _LOWEST_HZ) ** slope)
    return with_noise(track, np.asarray(unit_rms(noise)), snr_db)


_LOWEST_HZ = 60.0


@cache
def _model() -> AcousticModel:
    return read_acoustic_model(model_folder() / "en-us")


def recordings(folder: Path) -> list[Recording]:
    """The recordings of a folder; see `voice_store.read_recordings`."""
    return read_recordings(folder)
