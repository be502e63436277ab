"""Sound, plan and weight together: against Bayes' rule worked out by hand and scipy's densities."""

from __future__ import annotations

from dataclasses import replace
from math import exp, isclose, log, pi, sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import norm

from handsfree.pairing.fusion import Fusion, by_sound, weight_evidence
from handsfree.pairing.ports import Usual
from handsfree.pairing.settings import PairingSettings
from handsfree.speech.meaning import Call, Verb
from handsfree.speech.messages import Hypothesis, Utterance
from handsfree.testing.making_messages import call, command
from handsfree.testing.stated_carcass import StatedCarcass

SETTINGS = PairingSettings(
    weight_waiting_odds=20.0, odd_weight=0.03, off_plan=-1.0, complete_already=-3.0, sound_weight=1.0
)


def heard(*readings: tuple[Call, float]) -> Utterance:
    """An utterance whose engine gives calibrated probabilities."""
    hypotheses = tuple(Hypothesis(said.words(), said, -1.0, probability) for said, probability in readings)
    return Utterance(0, 800_000_000, 1_100_000_000, hypotheses, readings[0][1])


SHANK, FLANK = call("shank", "left"), call("flank", "left")


def test_the_posterior_is_bayes_rule_by_hand() -> None:
    # Shank 0.5, flank 0.3, none 0.2. 900 g is usual for a flank (sigma 0.3), shanks weigh 400 g (0.3).
    carcass = StatedCarcass(usual_g={"shank": 400, "flank": 900}, sigma=0.3)
    readings = Fusion(SETTINGS, carcass).readings(heard((SHANK, 0.5), (FLANK, 0.3)), 900_000)
    flat = 1 / log(50_000 / 5)
    shank = 0.5 * (0.97 * norm.pdf(log(900 / 400), 0, 0.3) / flat + 0.03)
    flank = 0.3 * (0.97 * norm.pdf(0, 0, 0.3) / flat + 0.03)
    none = 0.2 / 20
    assert [reading.call for reading in readings] == [FLANK, SHANK]
    assert readings[0].probability == pytest.approx(flank / (shank + flank + none))
    assert readings[1].probability == pytest.approx(shank / (shank + flank + none))


def test_the_sound_may_count_for_less_than_it_says() -> None:
    # By hand: the square roots of 0.64 and 0.16, against none of them, 0.2, at odds of 20 for a call.
    half = replace(SETTINGS, sound_weight=0.5)
    readings = Fusion(half, StatedCarcass()).readings(heard((SHANK, 0.64), (FLANK, 0.16)), 900_000)
    whole = 0.8 + 0.4 + 0.2 / 20
    assert [reading.probability for reading in readings] == pytest.approx([0.8 / whole, 0.4 / whole])
    assert [exp(reading.sound) for reading in readings] == pytest.approx([0.64, 0.16])


def test_a_weight_that_fits_a_piece_still_to_come_speaks_against_another_name() -> None:
    # Flank 0.5 was heard beside 4.1 kg; flanks weigh 1.6 kg, the haunches still to come 4.2 kg.
    due = (call("haunch", "left"), call("haunch", "right"), FLANK)
    carcass = StatedCarcass(usual_g={"flank": 1_600, "haunch": 4_200}, sigma=0.3, due=due)
    (reading,) = Fusion(SETTINGS, carcass).readings(heard((FLANK, 0.5)), 4_100_000)
    flat = 1 / log(50_000 / 5)
    as_flank = 0.97 * norm.pdf(log(4_100 / 1_600), 0, 0.3) / flat + 0.03
    as_haunch = 0.97 * norm.pdf(log(4_100 / 4_200), 0, 0.3) / flat + 0.03
    # None of the readings: half a piece of the plan heard as something else, half anything.
    none = 0.5 / 20 * (0.5 + 0.5 * (2 * as_haunch + as_flank) / 3)
    assert reading.call == FLANK
    assert reading.probability == pytest.approx(0.5 * as_flank / (0.5 * as_flank + none))
    without = Fusion(SETTINGS, replace(carcass, due=())).readings(heard((FLANK, 0.5)), 4_100_000)[0]
    assert reading.probability < without.probability


def test_without_plan_and_weight_the_sound_decides_alone() -> None:
    readings = Fusion(SETTINGS, StatedCarcass()).readings(heard((SHANK, 0.6), (FLANK, 0.4)), 900_000)
    assert [round(reading.probability, 6) for reading in readings] == [0.6, 0.4]


def test_a_piece_already_in_and_one_off_the_plan_count_less() -> None:
    complete = StatedCarcass(complete={("shank", "left")})
    first, second = Fusion(SETTINGS, complete).readings(heard((SHANK, 0.5), (FLANK, 0.5)), 900_000)
    assert (first.call, second.call) == (FLANK, SHANK)
    assert first.probability / second.probability == pytest.approx(exp(3))
    unplanned = StatedCarcass(planned={"flank"})
    first, second = Fusion(SETTINGS, unplanned).readings(heard((SHANK, 0.5), (FLANK, 0.5)), 900_000)
    assert first.probability / second.probability == pytest.approx(exp(1))


def test_a_command_among_the_readings_is_never_taken_for_a_piece() -> None:
    hypotheses = (
        Hypothesis("neck", call("neck"), -1.0, 0.5),
        command(1, Verb.TOTAL).hypotheses[0],
    )
    mixed = Utterance(0, 1, 2, hypotheses, 0.5)
    assert [reading.text for reading in Fusion(SETTINGS, StatedCarcass()).readings(mixed, 900_000)] == [
        "neck"
    ]


def test_the_weight_evidence_of_an_odd_piece_has_a_floor_and_is_greatest_at_the_usual() -> None:
    usual = Usual(900_000, 0.3)
    assert weight_evidence(usual, 900_000, 0.03) == pytest.approx(
        log(0.97 * norm.pdf(0, 0, 0.3) * log(10_000) + 0.03)
    )
    assert weight_evidence(usual, 20_000_000, 0.03) == pytest.approx(log(0.03), abs=1e-6)


@given(st.floats(0.001, 0.999), st.lists(st.floats(0.0, 0.2), max_size=4))
def test_probabilities_by_sound_add_up_to_one(confidence: float, gaps: list[float]) -> None:
    hypotheses = tuple(Hypothesis(str(gap), None, -1.0 - gap) for gap in [0.0, *gaps])
    each, none = by_sound(Utterance(0, 1, 2, hypotheses, confidence), 0.02)
    assert isclose(sum(each) + none, 1.0, abs_tol=1e-9)
    assert min(*each, none) >= 0.0
    assert each[0] == confidence


@given(
    st.lists(st.floats(0.0, 0.33), min_size=1, max_size=3),
    st.integers(1, 60_000_000),
    st.floats(0.05, 1.0),
    st.integers(5, 20_000),
)
def test_readings_are_probabilities_whatever_the_weight(
    probabilities: list[float], net_mg: int, sigma: float, usual_g: int
) -> None:
    cuts = ["shank", "flank", "rack"][: len(probabilities)]
    carcass = StatedCarcass(usual_g={"shank": usual_g, "rack": usual_g / 3}, sigma=sigma)
    said = heard(*((call(cut), p) for cut, p in zip(cuts, probabilities, strict=True)))
    fusion = Fusion(SETTINGS, carcass)
    readings = fusion.readings(said, net_mg)
    assert all(0 <= reading.probability <= 1 for reading in readings)
    assert sum(reading.probability for reading in readings) <= 1 + 1e-9
    # A name's weight is at worst as odd as the share of odd pieces, at best the peak of the narrowest.
    peak = log(1 / (0.05 * sqrt(2 * pi)) * log(10_000) + 0.03)
    gain = fusion.claim(said, net_mg) - fusion.standing(said)[0]
    assert log(0.03) - 1e-6 <= gain <= peak


def test_a_claim_without_plan_and_weight_is_the_sound_alone() -> None:
    fusion = Fusion(SETTINGS, StatedCarcass())
    said = heard((SHANK, 0.6), (FLANK, 0.3))
    assert fusion.claim(said, 900_000) == pytest.approx(log(0.9))
    assert fusion.standing(said) == (pytest.approx(log(0.9)), pytest.approx(log(0.1 / 20)))


def test_a_weight_said_as_nothing_tells_nothing() -> None:
    carcass = StatedCarcass(usual_g={"shank": 400})
    assert Fusion(SETTINGS, carcass).readings(heard((SHANK, 0.9)), 0)[0].weight == 0.0


def test_several_of_what_nobody_counts_count_less() -> None:
    flanks = call("flank", count=3)
    singly = StatedCarcass(singly={"flank"})
    shank, flank = Fusion(SETTINGS, singly).readings(heard((flanks, 0.5), (SHANK, 0.5)), 900_000)
    assert (shank.call, flank.call) == (SHANK, flanks)
    assert shank.probability / flank.probability == pytest.approx(exp(-SETTINGS.not_counted))
    counted, *_ = Fusion(SETTINGS, StatedCarcass()).readings(heard((flanks, 0.6), (SHANK, 0.4)), 900_000)
    assert counted.call == flanks


def test_two_wordings_of_one_entry_are_one_reading() -> None:
    other_wording = Hypothesis("shank left", SHANK, -1.1, 0.3)
    utterance = heard((SHANK, 0.4), (FLANK, 0.3))
    utterance = replace(utterance, hypotheses=(*utterance.hypotheses, other_wording))
    shank, flank = Fusion(SETTINGS, StatedCarcass()).readings(utterance, 900_000)
    assert (shank.call, shank.text) == (SHANK, SHANK.words())
    assert (shank.probability, flank.probability) == (pytest.approx(0.7), pytest.approx(0.3))
