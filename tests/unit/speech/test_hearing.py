import collections

import numpy as np
import pytest

from handsfree.errors import AudioFileError, UnknownWordError
from handsfree.speech.ahead import listened, listened_ahead
from handsfree.speech.denoise_none import NoDenoiser
from handsfree.speech.endpointing import Endpointer
from handsfree.speech.grammar import Grammar
from handsfree.speech.hearing import GRAVE_VERBS, Hearing, Listener, SpeechParts, Thresholds
from handsfree.speech.meaning import Answer, Call, Command, Verb
from handsfree.speech.messages import AudioBlock, Hypothesis, Refusal, Samples, SoundFlags, Utterance
from handsfree.speech.ports import Recognition
from handsfree.testing.loudness_activity import LoudnessActivity
from handsfree.testing.making_sound import in_blocks, silence, tone
from handsfree.testing.scripted_recogniser import ScriptedRecogniser

CALLS = Grammar.from_phrases("calls", ["haunch", "left haunch", "loin"])
OTHERS = Grammar.from_phrases("others", ["shank"])


def words(count: int, word_s: float = 0.5) -> Samples:
    """So many loud words, a second of silence around each."""
    return np.concatenate([silence(1.0), *[tone(word_s), silence(1.0)] * count])


def hear(recogniser: ScriptedRecogniser, blocks: list[AudioBlock], **settings: Thresholds) -> list[Utterance]:
    hearing = Hearing(NoDenoiser(), Endpointer(LoudnessActivity()), recogniser, CALLS, **settings)
    return [u for block in blocks for u in hearing.feed(block)] + hearing.flush()


def test_each_word_is_an_utterance_with_times_from_the_sample_count() -> None:
    heard = hear(ScriptedRecogniser(["haunch", "loin"]), in_blocks(words(2)))
    assert [u.text for u in heard] == ["haunch", "loin"]
    assert [u.refusal for u in heard] == [None, None]
    # Loud from 1.0 to 1.5 s: the chunks 31 (0.992 s) to 46 (ending 1.504 s) are loud.
    assert heard[0].start_ns == 992_000_000 - 250_000_000
    assert heard[0].end_ns == 1_504_000_000
    assert heard[0].heard_ns == 1_504_000_000 + 320_000_000


def test_the_engine_is_asked_after_a_short_quiet_and_the_rest_of_the_quiet_is_waited_for() -> None:
    recogniser = ScriptedRecogniser(["haunch"])
    (heard,) = hear(recogniser, in_blocks(words(1)))
    # Loud to 1.504 s; 0.15 s of quiet are full with the fifth chunk, at 1.664 s, 0.32 s with the tenth.
    assert recogniser.heard == [("calls", (1_664_000_000 - heard.start_ns) // 62_500)]
    assert heard.heard_ns == 1_824_000_000


def test_speech_that_goes_on_after_a_short_quiet_is_given_whole() -> None:
    sound = np.concatenate([silence(1.0), tone(0.5), silence(0.2), tone(0.5), silence(1.0)])
    recogniser = ScriptedRecogniser(["left", "left haunch"])
    (heard,) = hear(recogniser, in_blocks(sound))
    assert heard.text == "left haunch"
    first, second = (count for _, count in recogniser.heard)
    assert first == (1_664_000_000 - heard.start_ns) // 62_500
    # The second word is loud to 2.208 s; its own short quiet is full at 2.368 s.
    assert second == (2_368_000_000 - heard.start_ns) // 62_500


def test_a_long_segment_is_decoded_once_when_it_is_over() -> None:
    sound = np.concatenate([silence(1.0), tone(2.6), silence(0.2), tone(0.3), silence(1.0)])
    recogniser = ScriptedRecogniser(["haunch"])
    (heard,) = hear(recogniser, in_blocks(sound))
    assert recogniser.heard == [("calls", (heard.heard_ns - heard.start_ns) // 62_500)]


def test_a_grammar_given_while_the_quiet_is_waited_for_is_used_from_the_next_word_on() -> None:
    recogniser = ScriptedRecogniser(["haunch", "shank"])
    hearing = Hearing(NoDenoiser(), Endpointer(LoudnessActivity()), recogniser, CALLS)
    for block in in_blocks(words(2)):
        hearing.feed(block)
        if block.t_ns >= 1_700_000_000:
            hearing.use(OTHERS)
    assert [name for name, _ in recogniser.heard] == ["calls", "others"]


def test_no_reading_is_not_in_the_grammar() -> None:
    assert [u.refusal for u in hear(ScriptedRecogniser(), in_blocks(words(1)))] == [Refusal.NOT_IN_GRAMMAR]


def test_a_reading_that_is_no_phrase_is_not_in_the_grammar() -> None:
    heard = hear(ScriptedRecogniser(["haunch loin"]), in_blocks(words(1)))
    assert [(u.text, u.refusal) for u in heard] == [("haunch loin", Refusal.NOT_IN_GRAMMAR)]


def test_low_confidence_is_not_like_speech_we_know() -> None:
    heard = hear(ScriptedRecogniser(["haunch"], confidence=0.2), in_blocks(words(1)))
    assert [(u.text, u.refusal) for u in heard] == [("haunch", Refusal.NOT_LIKE_SPEECH_WE_KNOW)]


def test_running_talk_is_too_long_and_no_words_are_forced_onto_it() -> None:
    heard = hear(ScriptedRecogniser(["haunch", "loin"]), in_blocks(words(1, word_s=6.0)))
    assert [(u.text, u.refusal) for u in heard] == [("", Refusal.TOO_LONG)]


@pytest.mark.parametrize(
    ("flag", "refusal"),
    [
        (SoundFlags.OWN_VOICE, Refusal.OWN_VOICE),
        (SoundFlags.GAP, Refusal.BAD_SOUND),
        (SoundFlags.OVERFLOW, Refusal.BAD_SOUND),
        (SoundFlags.OVERFLOW | SoundFlags.OWN_VOICE, Refusal.OWN_VOICE),
    ],
)
def test_flagged_sound_is_refused_with_its_reading(flag: SoundFlags, refusal: Refusal) -> None:
    blocks = in_blocks(words(2))
    at = 60  # 1.2 s: inside the first word
    blocks[at] = AudioBlock(blocks[at].t_ns, blocks[at].samples, flag)
    heard = hear(ScriptedRecogniser(["haunch", "loin"]), blocks)
    assert [(u.text, u.refusal, u.flags) for u in heard] == [
        ("haunch", refusal, flag),
        ("loin", None, SoundFlags.NONE),
    ]


@pytest.mark.parametrize(
    # The word begins at 1.0 s. People reply 0.2 s after a question ends (Stivers et al. 2009); the own voice
    # is flagged for a quarter of a second beyond its last sample.
    ("until_s", "refusal"),
    [(0.9, None), (1.05, None), (1.15, None), (1.6, Refusal.OWN_VOICE)],
)
def test_a_reply_as_quick_as_people_reply_is_not_the_own_voice(
    until_s: float, refusal: Refusal | None
) -> None:
    blocks = [
        AudioBlock(each.t_ns, each.samples, SoundFlags.OWN_VOICE) if each.t_ns < until_s * 1e9 else each
        for each in in_blocks(words(1))
    ]
    (heard,) = hear(ScriptedRecogniser(["haunch"]), blocks)
    assert heard.refusal is refusal


COMMAND = Hypothesis("ledger strike that", Command(Verb.STRIKE), -1.0)


class Commanding(ScriptedRecogniser):
    """Hears the same command every time, this sure of it."""

    def finish(self, alternatives: int = 3) -> Recognition:
        return Recognition((COMMAND,), self.sure)


@pytest.mark.parametrize(("sure", "refusal"), [(0.7, None), (0.5, Refusal.OWN_VOICE)])
def test_a_command_may_be_said_over_an_answer_when_it_is_heard_well(
    sure: float, refusal: Refusal | None
) -> None:
    blocks = [AudioBlock(each.t_ns, each.samples, SoundFlags.OWN_VOICE) for each in in_blocks(words(1))]
    recogniser = Commanding()
    recogniser.sure = sure
    (heard,) = hear(recogniser, blocks, thresholds=Thresholds(grave_command=0.45))
    assert heard.refusal is refusal
    assert heard.flags == SoundFlags.OWN_VOICE


def test_a_grammar_is_used_from_the_next_utterance() -> None:
    recogniser = ScriptedRecogniser(["haunch", "shank", "shank"])
    hearing = Hearing(NoDenoiser(), Endpointer(LoudnessActivity()), recogniser, CALLS)
    blocks = in_blocks(words(3))
    for block in blocks:
        if block.t_ns == 1_200_000_000:  # the first word is being said
            hearing.use(OTHERS)
        hearing.feed(block)
    assert [name for name, _ in recogniser.heard] == ["calls", "others", "others"]


def test_of_two_grammars_during_one_word_the_later_counts() -> None:
    recogniser = ScriptedRecogniser(["haunch", "haunch"])
    hearing = Hearing(NoDenoiser(), Endpointer(LoudnessActivity()), recogniser, CALLS)
    for block in in_blocks(words(2)):
        if block.t_ns == 1_200_000_000:
            hearing.use(OTHERS)
            hearing.use(CALLS)
        hearing.feed(block)
    assert [name for name, _ in recogniser.heard] == ["calls", "calls"]


def test_a_word_that_cannot_be_pronounced_is_an_error_at_once() -> None:
    with pytest.raises(UnknownWordError, match="haunch"):
        hear(ScriptedRecogniser(unknown=["haunch"]), [])


@pytest.mark.parametrize("verb", [Verb.CLOSE_CARCASS, Verb.STRIKE, Verb.DRESSED_WEIGHT])
def test_grave_commands_need_more_certainty_than_calls(verb: Verb) -> None:
    thresholds = Thresholds()
    assert verb in GRAVE_VERBS
    assert (
        thresholds.least(Command(verb))
        > thresholds.least(Command(Verb.TOTAL))
        > thresholds.least(Call("loin"))
    )
    assert thresholds.least(Answer.YES) == thresholds.answer


def test_the_meaning_decides_the_threshold() -> None:
    def reading(meaning: Call | Command) -> Recognition:
        return Recognition((Hypothesis("x", meaning, 0.0),), 0.5)

    script = [reading(Call("loin")), reading(Command(Verb.CLOSE_CARCASS))]
    heard = hear(ScriptedRecogniser(script), in_blocks(words(2)))
    assert [u.accepted for u in heard] == [True, False]


@pytest.mark.parametrize("own_voice", [True, False])
def test_a_call_through_a_voice_of_its_own_has_a_threshold_of_its_own(own_voice: bool) -> None:
    heard = [
        Recognition((Hypothesis("x", meaning, 0.0),), 0.5, own_voice)
        for meaning in (Call("loin"), Command(Verb.TOTAL))
    ]
    thresholds = Thresholds(call=0.45, own_voice_call=0.55, command=0.47)
    found = hear(ScriptedRecogniser(heard), in_blocks(words(2)), thresholds=thresholds)
    assert [utterance.accepted for utterance in found] == [not own_voice, True]


def test_both_halves_together_hear_what_the_whole_hears() -> None:
    blocks = in_blocks(words(4))
    script = ["haunch", "loin", ("left haunch", "haunch"), "loin"]
    whole = hear(ScriptedRecogniser(script), blocks)
    for run in (listened, listened_ahead):
        listener = Listener(ScriptedRecogniser(script), CALLS)
        first_half = SpeechParts(NoDenoiser(), Endpointer(LoudnessActivity()))
        halves = [u for item in run(blocks, first_half) for part in item.parts for u in listener.feed(part)]
        assert halves == whole


def test_ahead_says_how_far_the_sound_is() -> None:
    blocks = in_blocks(words(1))
    items = list(listened_ahead(blocks, SpeechParts(NoDenoiser(), Endpointer(LoudnessActivity())), lead=2))
    assert [item.t_ns for item in items] == [block.end_ns for block in blocks]


def test_an_error_of_the_source_comes_after_all_that_was_heard() -> None:
    def broken() -> object:
        yield from in_blocks(words(1))
        raise AudioFileError("torn")

    seen: list[object] = []
    items = listened_ahead(broken(), SpeechParts(NoDenoiser(), Endpointer(LoudnessActivity())))
    with pytest.raises(AudioFileError, match="Torn"):
        collections.deque(map(seen.append, items), maxlen=0)
    assert len(seen) == len(in_blocks(words(1)))


def test_stopping_early_ends_the_thread_and_reads_no_further() -> None:
    read = []

    def endless() -> object:
        for block in in_blocks(silence(600.0)):
            read.append(block.t_ns)
            yield block

    first_half = SpeechParts(NoDenoiser(), Endpointer(LoudnessActivity()))
    items = listened_ahead(endless(), first_half, lead=5)
    next(items)
    items.close()
    assert len(read) < 20
