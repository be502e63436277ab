"""The recorder over typed words and generated scales: what a session leaves in the ledger."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal

from handsfree.carcass_in_hand import CarcassFacts
from handsfree.clerk import Outcome
from handsfree.config import AnswerSettings, Config
from handsfree.ledger.books import Books
from handsfree.ledger.entries import CallLeftUnweighed, SessionEnded, TroubleNoted
from handsfree.merging import Step
from handsfree.pairing.messages import Question
from handsfree.speech.hearing import Listener
from handsfree.speech.typed import TypedRecogniser
from handsfree.testing import bench_scale as bench
from handsfree.testing.memory_store import MemoryStore
from handsfree.testing.typed_session import STARTED_AT, lines, session
from handsfree.wiring import words
from handsfree.wiring.workplace import Occasion, Workplace, workplace

VOCABULARY = words.vocabulary(Config())


def place_over(store: MemoryStore, **given: object) -> Workplace:
    listener = Listener(TypedRecogniser(), VOCABULARY.listening())
    occasion = Occasion("live", STARTED_AT, "typed words", **given)  # type: ignore[arg-type]
    return workplace(Config(), store, VOCABULARY, occasion, scales={}, listener=listener)


def take(place: Workplace, steps: Iterable[Step], *, finish: bool = True) -> list[Outcome]:
    outcomes = [outcome for step in steps for outcome in place.recorder.take(step)]
    return outcomes + (list(place.recorder.finish("test")) if finish else [])


def pieces(store: MemoryStore) -> list[tuple[str, int]]:
    carcass = list(Books(store.entries()).carcasses.values())[-1]
    return [(piece.words(), piece.mass_mg // 1000) for piece in carcass.standing()]


OPENING = [(1.0, "ledger new carcass"), (3.0, "ledger tag four one seven")]


def test_a_carcass_from_the_rail_to_the_close() -> None:
    store = MemoryStore()
    place = place_over(store)
    rail = lines("rail", [bench.Put(2, 8200)], 50, seed=2)
    pan = lines("bench", [bench.Put(12, 4135), bench.Take(20, 4135), bench.Put(24, 3980)], 50)
    talk = [
        *OPENING,
        (6, "ledger fallow doe"),
        (8, "ledger dressed weight"),
        (10, "left haunch"),
        (27, "right haunch"),
        (40, "ledger close carcass"),
    ]
    outcomes = take(place, session(talk, rail, pan, until_s=50))
    assert pieces(store) == [("left haunch", 4135), ("right haunch", 3980)]
    carcass = place.books.by_tag("417")
    assert carcass is not None
    assert carcass.dressed is not None
    assert (carcass.dressed.mass_mg, carcass.dressed.scale) == (8_200_000, "rail")
    assert carcass.closing is not None
    # 8200 - 4135 - 3980 = 85 g, less the expected losses (57 g, 0.7 %): the rest closes by identity.
    closed = next(o.reconciliation for o in outcomes if o.reconciliation)
    assert closed.balance.unaccounted_mg == 85_000_000 // 1000 - closed.balance.process_loss_mg
    assert closed.balance.closes()
    assert isinstance(list(store.entries())[-1].body, SessionEnded)


def test_a_restart_in_mid_carcass_carries_on() -> None:
    store = MemoryStore()
    first = [bench.Put(4, 800), bench.Put(12, 1000)]
    before = [*OPENING, (6, "ledger tray"), (9, "dice")]
    # The power goes: nothing is finished, nothing flushed.
    take(place_over(store), session(before, lines("bench", first, 16), until_s=16), finish=False)
    after = place_over(store)
    assert after.books.carcass is not None
    assert after.books.carcass.tag == "417"
    assert after.books.containers["bench"].mass_mg == 800_000
    # The tray is put back: it is known and no piece; then the next piece goes into it.
    second = [bench.Put(2, 800), bench.Put(9, 700)]
    take(after, session([(7, "mince")], lines("bench", second, 15, seed=5), until_s=15))
    assert pieces(store) == [("dice", 1000), ("mince", 700)]


def test_strike_put_back_and_that_was_by_voice() -> None:
    store = MemoryStore()
    pan = lines("bench", [bench.Put(8, 900), bench.Put(25, 600)], 45)
    talk = [
        *OPENING,
        (6, "left flank"),
        (12, "ledger that was left shank"),
        (16, "ledger strike that"),
        (19, "ledger put that back"),
        (23, "right shank"),
        (30, "ledger strike that"),
    ]
    take(place_over(store), session(talk, pan, until_s=45))
    assert pieces(store) == [("left shank", 900)]


def test_park_and_resume_keep_two_carcasses_apart() -> None:
    store = MemoryStore()
    pan = lines("bench", [bench.Put(8, 900), bench.Put(20, 600), bench.Put(32, 500)], 45)
    talk = [
        *OPENING,
        (6, "neck"),
        (12, "ledger park carcass"),
        (14, "ledger new carcass"),
        (16, "ledger tag four one eight"),
        (18, "neck"),
        (26, "ledger resume four one seven"),
        (30, "mince"),
    ]
    take(place_over(store), session(talk, pan, until_s=45))
    books = Books(store.entries())
    found = {c.tag: [p.words() for p in c.standing()] for c in books.carcasses.values()}
    assert found == {"417": ["neck", "mince"], "418": ["neck"]}


def test_a_second_left_haunch_is_asked_about_as_the_right_one_and_yes_enters_that() -> None:
    store = MemoryStore()
    pan = lines("bench", [bench.Put(8, 4000), bench.Put(20, 3900)], 40)
    talk = [*OPENING, (6, "left haunch"), (18, "left haunch"), (25, "yes")]
    take(place_over(store), session(talk, pan, until_s=40))
    assert pieces(store) == [("left haunch", 4000), ("right haunch", 3900)]


def test_a_call_without_a_weight_is_in_the_ledger_as_such() -> None:
    store = MemoryStore()
    take(place_over(store), session([*OPENING, (6, "left haunch")], until_s=40))
    left = [entry.body for entry in store.entries() if isinstance(entry.body, CallLeftUnweighed)]
    assert [(body.cut, body.side) for body in left] == [("haunch", "left")]


def test_a_scale_that_falls_silent_is_noted_and_no_piece_is_lost() -> None:
    store = MemoryStore()
    pan = lines("bench", [bench.Put(6, 800), bench.Dropout(10, 5), bench.Put(12, 1000)], 40)
    talk = [*OPENING, (4, "neck"), (11, "left breast")]
    take(place_over(store), session(talk, pan, until_s=40))
    kinds = [entry.body.kind for entry in store.entries() if isinstance(entry.body, TroubleNoted)]
    assert kinds == ["silent", "back"]
    assert pieces(store) == [("neck", 800), ("left breast", 1000)]


def test_a_carcass_named_in_the_session_file_is_open_from_the_start() -> None:
    store = MemoryStore()
    facts = CarcassFacts("417", "fallow", "doe", Decimal("25.34"), "off", "cold")
    place = place_over(store, carcass=facts, plan="block")
    pan = lines("bench", [bench.Put(6, 800)], 20)
    # "new carcass" with an untouched carcass in hand is that carcass.
    take(place, session([(1, "ledger new carcass"), (4, "neck")], pan, until_s=20))
    carcass = place.books.by_tag("417")
    assert carcass is not None
    assert carcass.dressed is not None
    assert carcass.dressed.mass_mg == 25_340_000
    assert carcass.skin == "off"
    assert [piece.words() for piece in carcass.standing()] == ["neck"]
    assert len(place.books.carcasses) == 1


def test_commands_that_make_no_sense_are_refused_in_words_and_counted() -> None:
    store = MemoryStore()
    outcomes = take(place_over(store), session([(1, "ledger strike that"), (3, "left haunch")], until_s=10))
    assert [outcome.refused for outcome in outcomes if outcome.refused] == ["no carcass is open"]
    end = list(store.entries())[-1].body
    assert isinstance(end, SessionEnded)
    assert end.counts == {"no carcass is open": 2}


def test_a_tag_with_no_carcass_in_hand_begins_one() -> None:
    store = MemoryStore()
    rail = lines("rail", [bench.Put(1, 8200)], 20)
    talk = [(1.0, "ledger tag four one seven"), (6, "ledger dressed weight")]
    take(place_over(store), session(talk, rail, until_s=20))
    books = Books(store.entries())
    assert [(c.tag, c.dressed is not None) for c in books.carcasses.values()] == [("417", True)]


def test_a_dressed_weight_that_cannot_be_taken_begins_no_carcass() -> None:
    store = MemoryStore()
    outcomes = take(place_over(store), session([(1.0, "ledger dressed weight")], until_s=20))
    assert [outcome.refused for outcome in outcomes if outcome.refused] == ["nothing lies still on the scale"]
    assert not Books(store.entries()).carcasses


def test_a_call_with_no_carcass_in_hand_is_answered() -> None:
    place = place_over(MemoryStore())
    outcomes = take(place, session([(1.0, "left haunch")], until_s=5))
    assert [saying.text for outcome in outcomes for saying in place.replies.to(outcome)] == [
        "no carcass open"
    ]


def test_resting_hears_nothing_until_woken() -> None:
    store = MemoryStore()
    pan = lines("bench", [bench.Put(9, 900), bench.Put(20, 600)], 40)
    talk = [*OPENING, (5, "ledger rest"), (7, "neck"), (15, "ledger wake"), (18, "flank")]
    take(place_over(store), session(talk, pan, until_s=40))
    assert pieces(store) == [("flank", 600)]


def test_without_questions_what_would_be_asked_is_left_unnamed_and_nothing_is_asked() -> None:
    store = MemoryStore()
    listener = Listener(TypedRecogniser(), VOCABULARY.listening())
    config = Config(answers=AnswerSettings(questions=False))
    occasion = Occasion("live", STARTED_AT, "typed words")
    place = workplace(config, store, VOCABULARY, occasion, scales={}, listener=listener)
    pan = lines("bench", [bench.Put(8, 4135), bench.Take(14, 4135), bench.Put(20, 600)], 45)
    talk = [*OPENING, (6, "left haunch")]
    outcomes = take(place, session(talk, pan, until_s=45))
    assert not [outcome for outcome in outcomes if isinstance(outcome.cause, Question)]
    assert pieces(store) == [("left haunch", 4135), ("unnamed", 600)]


def test_who_works_is_entered_with_every_piece() -> None:
    store = MemoryStore()
    pan = lines("bench", [bench.Put(8, 900)], 30)
    take(place_over(store, butcher="Ann"), session([*OPENING, (6, "neck")], pan, until_s=30))
    carcass = list(Books(store.entries()).carcasses.values())[-1]
    assert [piece.entered.by for piece in carcass.standing()] == ["Ann"]


def test_two_butchers_call_in_turns_at_one_bench_and_each_weight_gets_its_own_call() -> None:
    """One calls before the piece lies, the other after it has settled; both at one scale."""
    store = MemoryStore()
    events: list[bench.BenchEvent] = [
        bench.Put(8, 4135),
        bench.Take(12, 4135),
        bench.Put(16, 900),
        bench.Take(21, 900),
        bench.Put(26, 3980),
        bench.Take(30, 3980),
        bench.Put(34, 850),
    ]
    one = [(6, "left haunch"), (24, "right haunch")]
    other = [(18.5, "left shank"), (36.5, "right shank")]
    talk = sorted([*OPENING, *one, *other])
    take(place_over(store), session(talk, lines("bench", events, 50), until_s=50))
    assert pieces(store) == [
        ("left haunch", 4135),
        ("left shank", 900),
        ("right haunch", 3980),
        ("right shank", 850),
    ]
