"""PocketSphinx decoders set up for short closed phrases in a noisy room. An edge module.

Settings were chosen on development voices in noise: language weight 1, eight Gaussians a codebook,
the model's own noise removal kept, and a cepstral mean taken mostly from the utterance itself. The
benchmark in tests/benchmarks/hearing measures them against the library's own defaults.

`compallsen` has every state of the model scored in every frame. The library takes each frame's best
score off the others; with all states scored that is the same number whatever grammar runs, so the
scores of different passes over one sound can be compared.
"""

from __future__ import annotations

import math
import shutil
import warnings
from collections import OrderedDict
from collections.abc import Mapping
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np

from handsfree.errors import EngineUnavailableError, ModelError
from handsfree.speech.acoustic_files import MEANS_FILE, check_means
from handsfree.speech.evidence import Segment
from handsfree.speech.grammar import Grammar
from handsfree.speech.jsgf import to_jsgf
from handsfree.speech.messages import Samples
from handsfree.speech.phones import Pronunciation

#: Scores are whole numbers, logarithms to the base 1.0001 shifted right by ten bits (SENSCR_SHIFT in
#: PocketSphinx 5), and reach Python as 1.0001 to that power.
_SHIFT = 1 << 10
SCORE_STEP = _SHIFT * math.log(1.0001)
"""One step of the engine's whole-number scores, in natural logarithm."""

#: Cepstral mean to start from before any speech was heard: the average over four synthetic voices in
#: noise after our denoiser. On their first phrases it is worth four points over the model's own.
INITIAL_CMN = "51.82,0.80,1.56,14.30,-3.06,-1.65,-4.08,-9.46,-0.32,-2.47,4.56,1.04,0.51"

_PIECE_SAMPLES = 1600
"""A tenth of a second."""

_SEARCHES_KEPT = 24
"""Compiled grammars kept; the states of a dialogue and their exclusions come back all the time."""

#: A dictionary may not be empty; words come as grammars need them, and this is none of them.
_PLACEHOLDER = "_nothing_ AH\n"


NO_WORDS = b"#JSGF V1.0;\ngrammar nothing;\npublic <nothing> = _nothing_;\n"
"""A grammar that costs next to nothing, for a decoder of which only the features are wanted."""

_CMN_WINDOW = 500
_OWN_SHARE = 0.8
_MEAN_SAMPLES = 29 * 1600
"""2.9 s: the library shortens its memory at 800 frames in all, and then the arithmetic fails."""


def model_folder() -> Path:
    """Where the engine's wheel keeps its own model and dictionary.

    Raises:
        EngineUnavailableError: PocketSphinx, or the model in its wheel, is not installed here.
    """
    try:
        from pocketsphinx import get_model_path  # noqa: PLC0415 - an optional library says so when asked for
    except ImportError as error:
        raise EngineUnavailableError(
            f"the embedded recogniser cannot be loaded ({error})",
            next_step="install it: pip install pocketsphinx",
        ) from error
    folder = Path(get_model_path()) / "en-us"
    if not (folder / "en-us" / "mdef").is_file():
        raise EngineUnavailableError(
            f"the embedded recogniser has no English model in {folder}",
            next_step="install it again: pip install --force-reinstall pocketsphinx",
        )
    return folder


def base_dictionary() -> Path:
    """The engine's own dictionary in CMUdict form without stress.

    Raises:
        EngineUnavailableError: PocketSphinx, or the model in its wheel, is not installed here.
    """
    return model_folder() / "cmudict-en-us.dict"


class SphinxDecoder:
    """What phrase and phone decoding share: the model, the feature settings, one utterance at a time.

    Args:
        adapted: A folder whose files take the place of the model's own of the same name (a speaker's
            `means`); None for the model as it comes.
        **settings: Of the library.

    Raises:
        EngineUnavailableError: The library is not installed.
        ModelError: The model cannot be loaded, or the speaker's files are damaged.
    """

    def __init__(self, adapted: Path | None = None, **settings: Any) -> None:
        folder = model_folder()
        if adapted is not None and (adapted / MEANS_FILE).is_file():
            check_means(adapted / MEANS_FILE, folder / "en-us")
        self._waiting = np.zeros(0, np.int16)
        from pocketsphinx import Decoder  # noqa: PLC0415 - model_folder has said what is missing

        with TemporaryDirectory(prefix="handsfree-model-") as scratch:
            model = Path(scratch) / "model"
            _copy_with_live_mean(folder / "en-us", model, adapted)
            dictionary = Path(scratch) / "words.dict"
            dictionary.write_text(_PLACEHOLDER, encoding="utf-8")
            try:
                # loglevel: the library prints to standard error; failures still raise.
                asked = {"topn": 8, **settings}
                self._decoder = Decoder(
                    hmm=str(model), dict=str(dictionary), lm=None, loglevel="FATAL", **asked
                )
            except (RuntimeError, ValueError) as error:
                raise ModelError(
                    f"the embedded recogniser's model in {folder} cannot be loaded ({error})",
                    next_step="install it again: pip install --force-reinstall pocketsphinx",
                ) from error

    def begin(self, cmn: str) -> None:
        """Start an utterance with this cepstral mean, so that the same sound gives the same result."""
        self._waiting = np.zeros(0, np.int16)
        with warnings.catch_warnings():
            # Said to be unnecessary; without it the noise removal goes on from the utterance before,
            # and a second pass over the same sound scores it otherwise.
            warnings.simplefilter("ignore", DeprecationWarning)
            self._decoder.start_stream()
        self._decoder.set_cmn(cmn)
        self._decoder.start_utt()

    def feed(self, samples: Samples) -> None:
        """The next samples of the utterance."""
        # Scores depend a little on how the sound is cut, so the library always gets the same pieces.
        sound = np.concatenate([self._waiting, samples])
        whole = len(sound) // _PIECE_SAMPLES * _PIECE_SAMPLES
        for start in range(0, whole, _PIECE_SAMPLES):
            self._decoder.process_raw(sound[start : start + _PIECE_SAMPLES].tobytes())
        self._waiting = sound[whole:]

    def end(self) -> None:
        """No more samples come."""
        if len(self._waiting):
            self._decoder.process_raw(self._waiting.tobytes())
        self._decoder.end_utt()

    def cmn(self) -> str:
        """The cepstral mean, this utterance counted in."""
        return str(self._decoder.get_cmn(True))

    @property
    def frames(self) -> int:
        """Frames of 10 ms decoded in this utterance."""
        return int(self._decoder.n_frames())

    def text(self) -> str:
        """The best path's words, empty when no path reached the end."""
        best = self._decoder.hyp()
        return str(best.hypstr) if best is not None else ""

    def score(self) -> float:
        """Natural-log likelihood of the best path."""
        best = self._decoder.hyp()
        return _natural_log(best.score) if best is not None else -math.inf

    def segments(self) -> list[Segment]:
        """The best path in pieces, in time order."""
        if self._decoder.hyp() is None:
            return []
        return [
            Segment(str(piece.word), int(piece.start_frame), int(piece.end_frame), _natural_log(piece.ascore))
            for piece in self._decoder.seg()
            if piece.word not in ("<s>", "</s>")
        ]


class PhraseDecoder(SphinxDecoder):
    """Decodes the phrases of a grammar; compiled grammars are kept, swapping is cheap.

    Args:
        adapted: See `SphinxDecoder`.

    Raises:
        EngineUnavailableError: The library is not installed.
        ModelError: The model cannot be loaded.
    """

    def __init__(self, adapted: Path | None = None) -> None:
        # bestpath: the lattice rescoring ends in phrases that are only begun, and doubles the work.
        super().__init__(adapted, lw=1.0, bestpath=False, compallsen=True)
        self._known: set[str] = set()
        self._searches: OrderedDict[Grammar, str] = OrderedDict()
        self._made = 0

    def learn(self, pronunciations: Mapping[str, tuple[Pronunciation, ...]]) -> None:
        """Add words and the ways to say them; words already known keep theirs."""
        for word, ways in pronunciations.items():
            if word in self._known:
                continue
            for number, phones in enumerate(ways, 1):
                head = word if number == 1 else f"{word}({number})"
                self._decoder.add_word(head, " ".join(phones), False)
            self._known.add(word)

    def use(self, grammar: Grammar) -> None:
        """Decode this grammar from the next `begin` on; its words must have been learned.

        Raises:
            ModelError: The library cannot compile it.
        """
        name = self._searches.get(grammar)
        if name is None:
            name = self._compile(grammar)
        self._searches.move_to_end(grammar)
        self._decoder.activate_search(name)

    def _compile(self, grammar: Grammar) -> str:
        self._made += 1
        name = f"grammar{self._made}"
        try:
            self._decoder.add_jsgf_string(name, to_jsgf(grammar).encode())
        except (RuntimeError, ValueError) as error:
            raise ModelError(
                f"the recogniser cannot compile the grammar {grammar.name!r} ({error})",
                next_step="check the words of the cut list and commands with `handsfree grammar check`",
            ) from error
        self._searches[grammar] = name
        if len(self._searches) > _SEARCHES_KEPT:
            _, oldest = self._searches.popitem(last=False)
            if oldest != self._decoder.current_search():
                self._decoder.remove_search(oldest)
        return name


class PhoneDecoder(SphinxDecoder):
    """Decodes any sound as phones, for comparison.

    Args:
        adapted: See `SphinxDecoder`.

    Raises:
        EngineUnavailableError: The library is not installed.
        ModelError: The model cannot be loaded.
    """

    def __init__(self, adapted: Path | None = None) -> None:
        super().__init__(
            adapted, lw=2.0, allphone=str(model_folder() / "en-us-phone.lm.bin"), compallsen=True, topn=2
        )
        self._sound: tuple[Samples, str] | None = None

    def listen(self, sound: Samples, cmn: str) -> None:
        """See `Phones.listen`; decoded when asked for, so that nothing is where nobody asks."""
        self._sound = (sound, cmn)

    def segments(self) -> list[Segment]:
        """See `Phones.segments`."""
        if self._sound is not None:
            sound, cmn = self._sound
            self._sound = None
            self.begin(cmn)
            self.feed(sound)
            self.end()
        return super().segments()


class MeanListener(SphinxDecoder):
    """Listens along for the cepstral mean of an utterance; decodes next to nothing.

    Args:
        adapted: See `SphinxDecoder`.

    Raises:
        EngineUnavailableError: The library is not installed.
        ModelError: The model cannot be loaded.
    """

    def __init__(self, adapted: Path | None = None) -> None:
        super().__init__(adapted, topn=1, ds=4)
        self._decoder.add_jsgf_string("nothing", NO_WORDS)
        self._decoder.activate_search("nothing")
        self._left = 0

    def begin(self, cmn: str = INITIAL_CMN) -> None:
        """Start an utterance."""
        super().begin(cmn)
        self._left = _MEAN_SAMPLES

    def feed(self, samples: Samples) -> None:
        """The next samples; past the first 2.9 s they no longer count."""
        super().feed(samples[: self._left])
        self._left -= min(self._left, len(samples))

    def mean(self) -> str:
        """After `end`: the mean to decode the utterance with, mostly its own.

        Four fifths of the utterance's mean and one of `INITIAL_CMN`: chosen on real people's words
        of the development half, where it is worth four to eight points over the latter alone.
        """
        started = np.array([float(value) for value in INITIAL_CMN.split(",")])
        now = np.array([float(value) for value in self.cmn().split(",")])
        frames = max(1, self.frames)
        # The library's mean so far counts what it started from as 500 frames (CMN_WIN).
        own = now + (now - started) * _CMN_WINDOW / frames
        used = _OWN_SHARE * own + (1.0 - _OWN_SHARE) * started
        return ",".join(f"{value:.2f}" for value in used)


def _copy_with_live_mean(source: Path, target: Path, adapted: Path | None = None) -> None:
    # The model's feat.params overrides what a decoder is asked for, so the model gets another one:
    # "batch" would need the whole utterance before the first frame could be decoded.
    target.mkdir()
    for own in source.iterdir():
        file = adapted / own.name if adapted is not None and (adapted / own.name).is_file() else own
        if file.name == "feat.params":
            text = file.read_text(encoding="utf-8").replace("-cmn batch", "-cmn live")
            (target / file.name).write_text(text, encoding="utf-8")
            continue
        try:
            (target / file.name).symlink_to(file)
        except OSError:  # a system without links
            shutil.copyfile(file, target / file.name)


def _natural_log(score: float) -> float:
    return math.log(score) * _SHIFT if score > 0 else -math.inf
