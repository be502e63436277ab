"""The butcher's own rhythm, learned from lags; figures worked out by hand beside each check."""

from __future__ import annotations

from dataclasses import replace
from math import inf, log, sqrt

import pytest

from handsfree.clock import from_seconds
from handsfree.pairing.messages import Method, PieceWeighed, QuestionKind, Tick
from handsfree.pairing.pairing import Pairing
from handsfree.pairing.rhythm import Rhythms, lag_s, lag_score, learn
from handsfree.pairing.settings import PairingSettings
from handsfree.testing.making_messages import call, load, utterance
from handsfree.testing.stated_carcass import StatedCarcass

SETTINGS = PairingSettings(sigma_before_s=5.0, sigma_after_s=3.5)


def test_nothing_learned_leaves_the_three_kinds_alike() -> None:
    rhythm = learn((), SETTINGS)
    assert lag_score(0.0, rhythm, SETTINGS) == pytest.approx(0.0)
    assert lag_score(-5.0, rhythm, SETTINGS) == pytest.approx(-0.5)
    assert lag_score(3.5, rhythm, SETTINGS) == pytest.approx(-0.5)


def test_a_butcher_who_always_calls_two_seconds_before_is_learned() -> None:
    rhythm = learn([-2.0] * 60, SETTINGS)
    # 6 imaginary pieces of each kind: 66 of 78 before; variance (6 x 25 + 60 x 4) / 66.
    sigma_s = sqrt((6 * 25 + 60 * 4) / 66)
    assert rhythm.before.sigma_s == pytest.approx(sigma_s)
    assert rhythm.before.log_height == pytest.approx(log(3 * 66 / 78 * 5.0 / sigma_s))
    assert rhythm.after.log_height == pytest.approx(log(3 * 6 / 78))
    assert lag_score(1.0, rhythm, SETTINGS) < lag_score(-1.0, rhythm, SETTINGS) - 2


def test_a_habit_is_never_taken_for_a_law() -> None:
    assert learn([-1.0] * 100_000, SETTINGS).after.log_height >= -3.5


def test_beyond_the_waits_nothing_belongs_together() -> None:
    rhythm = learn((), SETTINGS)
    assert lag_score(-12.1, rhythm, SETTINGS) == -inf
    assert lag_score(12.1, rhythm, SETTINGS) == -inf


def test_lags_are_counted_from_the_end_of_the_call_and_from_the_settled_load() -> None:
    change = load(10, 0, 500)  # begins to move at 9, settled at 10
    waits = (change.onset_ns, change.t_ns)
    assert lag_s(utterance(6, call("neck")), *waits) == pytest.approx(-3.0)
    assert lag_s(utterance(13.8, call("neck")), *waits) == pytest.approx(3.0)
    assert lag_s(utterance(9.5, call("neck")), *waits) == 0.0


def test_with_a_calls_first_rhythm_a_call_after_an_unheard_one_waits_for_its_own_piece() -> None:
    """The first piece's call was never heard; the second's comes before its own load moves."""

    def run(lags: list[float]) -> list[tuple[str, int]]:
        pairing = Pairing(StatedCarcass(), lags_s=lags)
        decisions = []
        for message in (load(5, 0, 4000), utterance(8.0, call("shoulder", "left")), load(10.4, 4000, 5800)):
            decisions += pairing.feed(message)
        pieces = [d for d in [*decisions, *pairing.finish(from_seconds(60))] if isinstance(d, PieceWeighed)]
        return [(d.call.words() if d.call else "?", d.net_mg // 1000) for d in pieces]

    assert run([]) == [("left shoulder", 4000), ("?", 1800)]
    assert sorted(run([-1.5] * 150)) == [("?", 4000), ("left shoulder", 1800)]


def test_the_rhythm_is_learned_as_the_pieces_come() -> None:
    """Twenty pieces called two seconds before they are laid, each by itself on a bare pan."""
    pairing = Pairing(StatedCarcass())
    for number in range(20):
        t_s = 30.0 * number
        for message in (
            utterance(t_s + 2, call("neck")),
            load(t_s + 5, 0, 2000),
            Tick(from_seconds(t_s + 8)),
            load(t_s + 10, 2000, 0),
        ):
            list(pairing.feed(message))
    learned = pairing._waiting.rhythms.now
    assert learned == learn([-2.0] * 20, SETTINGS)


def test_what_was_asked_about_teaches_no_rhythm() -> None:
    rhythms = Rhythms(SETTINGS)
    piece = PieceWeighed(0, call("neck"), 1, 0.0, Method.CLEARED_PAN, None, lag_s=-2.0)
    for taught in (
        replace(piece, asked=QuestionKind.CONFIRM),
        replace(piece, call=None),
        replace(piece, lag_s=None),
    ):
        rhythms.note(taught)
    assert rhythms.now == learn((), SETTINGS)
