from decimal import Decimal

import pytest

from handsfree.answering import enquiries
from handsfree.answering.messages import Manner, Saying, Tone
from handsfree.ledger.books import Books
from handsfree.pairing.messages import Question, QuestionKind
from handsfree.speech.meaning import Call, Side
from handsfree.testing.invented_carcass import invented_books


def asked(kind: QuestionKind, *options: Call, net_mg: int = 1_250_000) -> Question:
    return Question(0, 1, kind, options, net_mg)


def test_two_close_readings_are_asked_for_by_name() -> None:
    question = asked(QuestionKind.WHICH, Call("shank", Side.LEFT), Call("flank", Side.LEFT))
    assert enquiries.question(question) == Saying(Tone.QUESTION, "left shank or left flank?", urgent=True)


def test_a_second_left_haunch_is_asked_for_as_such() -> None:
    question = asked(QuestionKind.CONFIRM, Call("haunch", Side.LEFT))
    said = enquiries.question(question, invented_books(closed=False))
    assert said.text == "second left haunch, yes or no?"


def test_a_cut_not_yet_there_is_confirmed_without_an_ordinal() -> None:
    question = asked(QuestionKind.CONFIRM, Call("haunch", Side.RIGHT))
    assert enquiries.question(question, invented_books(closed=False)).text == "right haunch, yes or no?"
    assert enquiries.question(question).text == "right haunch, yes or no?"


def test_a_weight_without_a_call_is_asked_for_by_its_weight() -> None:
    question = asked(QuestionKind.WHAT_WAS_THAT)
    assert enquiries.question(question).text == "what was that, one point two five?"


def test_an_option_is_said_with_its_count_and_destination() -> None:
    question = asked(QuestionKind.WHICH, Call("double chops", count=4), Call("neck", destination="dice"))
    assert enquiries.question(question).text == "four double chops or neck for dice?"


def test_a_list_is_read_out_with_a_number_before_each_name() -> None:
    options = (Call("haunch", Side.LEFT), Call("flank", Side.LEFT), Call("dice", destination="pet"))
    assert enquiries.question(asked(QuestionKind.CHOOSE, *options)).text == (
        "number one, left haunch. number two, left flank. number three, dice for pet. or none of these?"
    )


def test_reading_back_gives_the_last_piece() -> None:
    said = enquiries.read_back(invented_books(closed=False))
    assert said == Saying(Tone.NOTED, "twenty nine pieces. last, kidneys, nine five grams")


@pytest.mark.parametrize(("usually", "named"), [("stock", "kidneys for pet"), ("pet", "kidneys")])
def test_reading_back_says_where_the_last_piece_goes_when_that_is_unusual(usually: str, named: str) -> None:
    manner = Manner(usual_destinations={"kidneys": usually})
    said = enquiries.read_back(invented_books(closed=False), manner)
    assert said.text == f"twenty nine pieces. last, {named}, nine five grams"


def test_the_total_gives_what_is_left_of_the_dressed_weight() -> None:
    # 31.250 kg - 30.520 kg = 0.730 kg
    said = enquiries.total(invented_books(closed=False))
    assert said.text == "twenty nine pieces, thirty point five two. seven three zero grams to go"


@pytest.mark.parametrize("enquiry", [enquiries.read_back, enquiries.total])
def test_without_a_carcass_every_enquiry_is_refused(enquiry) -> None:
    assert enquiry(Books()) == Saying(Tone.REFUSED, "no carcass open")


def test_what_remains_is_listed_or_nothing_or_no_plan() -> None:
    assert enquiries.what_remains(["left shank", "neck"]).text == "left shank and neck"
    assert enquiries.what_remains([]).text == "nothing remains"
    assert enquiries.what_remains(None) == Saying(Tone.REFUSED, "no plan")


@pytest.mark.parametrize(
    ("said", "tone", "text"),
    [
        (enquiries.awake(), Tone.AWAKE, "listening"),
        (enquiries.resting(), Tone.RESTING, "resting"),
    ],
)
def test_short_answers_say_what_they_must(said: Saying, tone: Tone, text: str) -> None:
    assert (said.tone, said.text, said.urgent) == (tone, text, False)
    assert Decimal(len(text.split())) <= 5
