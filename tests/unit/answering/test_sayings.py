"""What is said after an entry; the expected words are those the trade would expect, by hand."""

import ast
import inspect
from dataclasses import fields
from types import ModuleType

import pytest

from handsfree.answering import enquiries, sayings, spoken
from handsfree.answering.messages import Length, Saying, Tone
from handsfree.answering.sayings import saying_of
from handsfree.ledger import entries as e
from handsfree.ledger.books import Books
from handsfree.speech.sound_level import SoundTrouble
from handsfree.testing.invented_carcass import invented_entries
from handsfree.testing.shipped_words import shipped_vocabulary
from handsfree.weighing.messages import ScaleEventKind


class Larder:
    """Books that bodies are posted to one after the other."""

    def __init__(self) -> None:
        self.books = Books()
        self.seq = 0

    def post(self, body: e.Body) -> e.Entry:
        self.seq += 1
        entry = e.Entry(self.seq, "2025-10-14T08:30:00.000000Z", "s", 0, body, "0" * 64, "1" * 64)
        self.books.apply(entry)
        return entry

    def answer(self, body: e.Body, length: Length = Length.SHORT, verdict: str = "") -> Saying | None:
        return saying_of(self.post(body), self.books, length, verdict=verdict)


def piece(cut: str = "haunch", side: str = "left", grams: int = 4135, count: int = 1) -> e.PieceEntered:
    return e.PieceEntered(
        1,
        cut,
        side,
        count,
        "prime" if cut else "",
        grams * 1000,
        2000.0,
        5000,
        "bench",
        "cleared pan",
        "4.135 kg",
    )


@pytest.fixture
def larder() -> Larder:
    made = Larder()
    made.post(e.CarcassOpened(1, "417"))
    return made


@pytest.mark.parametrize(
    ("length", "text"),
    [
        (Length.FULL, "left haunch, four point one three five, prime"),
        (Length.WEIGHT, "left haunch, four point one three five"),
        (Length.SHORT, "left haunch"),
        (Length.TONES, ""),
    ],
)
def test_a_piece_is_read_back_as_long_as_wished(larder: Larder, length: Length, text: str) -> None:
    assert larder.answer(piece(), length) == Saying(Tone.ACCEPTED, text)


def test_a_counted_lot_is_read_back_with_its_count(larder: Larder) -> None:
    said = larder.answer(piece("double chops", "", 640, 4), Length.WEIGHT)
    assert said == Saying(Tone.ACCEPTED, "four double chops, six four zero grams")


def test_an_unnamed_weight_has_its_own_tone(larder: Larder) -> None:
    assert larder.answer(piece("", "", 1250)) == Saying(Tone.UNNAMED, "")
    assert larder.answer(piece("", "", 1250), Length.FULL) == Saying(
        Tone.UNNAMED, "no name, one point two five"
    )


def test_a_struck_piece_is_named_even_when_only_tones_are_wished(larder: Larder) -> None:
    larder.post(piece())
    said = larder.answer(e.EntryReversed(2, "struck by voice"), Length.TONES)
    assert said == Saying(Tone.CORRECTED, "struck, left haunch, four point one three five")


def test_a_piece_put_back_is_said_to_be_back(larder: Larder) -> None:
    larder.post(piece("neck", "", 1980))
    larder.post(piece())
    larder.post(e.EntryReversed(3, "struck by voice"))
    larder.post(piece("fat", "", 300))
    said = larder.answer(e.EntryReversed(4, "put back by voice"))
    assert said == Saying(Tone.CORRECTED, "put back, left haunch, four point one three five")


def test_a_change_of_plan_taken_back_says_which_plan_holds_now(larder: Larder) -> None:
    larder.post(e.PlanChanged(1, "block"))
    larder.post(e.PlanChanged(1, "primals"))
    said = larder.answer(e.EntryReversed(3, "struck by voice"))
    assert said == Saying(Tone.CORRECTED, "now plan block")
    said = larder.answer(e.EntryReversed(4, "put back by voice"))
    assert said == Saying(Tone.CORRECTED, "now plan primals")


def test_a_renamed_piece_is_said_as_it_is_now(larder: Larder) -> None:
    larder.post(piece("shank", "right", 460))
    said = larder.answer(e.PieceRenamed(2, "flank", "right", 1, "mince", "right flank", "by voice"))
    assert said == Saying(Tone.CORRECTED, "now right flank, four six zero grams")


def test_naming_an_unnamed_weight_is_answered_like_a_piece(larder: Larder) -> None:
    larder.post(piece("", "", 1250))
    said = larder.answer(e.PieceRenamed(2, "neck", "", 1, "dice", "neck", "answered"), Length.WEIGHT)
    assert said == Saying(Tone.ACCEPTED, "neck, one point two five")


@pytest.mark.parametrize(
    ("body", "said"),
    [
        (e.CallLeftUnweighed(1, "liver", "", 1, "liver"), Saying(Tone.REFUSED, "no weight for liver")),
        (e.CarcassOpened(2, "88"), Saying(Tone.NOTED, "new carcass, eight eight")),
        (e.CarcassOpened(2), Saying(Tone.NOTED, "new carcass")),
        (e.CarcassDescribed(1, tag="52"), Saying(Tone.NOTED, "tag five two")),
        (e.CarcassDescribed(1, species="red deer", sex="hind"), Saying(Tone.NOTED, "red deer hind")),
        (
            e.DressedWeightTaken(1, 31_250_000, 1e4, 50_000, "rail", "31.25 kg"),
            Saying(Tone.NOTED, "dressed weight, thirty one point two five"),
        ),
        (e.ContainerSet("bench", 1_120_000, "1.120 kg"), Saying(Tone.NOTED, "tray, one point one two")),
        (e.WeighingTurned("taking off"), Saying(Tone.NOTED, "taking off")),
        (e.ButcherChanged(12, "Morag"), Saying(Tone.NOTED, "butcher twelve, Morag")),
        (e.ButcherChanged(0, "Morag"), Saying(Tone.NOTED, "Morag at the bench")),
        (e.ButcherChanged(0, ""), Saying(Tone.NOTED, "nobody at the bench")),
        (e.CarcassParked(1), Saying(Tone.NOTED, "carcass four one seven parked")),
        (e.CarcassResumed(1), Saying(Tone.NOTED, "carcass four one seven again")),
        (e.TemperatureNoted(1, "core", "4.2"), Saying(Tone.NOTED, "core four point two")),
        (e.NoteMade(1, "bruised"), Saying(Tone.NOTED, "bruised")),
        (e.PlanChanged(1, "primals"), Saying(Tone.NOTED, "plan primals")),
    ],
)
def test_instructions_are_answered_in_few_words(larder: Larder, body: e.Body, said: Saying) -> None:
    assert larder.answer(body) == said


def test_the_close_says_the_sentence_of_the_balance(larder: Larder) -> None:
    said = larder.answer(e.CarcassClosed(1, "explained", "0.1 kg is left.", 100_000, 50_000))
    assert said == Saying(Tone.CLOSED, "carcass four one seven closed. zero point one kilos is left.")


def test_the_close_prefers_the_short_verdict(larder: Larder) -> None:
    body = e.CarcassClosed(1, "explained", "0.1 kg is left.", 100_000, 50_000)
    said = larder.answer(body, verdict="All accounted for.")
    assert said == Saying(Tone.CLOSED, "carcass four one seven closed. All accounted for.")


@pytest.mark.parametrize("kind", list(ScaleEventKind))
def test_every_trouble_of_a_scale_has_words_that_name_the_scale(larder: Larder, kind: ScaleEventKind) -> None:
    said = larder.answer(e.TroubleNoted("bench", kind.value))
    assert said is not None
    assert said.text.startswith("the bench scale")
    over = kind in {
        ScaleEventKind.BACK,
        ScaleEventKind.OVERLOAD_OVER,
        ScaleEventKind.READABLE,
        ScaleEventKind.CLEAN,
        ScaleEventKind.MOVES,
        ScaleEventKind.PLAUSIBLE,
    }
    assert said.urgent is not over
    assert (said.tone is Tone.TROUBLE) is not over


def test_a_silent_scale_is_told_in_plain_words(larder: Larder) -> None:
    said = larder.answer(e.TroubleNoted("bench", "silent"))
    assert said == Saying(Tone.TROUBLE, "the bench scale has gone silent", urgent=True)


def test_a_trouble_of_a_kind_not_known_is_said_as_it_is_named(larder: Larder) -> None:
    said = larder.answer(e.TroubleNoted("bench", "un{plugged}"))
    assert said == Saying(Tone.TROUBLE, "the bench scale: unplugged", urgent=True)


def test_a_microphones_trouble_is_its_own_sentence_and_so_is_its_end(larder: Larder) -> None:
    said = larder.answer(e.TroubleNoted("microphone", "no sound from the microphone"))
    text = "no sound from the microphone, see if it is muted or its plug is out"
    assert said == Saying(Tone.TROUBLE, text, urgent=True)
    over = larder.answer(e.TroubleNoted("microphone", "over: no sound from the microphone"))
    assert over == Saying(Tone.NOTED, "the microphone is good again")


def test_every_trouble_of_the_microphone_that_one_can_do_something_about_says_what(larder: Larder) -> None:
    beyond_help = {SoundTrouble.GONE, SoundTrouble.DROPPED}
    for trouble in set(SoundTrouble) - beyond_help:
        said = larder.answer(e.TroubleNoted("microphone", trouble.value))
        assert said is not None
        assert said.text.startswith(f"{trouble.value}, ")


def test_the_marks_of_a_session_are_not_answered(larder: Larder) -> None:
    assert larder.answer(e.SessionBegan("handsfree", "live")) is None
    assert larder.answer(e.SessionEnded("Ctrl-C")) is None


def test_every_kind_of_entry_is_answered_or_known_to_be_silent() -> None:
    silent = {e.SessionBegan, e.SessionEnded}
    larder = Larder()
    answered = set()
    for entry in invented_entries():
        larder.books.apply(entry)
        if saying_of(entry, larder.books) is not None:
            answered.add(type(entry.body))
    # The invented carcass has most kinds; the rest are in the table above.
    rest = {e.WeighingTurned, e.CarcassParked, e.CarcassResumed, e.TroubleNoted, e.PlanChanged}
    rest |= {e.ButcherChanged}
    assert answered | rest | silent == set(e.BODIES.values())


def test_no_answer_carries_a_digit() -> None:
    """A voice may read digits any way it likes; words it reads one way."""
    books = Books()
    for entry in invented_entries():
        books.apply(entry)
        for length in Length:
            said = saying_of(entry, books, length)
            assert said is None or not any(char.isdigit() for char in said.text), said
    assert {field.name for field in fields(Saying)} == {"tone", "text", "urgent"}


def test_no_answer_contains_the_attention_word_so_that_it_can_never_command_itself() -> None:
    """A command said over an answer is heard; the recorder's own words must never look like one."""
    attention = shipped_vocabulary().commands.attention
    texts = [text for module in (enquiries, sayings, spoken) for text in _literals(module)]
    assert len(texts) > 40
    assert not [text for text in texts if attention in text.lower().split()]


def _literals(module: ModuleType) -> list[str]:
    """Every text of a module that is no docstring: what sayings are made of."""
    tree = ast.parse(inspect.getsource(module))
    documented = (ast.Module, ast.FunctionDef, ast.ClassDef)
    docstrings = {
        ast.get_docstring(node, clean=False) for node in ast.walk(tree) if isinstance(node, documented)
    }
    return [
        node.value
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and node.value not in docstrings
    ]
