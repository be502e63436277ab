"""The manner of speaking: numbers, read-back, loudness, and the limits of a turn."""

from __future__ import annotations

import shutil
from dataclasses import replace

import numpy as np
import pytest

from handsfree.answering.espeak_voice import EspeakVoice
from handsfree.answering.messages import Length, Manner, ReadBack, Saying, Tone
from handsfree.answering.sayings import saying_of
from handsfree.answering.speaker import Answerer
from handsfree.answering.spoken import mass_words
from handsfree.answering.tones import duration_s, tone_samples
from handsfree.ledger import entries as e
from handsfree.ledger.books import Books
from handsfree.testing.ledger_entries import piece
from handsfree.testing.manual_clock import ManualClock
from handsfree.testing.scripted_voice import ScriptedVoice
from handsfree.testing.shipped_words import shipped_vocabulary
from handsfree.testing.silent_output import SilentOutput


def answer(body: e.PieceEntered, manner: Manner) -> Saying | None:
    books = Books()
    bodies: tuple[e.Body, ...] = (e.CarcassOpened(1), body)
    for seq, each in enumerate(bodies, 1):
        entry = e.Entry(seq, "2025-10-14T08:30:00.000000Z", "s", 0, each, "0" * 64, "1" * 64)
        books.apply(entry)
    return saying_of(entry, books, manner)


@pytest.mark.parametrize(
    ("mg", "words"),
    [
        (4_135_000, "four one three five grams"),
        (4_000_000, "four zero zero zero grams"),
        (500_000, "five hundred grams"),
        (-1_250_000, "minus one two five zero grams"),
    ],
)
def test_weights_are_said_in_grams_when_wished(mg: int, words: str) -> None:
    assert mass_words(mg, in_grams=True) == words


def test_a_piece_is_read_back_in_grams() -> None:
    said = answer(piece(1, "haunch", 4_135_000, side="left"), Manner(Length.WEIGHT, in_grams=True))
    assert said == Saying(Tone.ACCEPTED, "left haunch, four one three five grams")


def test_read_back_of_the_unusual_leaves_a_sure_piece_with_its_tone() -> None:
    manner = Manner(read_back=ReadBack.UNUSUAL)
    assert answer(piece(1, "haunch", 4_135_000), manner) == Saying(Tone.ACCEPTED)
    assert answer(piece(1, "", 505_000), manner) == Saying(Tone.UNNAMED, "no name, five zero five grams")


def test_quiet_mode_stays_quiet_for_unusual_pieces_too() -> None:
    manner = Manner(Length.TONES, ReadBack.UNUSUAL)
    assert answer(piece(1, "", 505_000), manner) == Saying(Tone.UNNAMED)


def test_no_tone_lasts_longer_than_the_pause_after_which_a_speaker_expects_a_turn() -> None:
    """Pauses up to one second are not taken for a turn (interactive voice practice): a tone fits in."""
    assert max(duration_s(tone) for tone in Tone) < 1.0
    for tone in Tone:  # and it begins at once: an audible sample within 20 ms
        assert np.flatnonzero(np.abs(tone_samples(tone, 16_000)) > 1000)[0] < 320


@pytest.mark.skipif(shutil.which("espeak-ng") is None, reason="espeak-ng is not installed")
def test_the_tone_of_a_piece_is_over_within_a_human_turn_gap() -> None:
    """English speakers leave 239 ms between turns on average (Stivers and others, PNAS 2009)."""
    assert duration_s(Tone.ACCEPTED) < 0.239
    slow, quick = (
        EspeakVoice(words_per_minute=120).render("left haunch"),
        EspeakVoice(words_per_minute=240).render("left haunch"),
    )
    assert slow is not None
    assert quick is not None
    assert len(quick.samples) < len(slow.samples)


def test_half_the_loudness_halves_every_sample() -> None:
    """-6 dB, by hand."""
    output = SilentOutput()
    answerer = Answerer(ScriptedVoice(mute=True), output, ManualClock(), loudness=0.5)
    answerer.say(Saying(Tone.ACCEPTED))
    assert answerer.work()
    played, rate_hz = output.played[0]
    assert np.max(np.abs(2.0 * played - tone_samples(Tone.ACCEPTED, rate_hz))) <= 1


@pytest.mark.skipif(shutil.which("espeak-ng") is None, reason="espeak-ng is not installed")
def test_every_short_read_back_of_the_cut_list_is_said_within_1_2_seconds() -> None:
    voice = EspeakVoice()
    cuts = shipped_vocabulary().cutlist.cuts
    names = [(cut.name, side) for cut in cuts for side in (("left", "right") if cut.sided else ("",))]
    assert len(names) > 40
    too_long = {}
    for name, side in names:
        said = answer(piece(1, name, 4_135_000, side=side), Manner())
        assert said is not None
        spoken = voice.render(said.text)
        assert spoken is not None
        seconds = len(spoken.samples) / spoken.rate_hz
        if seconds > 1.2:
            too_long[said.text] = seconds
    assert not too_long


ELSEWHERE = Manner(usual_destinations={"haunch": "prime"})


@pytest.mark.parametrize(("length", "usual", "elsewhere"), [
    (Length.SHORT, "left haunch", "left haunch for pet"),
    (
        Length.WEIGHT,
        "left haunch, four point one three five",
        "left haunch for pet, four point one three five",
    ),
    (
        Length.FULL,
        "left haunch, four point one three five, prime",
        "left haunch for pet, four point one three five",
    ),
    (Length.TONES, "", ""),
])  # fmt: skip
def test_where_a_piece_goes_is_read_back_when_it_is_not_the_usual_place(
    length: Length, usual: str, elsewhere: str
) -> None:
    """A piece that goes for pet food, or is condemned, by mishearing must not do so in silence."""
    manner = replace(ELSEWHERE, length=length)
    assert answer(piece(1, "haunch", 4_135_000, side="left"), manner) == Saying(Tone.ACCEPTED, usual)
    pet = piece(1, "haunch", 4_135_000, side="left", destination="pet")
    assert answer(pet, manner) == Saying(Tone.ACCEPTED, elsewhere)


def test_a_sure_piece_that_goes_elsewhere_is_unusual() -> None:
    manner = replace(ELSEWHERE, read_back=ReadBack.UNUSUAL)
    assert answer(piece(1, "haunch", 4_135_000), manner) == Saying(Tone.ACCEPTED)
    condemned = piece(1, "haunch", 4_135_000, destination="condemned")
    assert answer(condemned, manner) == Saying(Tone.ACCEPTED, "haunch for condemned")


def test_a_new_destination_is_read_back_when_a_piece_is_renamed() -> None:
    books = Books()
    renamed = e.PieceRenamed(2, "haunch", "left", 1, "pet", "left haunch for pet", "that was")
    bodies: tuple[e.Body, ...] = (e.CarcassOpened(1), piece(1, "haunch", 4_135_000, side="left"), renamed)
    for seq, each in enumerate(bodies, 1):
        entry = e.Entry(seq, "2025-10-14T08:30:00.000000Z", "s", 0, each, "0" * 64, "1" * 64)
        books.apply(entry)
    said = saying_of(entry, books, ELSEWHERE)
    assert said == Saying(Tone.CORRECTED, "now left haunch for pet, four point one three five")
