from dataclasses import replace

from handsfree.speech.messages import Refusal, Utterance, VoiceFigures
from handsfree.speech.sound_level import SoundNotice, SoundTrouble
from handsfree.speech.speech_watch import SpeechWatch

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
