import random
from collections import defaultdict
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import soundfile
from scipy.signal import butter, sosfilt

from handsfree.speech.messages import Refusal, Samples, Utterance, VoiceFigures
from handsfree.speech.sound_level import SoundNotice, SoundTrouble
from handsfree.speech.speech_meter import SpeechMeter
from handsfree.speech.speech_watch import SpeechWatch
from handsfree.testing.words_in_noise import real_data

CALL = Utterance(0, 1, 2, (), 0.9)
FAR, MUFFLED = SoundTrouble.FAR, SoundTrouble.MUFFLED


def calls(count: int, level_db: float = -26.0, brightness_db: float = -12.0) -> list[Utterance]:
    """So many calls that differ by 3 dB up and down, as people's do."""
    return [
        replace(
            CALL,
            heard_ns=number,
            figures=VoiceFigures(level_db + 3 * (number % 3 - 1), brightness_db + 3 * (number % 3 - 1)),
        )
        for number in range(count)
    ]


def told(watch: SpeechWatch, utterances: list[Utterance]) -> list[tuple[SoundTrouble, bool]]:
    notices: list[SoundNotice] = [notice for each in utterances for notice in watch.feed(each)]
    return [(notice.trouble, notice.began) for notice in notices]


def test_calls_as_usual_are_nothing_to_tell() -> None:
    watch = SpeechWatch()
    assert told(watch, calls(100)) == []
    assert watch.troubles == frozenset()


def test_a_microphone_that_slipped_away_is_told_once_and_taken_back() -> None:
    watch = SpeechWatch()
    assert told(watch, calls(30)) == []
    # Five times the distance: 20 lg 5 = 14 dB less.
    assert told(watch, calls(30, -40.0)) == [(FAR, True)]
    assert watch.troubles == {FAR}
    assert told(watch, calls(10)) == [(FAR, False)]
    assert told(watch, calls(30)) == []


def test_what_is_wrong_for_long_does_not_become_the_usual() -> None:
    watch = SpeechWatch()
    assert told(watch, calls(30) + calls(200, -40.0)) == [(FAR, True)]


def test_a_few_faint_calls_are_no_trouble() -> None:
    assert told(SpeechWatch(), calls(30) + calls(3, -44.0) + calls(30)) == []


def test_a_microphone_far_away_from_the_beginning_is_told_too() -> None:
    assert told(SpeechWatch(), calls(8, -56.0)) == [(FAR, True)]


def test_a_wet_microphone_is_told_once_and_taken_back() -> None:
    watch = SpeechWatch()
    assert told(watch, calls(30) + calls(20, brightness_db=-30.0)) == [(MUFFLED, True)]
    assert told(watch, calls(20)) == [(MUFFLED, False)]


def test_people_across_the_room_are_no_reason_to_come_closer() -> None:
    talk = [
        replace(each, confidence=0.05, refusal=Refusal.NOT_LIKE_SPEECH_WE_KNOW) for each in calls(50, -45.0)
    ]
    assert told(SpeechWatch(), calls(30) + talk + calls(5)) == []


def test_the_recorders_own_voice_and_typed_words_are_not_judged() -> None:
    own = [replace(each, refusal=Refusal.OWN_VOICE) for each in calls(50, -60.0)]
    typed = [replace(each, figures=None) for each in calls(50)]
    assert told(SpeechWatch(), own + typed) == []


def real_people() -> dict[str, list[Path]]:
    """Speaker -> twelve recordings, of the people who said so many words."""
    by: dict[str, list[Path]] = defaultdict(list)
    for file in sorted((real_data() / "words").glob("*/*.wav")):
        by[file.name[:8]].append(file)
    return {speaker: files[:12] for speaker, files in by.items() if len(files) >= 12}


def spoken(samples: Samples) -> Utterance:
    meter = SpeechMeter()
    meter.feed(samples)
    return replace(CALL, figures=meter.figures())


def test_real_people_are_told_of_a_wet_or_far_microphone_when_it_is_and_only_then() -> None:
    people = real_people()
    if not people:
        pytest.skip(f"no real recordings in {real_data()}; set HANDSFREE_REAL_DATA")
    under_water = butter(2, 1_000.0, fs=16_000, output="sos")
    for speaker, files in people.items():
        sounds = [soundfile.read(file, dtype="int16")[0] for file in files]
        dry = [spoken(sound) for sound in sounds]
        far = [spoken((sound * 0.1).astype(np.int16)) for sound in sounds]
        wet = [spoken(sosfilt(under_water, sound).astype(np.int16)) for sound in sounds]
        order = random.Random(speaker).choices(range(len(files)), k=60)
        usual = [dry[number] for number in order]
        assert told(SpeechWatch(), usual) == [], speaker
        assert (FAR, True) in told(SpeechWatch(), usual + [far[number] for number in order[:20]]), speaker
        assert (MUFFLED, True) in told(SpeechWatch(), usual + [wet[number] for number in order[:20]]), speaker
