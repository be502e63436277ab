"""The queue of answers, with a clock that moves only while a sound plays."""

from collections.abc import Callable

import numpy as np
import pytest

from handsfree.answering.messages import Saying, Tone
from handsfree.answering.speaker import STALE_S, TAIL_S, Answerer
from handsfree.answering.tones import tone_samples
from handsfree.testing.manual_clock import ManualClock
from handsfree.testing.scripted_voice import ScriptedVoice
from handsfree.testing.silent_output import SilentOutput

MS = 1_000_000
S = 1_000_000_000
TAIL_NS = round(TAIL_S * S)


class Bench:
    """An answerer with fakes at its three ends."""

    def __init__(self, *, mute: bool = False, latency_s: float = 0.0) -> None:
        self.clock = ManualClock()
        self.voice = ScriptedVoice(mute=mute)
        self.during: Callable[[], None] = lambda: None
        self.output = SilentOutput(self._playing, latency_s)
        self.told: list[str] = []
        self.answerer = Answerer(self.voice, self.output, self.clock, tell=self.told.append)

    def _playing(self, length_ns: int) -> None:
        self.clock.advance_ns(length_ns // 2)
        self.during()
        self.clock.advance_ns(length_ns - length_ns // 2)

    def work_all(self) -> None:
        while self.answerer.work():
            pass


@pytest.fixture
def bench() -> Bench:
    return Bench()


def test_an_answer_is_the_tone_and_then_the_words(bench: Bench) -> None:
    bench.answerer.say(Saying(Tone.ACCEPTED, "left haunch, four point one"))
    assert bench.answerer.work()
    ((samples, rate_hz),) = bench.output.played
    tone = tone_samples(Tone.ACCEPTED, rate_hz)
    assert np.array_equal(samples[: len(tone)], tone)
    assert len(samples) > 10 * len(tone)
    assert bench.voice.said == ["left haunch", "four point one"]


def test_nothing_waiting_is_told_apart_from_something_played(bench: Bench) -> None:
    assert not bench.answerer.work()


def test_a_cut_that_comes_again_is_rendered_once(bench: Bench) -> None:
    for weight in ("four point one", "four point two"):
        bench.answerer.say(Saying(Tone.ACCEPTED, f"left haunch, {weight}"))
    bench.work_all()
    assert bench.voice.said == ["left haunch", "four point one", "four point two"]


def test_while_it_speaks_and_a_short_while_after_it_says_so(bench: Bench) -> None:
    bench.clock.advance_ns(5 * S)
    bench.answerer.say(Saying(Tone.ACCEPTED))
    bench.answerer.work()
    end_ns = 5 * S + len(bench.output.played[0][0]) * S // 16_000
    assert bench.answerer.speaking_until_ns == pytest.approx(end_ns + TAIL_NS, abs=MS)
    assert not bench.answerer.was_speaking(4 * S, 5 * S)
    assert bench.answerer.was_speaking(5 * S, 5 * S + MS)
    assert bench.answerer.was_speaking(end_ns + TAIL_NS - MS, end_ns + TAIL_NS + S)
    assert not bench.answerer.was_speaking(end_ns + TAIL_NS + MS, end_ns + TAIL_NS + S)


def test_it_says_so_from_the_first_sample_on_not_only_afterwards(bench: Bench) -> None:
    seen = []
    bench.during = lambda: seen.append(
        bench.answerer.was_speaking(bench.clock.now_ns(), bench.clock.now_ns() + 20 * MS)
    )
    bench.answerer.say(Saying(Tone.CLOSED, "carcass closed"))
    bench.answerer.work()
    assert seen == [True]


def test_the_latency_of_the_loudspeaker_is_part_of_the_stretch() -> None:
    near, far = Bench(), Bench(latency_s=0.2)
    for one in (near, far):
        one.answerer.say(Saying(Tone.ACCEPTED))
        one.answerer.work()
    assert far.answerer.speaking_until_ns - near.answerer.speaking_until_ns == pytest.approx(200 * MS, abs=MS)


def test_an_urgent_saying_goes_first_and_takes_the_words_from_those_waiting(bench: Bench) -> None:
    bench.answerer.say(Saying(Tone.ACCEPTED, "neck"))
    bench.answerer.say(Saying(Tone.CORRECTED, "struck"))
    bench.answerer.say(Saying(Tone.QUESTION, "left shank or left flank?", urgent=True))
    bench.work_all()
    assert bench.voice.said == ["left shank or left flank?"]
    assert len(bench.output.played) == 3  # the tones of the others are still given
    assert np.array_equal(bench.output.played[1][0], tone_samples(Tone.ACCEPTED))
    assert bench.answerer.words_dropped == 2


def test_the_butcher_speaking_over_an_answer_ends_it_and_leaves_tones_of_those_waiting(bench: Bench) -> None:
    def speak_over() -> None:
        bench.during = lambda: None
        bench.answerer.hush()

    bench.during = speak_over
    bench.answerer.say(Saying(Tone.ACCEPTED, "neck"))
    bench.answerer.say(Saying(Tone.CORRECTED, "struck"))
    bench.answerer.say(Saying(Tone.TROUBLE, "the bench scale is unplugged", urgent=True))
    bench.work_all()
    assert bench.output.stops == 1
    assert "struck" not in bench.voice.said
    assert "the bench scale is unplugged" in bench.voice.said


def test_urgent_sayings_keep_their_order_and_their_words(bench: Bench) -> None:
    bench.answerer.say(Saying(Tone.TROUBLE, "the bench scale has gone silent", urgent=True))
    bench.answerer.say(Saying(Tone.QUESTION, "what was that?", urgent=True))
    bench.work_all()
    assert bench.voice.said == ["the bench scale has gone silent", "what was that?"]
    assert bench.answerer.words_dropped == 0


def test_an_urgent_saying_ends_a_lesser_one_that_is_playing(bench: Bench) -> None:
    def interrupt() -> None:
        bench.during = lambda: None
        bench.answerer.say(Saying(Tone.TROUBLE, "the bench scale is unplugged", urgent=True))

    bench.during = interrupt
    bench.answerer.say(Saying(Tone.ACCEPTED, "neck"))
    bench.work_all()
    assert bench.output.stops == 1
    assert bench.voice.said == ["neck", "the bench scale is unplugged"]


def test_an_urgent_saying_that_comes_while_words_are_rendered_takes_them_away() -> None:
    bench = Bench()
    render = bench.voice.render

    class Slow:
        name = "slow voice"

        def render(self, text: str):
            if text == "neck":
                bench.answerer.say(Saying(Tone.TROUBLE, "the bench scale is unplugged", urgent=True))
            return render(text)

    bench.answerer = Answerer(Slow(), bench.output, bench.clock)
    bench.answerer.say(Saying(Tone.ACCEPTED, "neck"))
    bench.work_all()
    assert np.array_equal(bench.output.played[0][0], tone_samples(Tone.ACCEPTED))
    assert bench.voice.said[-1] == "the bench scale is unplugged"
    assert len(bench.output.played[1][0]) > len(bench.output.played[0][0])


def test_an_urgent_saying_is_not_ended_by_another(bench: Bench) -> None:
    def interrupt() -> None:
        bench.during = lambda: None
        bench.answerer.say(Saying(Tone.TROUBLE, "the bench scale is unplugged", urgent=True))

    bench.during = interrupt
    bench.answerer.say(Saying(Tone.QUESTION, "what was that?", urgent=True))
    bench.work_all()
    assert bench.output.stops == 0


def test_an_answer_that_comes_too_late_keeps_its_tone_only(bench: Bench) -> None:
    bench.answerer.say(Saying(Tone.ACCEPTED, "neck"))
    bench.clock.advance_ns(round(STALE_S * S) + 1)
    bench.work_all()
    assert bench.voice.said == []
    assert np.array_equal(bench.output.played[0][0], tone_samples(Tone.ACCEPTED))


def test_without_a_voice_the_tones_are_given_and_it_is_told_once() -> None:
    bench = Bench(mute=True)
    for _ in range(3):
        bench.answerer.say(Saying(Tone.ACCEPTED, "left haunch, four point one"))
    bench.work_all()
    assert bench.told == ["There is no voice on this machine: answers are tones only."]
    for samples, rate_hz in bench.output.played:
        assert np.array_equal(samples, tone_samples(Tone.ACCEPTED, rate_hz))


def test_its_own_thread_plays_everything_and_ends(bench: Bench) -> None:
    bench.answerer.start()
    for _ in range(5):
        bench.answerer.say(Saying(Tone.ACCEPTED, "neck"))
    assert bench.answerer.wait_until_quiet(timeout_s=20)
    bench.answerer.close()
    assert len(bench.output.played) == 5
    bench.answerer.say(Saying(Tone.ACCEPTED, "neck"))
    assert len(bench.output.played) == 5
    bench.answerer.close()
