"""Pure: tells from the wearer's own calls that the microphone slipped away or got wet.

Only what sounds like a call counts: people across the room are fainter too, and no reason to tell the
wearer to come closer. Everything is held against what this session had before.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from statistics import median

from handsfree.speech.messages import Refusal, Utterance, VoiceFigures
from handsfree.speech.sound_level import SoundNotice, SoundTrouble

_NO_SPEECH = frozenset({Refusal.TOO_LONG, Refusal.OWN_VOICE, Refusal.BAD_SOUND})


@dataclass(frozen=True, slots=True)
class SpeechWatchSettings:
    """When to speak up.

    Medians are held against each other, as one person's single words differ by 2 to 6 dB of active
    level (standard deviation, real recordings) and by 5 to 8 dB of brightness with the sounds they are
    made of. With these settings 96 runs of 80 words each, drawn from what 24 real people said, gave no
    false "far" and one false "muffled"; 16 dB less, or a second-order low-pass at 1 kHz, was told in all.
    """

    like_a_call: float = 0.25
    """Least confidence of an utterance that is taken for the wearer's."""
    recent: int = 8
    """Utterances that are looked at together."""
    usual: int = 12
    """Utterances before these from which on the usual is known."""
    remembered: int = 60
    """Utterances the usual is made of at most."""
    fainter_db: float = 10.0
    """Drop of the level: three times the distance by the law of distance in the open, 20 lg 3 = 9.5."""
    faintest_db: float = -50.0
    """Active level too low whatever was usual: 24 dB under the nominal -26 dBov of ITU-T G.191."""
    duller_db: float = 14.0
    """Drop of brightness; a second-order low-pass at 1.2 kHz takes 17 to 27 dB from synthetic voices."""
    back_db: float = 4.0
    """How much nearer than at its beginning to the usual a trouble must come to be over."""


class SpeechWatch:
    """Watches how the wearer's utterances sound.

    Args:
        settings: When to speak up.
    """

    def __init__(self, settings: SpeechWatchSettings | None = None) -> None:
        self._settings = settings or SpeechWatchSettings()
        self._recent: deque[VoiceFigures] = deque(maxlen=self._settings.recent)
        self._usual: deque[VoiceFigures] = deque(maxlen=self._settings.remembered)
        self._troubles: set[SoundTrouble] = set()

    @property
    def troubles(self) -> frozenset[SoundTrouble]:
        """What is wrong at the moment."""
        return frozenset(self._troubles)

    def feed(self, utterance: Utterance) -> list[SoundNotice]:
        """What began or ended with this utterance."""
        figures = utterance.figures
        if figures is None or utterance.refusal in _NO_SPEECH:
            return []
        if utterance.confidence < self._settings.like_a_call:
            return []
        if len(self._recent) == self._recent.maxlen and not self._troubles:
            # What is wrong must not become what is usual.
            self._usual.append(self._recent[0])
        self._recent.append(figures)
        if len(self._recent) < self._settings.recent:
            return []
        notices = [
            *self._judge(SoundTrouble.FAR, self._far, utterance.heard_ns),
            *self._judge(SoundTrouble.MUFFLED, self._muffled, utterance.heard_ns),
        ]
        if any(not notice.began for notice in notices) and not self._troubles:
            self._recent.clear()
        return notices

    def _judge(self, trouble: SoundTrouble, by: Callable[[float], bool], t_ns: int) -> list[SoundNotice]:
        was = trouble in self._troubles
        there = by(self._settings.back_db if was else 0.0)
        if there == was:
            return []
        (self._troubles.add if there else self._troubles.discard)(trouble)
        return [SoundNotice(t_ns, trouble, there, median(each.level_db for each in self._recent))]

    def _far(self, eased_db: float) -> bool:
        now_db = median(each.level_db for each in self._recent)
        limit_db = self._settings.faintest_db
        if len(self._usual) >= self._settings.usual:
            usual_db = median(each.level_db for each in self._usual)
            limit_db = max(limit_db, usual_db - self._settings.fainter_db)
        return now_db < limit_db + eased_db

    def _muffled(self, eased_db: float) -> bool:
        if len(self._usual) < self._settings.usual:
            return False
        now_db = median(each.brightness_db for each in self._recent)
        usual_db = median(each.brightness_db for each in self._usual)
        return now_db < usual_db - self._settings.duller_db + eased_db
