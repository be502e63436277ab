"""What the sound path needs from the outside, as protocols. Contract suites: `handsfree.testing`."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Protocol

from handsfree.speech.evidence import Segment
from handsfree.speech.grammar import Grammar
from handsfree.speech.messages import AudioBlock, Hypothesis, Samples


class SoundSource(Protocol):
    """A microphone or a sound file, as blocks of mono 16-bit sound at 16 kHz."""

    @property
    def name(self) -> str:
        """What it is, for messages to people."""
        ...

    def blocks(self) -> Iterator[AudioBlock]:
        """Blocks in time order; ends when the sound ends.

        Raises:
            MicrophoneError: The device is missing, refused, or went away.
            AudioFileError: The file is missing, empty, truncated or no sound file.
        """
        ...

    def close(self) -> None:
        """Stop and free the device; `blocks` ends soon after. Safe to call twice."""
        ...


class Denoiser(Protocol):
    """Takes steady and unsteady noise out of sound, block by block, keeping the time stamps."""

    @property
    def name(self) -> str:
        """What it is, for tables and messages."""
        ...

    def feed(self, block: AudioBlock) -> list[AudioBlock]:
        """Denoised blocks that are ready; stamped with the time of the sound they carry."""
        ...

    def flush(self) -> list[AudioBlock]:
        """What is still held back at the end of the sound."""
        ...


class VoiceActivityDetector(Protocol):
    """Says how likely a short chunk of sound is speech."""

    @property
    def chunk_samples(self) -> int:
        """How many samples at 16 kHz one `probability` call takes."""
        ...

    def probability(self, chunk: Samples) -> float:
        """Probability of speech, 0 to 1, in exactly `chunk_samples` samples; keeps state."""
        ...

    def reset(self) -> None:
        """Forget what was heard so far."""
        ...


@dataclass(frozen=True, slots=True)
class Recognition:
    """What an engine made of one utterance."""

    hypotheses: tuple[Hypothesis, ...]
    """Best first, distinct texts, each a phrase of the grammar in use; empty when nothing fits."""
    confidence: float
    """0 to 1: how likely the best reading is right and the sound is a phrase at all."""
    own_voice: bool = False
    """Whether it was heard through a model of the speaker's own voice: it is then more to be believed, by
    what weighs it against others, than the same figures without."""
    settled: bool = False
    """Whether the engine is so sure, through such a model, that another ear is not asked."""


class Phones(Protocol):
    """Decodes any sound as phones; asked once for each sound that it was given."""

    def listen(self, sound: Samples, cmn: str) -> None:
        """Decode this whole utterance, at once or when asked for it.

        Args:
            sound: Denoised, int16 at 16 kHz.
            cmn: The cepstral mean to decode it with, as the engine writes it.
        """
        ...

    def segments(self) -> list[Segment]:
        """The phones of the sound given last, in time order."""
        ...


class Recogniser(Protocol):
    """A speech engine with a closed grammar, fed while the word is spoken.

    Use: `use(grammar)`, then for each utterance `begin()`, `feed(samples)` any number of times,
    `finish()`. `use` may be called between utterances; it must be cheap.
    """

    @property
    def name(self) -> str:
        """Which engine and model, for tables and messages."""
        ...

    def use(self, grammar: Grammar) -> None:
        """Listen for the phrases of this grammar from the next `begin` on.

        Raises:
            UnknownWordError: A word has no pronunciation in the lexicon or model; names all of them.
        """
        ...

    def begin(self) -> None:
        """Start an utterance."""
        ...

    def feed(self, samples: Samples, captured: Samples | None = None) -> None:
        """The next samples of the utterance.

        Args:
            samples: Denoised, int16 at 16 kHz.
            captured: The same stretch before the denoiser, of the same length, for an engine that bears
                noise better than a filter's traces; None where there is none.
        """
        ...

    def finish(self, alternatives: int = 3) -> Recognition:
        """End the utterance and say what it was, with up to `alternatives` readings."""
        ...

    def listen_to(self, butcher: str) -> None:
        """Hear this butcher from the next `begin` on; an empty name is anybody.

        An engine that has one ear for all takes no notice.
        """
        ...

    def missing_words(self, words: Sequence[str]) -> list[str]:
        """Those of `words` the engine cannot pronounce, in the order given."""
        ...
