"""Pure: what speaks for and against a reading, from the decoder's and the phone loop's segments.

An unconstrained phone decoder explains any sound as well as phones can. Running talk is explained
by it much better than by the best phrase of a closed grammar; a phrase that was said is not.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import astuple, dataclass, fields

from rapidfuzz.distance import Levenshtein

from handsfree.speech.phones import VOWELS

#: What an engine writes for silence and noises between words.
_FILLER_MARKS = ("<", "[", "+")
#: How phones are made. The gate was trained with these: changing them means training it again.
_MANNERS = {
    "stop": ["P", "B", "T", "D", "K", "G"],
    "affricate": ["CH", "JH"],
    "fricative": ["F", "V", "TH", "DH", "S", "Z", "SH", "ZH", "HH"],
    "nasal": ["M", "N", "NG"],
    "approximant": ["L", "R", "W", "Y"],
}
_MANNER = {phone: manner for manner, phones in _MANNERS.items() for phone in phones} | dict.fromkeys(
    VOWELS, "vowel"
)
_SILENT_PHONES = frozenset({"SIL", "+SPN+", "+NSN+"})


@dataclass(frozen=True, slots=True)
class Segment:
    """One word, filler or phone with its place in the utterance."""

    label: str
    first_frame: int
    last_frame: int
    """The last frame that belongs to it; frames are 10 ms."""
    score: float
    """Natural-log likelihood of its frames together."""

    @property
    def frames(self) -> int:
        """How many frames it covers."""
        return self.last_frame - self.first_frame + 1

    @property
    def is_filler(self) -> bool:
        """Whether it is silence or noise rather than a word or phone."""
        return self.label.startswith(_FILLER_MARKS) or self.label in _SILENT_PHONES


@dataclass(frozen=True, slots=True)
class Evidence:
    """Figures the gate weighs; all are independent of loudness and nearly so of length."""

    loss_mean: float
    """Phone loop minus phrase, natural log per frame, mean over the frames of the words."""
    loss_worst_word: float
    """The same, in the word that fits worst."""
    phones_per_letter: float
    """Phones the phone loop heard inside the words, per letter of the phrase."""
    phones_outside: float
    """Phones the phone loop heard where the phrase has silence, per phone inside."""
    frames_per_letter: float
    """10 ms frames of the words per letter."""
    slowest_word: float
    """Frames per letter of the most drawn-out word."""
    letters: float
    """Letters of the phrase: a short phrase is easier to hit by chance."""
    misfit: float
    """How much worse the phrase explains its words than the best state of the model in each frame
    would: natural log per frame, 0 or more."""
    phones_apart: float
    """Weighted edit distance between the phones heard inside and those of the phrase, per phone of
    the phrase."""
    margin: float
    """By how much the phrase is likelier than its nearest rival: natural log, whole utterance."""

    def figures(self) -> tuple[float, ...]:
        """The figures in field order."""
        return tuple(float(figure) for figure in astuple(self))


#: The names of the figures, in the order of `Evidence.figures`.
FIGURES = tuple(field.name for field in fields(Evidence))


#: The margin over no rival at all: beyond any that decides something.
NO_RIVAL = 100.0


def weigh(
    phrase: Sequence[Segment],
    phones: Sequence[Segment],
    expected: Sequence[str] = (),
    margin: float = NO_RIVAL,
) -> Evidence | None:
    """The evidence for a phrase's segments against the phone loop's; None without any word.

    Args:
        phrase: The segments of the winning phrase, in time order.
        phones: The segments of the phone loop over the same sound, in time order.
        expected: The phones of the phrase as it was pronounced.
        margin: Log likelihood of the phrase over its nearest rival's.
    """
    words = [segment for segment in phrase if not segment.is_filler and segment.frames > 0]
    letters = sum(_letters(word) for word in words)
    if not letters:
        return None
    losses = [_score_within(phones, word) - word.score for word in words]
    frames = sum(word.frames for word in words)
    heard = [segment for segment in phones if not segment.is_filler]
    within = [phone.label for phone in heard if any(_covers(word, phone) for word in words)]
    inside = len(within)
    return Evidence(
        loss_mean=sum(losses) / frames,
        loss_worst_word=max(loss / word.frames for loss, word in zip(losses, words, strict=True)),
        phones_per_letter=inside / letters,
        phones_outside=(len(heard) - inside) / (inside + 1),
        frames_per_letter=frames / letters,
        slowest_word=max(word.frames / max(1, _letters(word)) for word in words),
        letters=float(letters),
        misfit=-sum(word.score for word in words) / frames,
        phones_apart=_apart(expected, within) / max(1, len(expected)),
        margin=min(margin, NO_RIVAL),
    )


def _letters(word: Segment) -> int:
    return sum(character.isalpha() for character in word.label.split("(")[0])


def _covers(word: Segment, phone: Segment) -> bool:
    middle = (phone.first_frame + phone.last_frame) / 2
    return word.first_frame <= middle <= word.last_frame


def _score_within(phones: Sequence[Segment], word: Segment) -> float:
    """The phone loop's score over the word's frames; phones cut by its edges count in proportion."""
    total = 0.0
    for phone in phones:
        shared = min(phone.last_frame, word.last_frame) - max(phone.first_frame, word.first_frame) + 1
        if shared > 0:
            total += phone.score * shared / phone.frames
    return total


def _apart(first: Sequence[str], second: Sequence[str]) -> float:
    """Edit distance in phones, half for exchanging two made in the same manner.

    Each phone is spelled as its manner and itself; exchanging two of one manner changes one of the
    two symbols.
    """
    spelled = [
        [symbol for phone in phones for symbol in (_MANNER[phone], phone)] for phones in (first, second)
    ]
    return Levenshtein.distance(*spelled) / 2
