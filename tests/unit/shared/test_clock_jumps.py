"""The machine's clock being set during a session."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from handsfree.clock import NS_PER_S, WallClockWatch, clock_was_set

START = datetime(2026, 11, 18, 14, 2, tzinfo=UTC)


def wall(seconds: float) -> datetime:
    return START + timedelta(seconds=seconds)


def test_a_clock_that_runs_with_the_session_is_no_news():
    watch = WallClockWatch(START)
    assert [watch.feed(t * NS_PER_S, wall(t + 1.5)) for t in range(0, 36_000, 60)] == [None] * 600


def test_a_jump_is_told_once_and_its_way_back_too():
    watch = WallClockWatch(START)
    assert watch.feed(10 * NS_PER_S, wall(10)) is None
    assert watch.feed(20 * NS_PER_S, wall(3620)) == 3600
    assert watch.feed(30 * NS_PER_S, wall(3630)) is None
    assert watch.feed(40 * NS_PER_S, wall(40)) == -3600
    assert watch.feed(50 * NS_PER_S, wall(50)) is None


def test_the_words_say_which_way():
    assert clock_was_set(3600.4) == "the clock was set forward by 3600 seconds"
    assert clock_was_set(-62) == "the clock was set back by 62 seconds"
