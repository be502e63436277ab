"""Reading at the microphone: prompts shown and said, good takes on disk, its own prompt never taken."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np

from handsfree.answering.speaker import Answerer
from handsfree.speech.denoise_none import NoDenoiser
from handsfree.speech.endpointing import Endpointer
from handsfree.speech.enrolment import Enrolment
from handsfree.speech.hearing import SpeechParts
from handsfree.speech.messages import AudioBlock, Samples
from handsfree.speech.reading import Reading
from handsfree.speech.voice_store import VoiceStore, read_recordings
from handsfree.testing.loudness_activity import LoudnessActivity
from handsfree.testing.making_sound import in_blocks, silence, tone
from handsfree.testing.manual_clock import ManualClock
from handsfree.testing.scripted_voice import ScriptedVoice
from handsfree.testing.silent_output import SilentOutput
from handsfree.wiring.reading_aloud import lead_through

PHRASES = ["left haunch", "two shanks", "ledger total"]


class Mouth:
    """A microphone that hears what it is given; before each stretch the prompts waiting are played."""

    name = "scripted microphone"

    def __init__(self, stretches: list[Samples], answerer: Answerer | None) -> None:
        self._stretches = stretches
        self._answerer = answerer
        self.clock = ManualClock()

    def blocks(self) -> Iterator[AudioBlock]:
        at_ns = 0
        for sound in self._stretches:
            while self._answerer is not None and self._answerer.work():
                pass
            for block in in_blocks(sound, start_ns=at_ns):
                yield block
                at_ns = block.end_ns

    def close(self) -> None: ...


def read(
    tmp_path: Path, stretches: list[Samples], answerer: Answerer | None = None
) -> tuple[list[str], VoiceStore, Enrolment]:
    store = VoiceStore(tmp_path)
    store.begin("Morag")
    enrolment = Enrolment(PHRASES)
    parts = SpeechParts(NoDenoiser(), Endpointer(LoudnessActivity()))
    reading = Reading(enrolment, parts, lambda _sound, _phrase: True)
    told: list[str] = []
    lead_through("Morag", enrolment, reading, Mouth(stretches, answerer), store, answerer, told.append)
    return told, store, enrolment


def word(seconds: float = 0.8, amplitude: float = 8_000.0) -> Samples:
    return np.concatenate([silence(0.8), tone(seconds, amplitude=amplitude), silence(0.8)])


def test_every_phrase_is_shown_and_its_take_kept_with_its_text(tmp_path: Path) -> None:
    told, store, enrolment = read(tmp_path, [word()] * 3)
    assert told == [
        " 1 of 3   left haunch",
        " 2 of 3   two shanks",
        " 3 of 3   ledger total",
        "3 phrases kept, 0 left out.",
    ]
    assert enrolment.phrase is None
    assert [each.text for each in read_recordings(store.recordings_of("Morag"))] == PHRASES


def test_a_take_too_short_for_its_phrase_is_asked_for_again(tmp_path: Path) -> None:
    told, store, _ = read(tmp_path, [word(0.2), word(), word(), word()])
    assert told[1] == " 1 of 3   left haunch  (again: too short for this phrase)"
    assert len(read_recordings(store.recordings_of("Morag"))) == 3


def test_what_was_read_before_the_sound_ended_is_kept(tmp_path: Path) -> None:
    _, store, enrolment = read(tmp_path, [word()])
    assert enrolment.phrase == "two shanks"
    assert [each.text for each in read_recordings(store.recordings_of("Morag"))] == ["left haunch"]


def test_the_prompts_are_said_and_sound_under_them_is_no_take(tmp_path: Path) -> None:
    clock = ManualClock()
    voice = ScriptedVoice()
    # The clock stands still: the first prompt, of a second and a half, lies over the first stretch.
    answerer = Answerer(voice, SilentOutput(), clock)
    first = np.concatenate([silence(0.1), tone(0.8), silence(2.0)])
    told, store, enrolment = read(tmp_path, [first, word()], answerer)
    assert voice.said[0] == "say left haunch"
    assert told[:2] == [" 1 of 3   left haunch", " 2 of 3   two shanks"]
    assert enrolment.phrase == "two shanks"
    assert len(read_recordings(store.recordings_of("Morag"))) == 1
