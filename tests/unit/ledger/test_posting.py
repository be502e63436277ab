from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime
from decimal import Decimal

import pytest

from handsfree.errors import EntryError
from handsfree.ledger import entries as e
from handsfree.ledger.bookkeeper import Bookkeeper
from handsfree.ledger.books import Books, Carcass, CarcassState
from handsfree.ledger.posting import Rules, post
from handsfree.pairing.messages import (
    CallUnweighed,
    Decision,
    Instruction,
    LoadPassed,
    Method,
    PassingReason,
    PieceWeighed,
    Question,
    QuestionClosed,
    QuestionKind,
    TrayWithdrawn,
)
from handsfree.speech.meaning import Call, Command, Side, Verb
from handsfree.testing.making_messages import call, load, plateau
from handsfree.testing.memory_store import MemoryStore
from handsfree.weighing.messages import Plateau

RULES = Rules(
    destination_of=lambda said: (
        said.destination or {"haunch": "prime", "shank": "mince"}.get(said.cut, "stock")
    ),
    closing_of=lambda carcass: e.CarcassClosed(carcass.number, "explained", "fine", 0, 1),
)


class Larder:
    """Posts decisions and keeps the ledger, as the recorder does."""

    def __init__(self, *decisions: Decision) -> None:
        self.store = MemoryStore()
        started = datetime(2026, 1, 31, 7, tzinfo=UTC)
        self.keeper = Bookkeeper(self.store, Books(), session="test", started_at=started)
        self.take(*decisions)

    @property
    def books(self) -> Books:
        return self.keeper.books

    @property
    def carcass(self) -> Carcass:
        assert self.books.carcass is not None
        return self.books.carcass

    def take(self, *decisions: Decision) -> list[e.Body]:
        bodies: list[e.Body] = []
        for decision in decisions:
            bodies = post(decision, self.books, RULES)
            self.keeper.write(bodies, t_ns=decision.t_ns)
        assert Books(self.store.entries()).carcasses == self.books.carcasses
        return bodies

    def standing(self) -> list[tuple[str, str, int, str, int]]:
        return [(p.cut, p.side, p.count, p.destination, p.mass_mg) for p in self.carcass.standing()]


def say(verb: Verb, *, standing: Sequence[Plateau] = (), heard: str = "", **arguments: object) -> Instruction:
    return Instruction(1, Command(verb, **arguments), heard, tuple(standing))  # type: ignore[arg-type]


def weighed(named: Call | None, grams: int = 1000, *, t_s: float = 2.0) -> PieceWeighed:
    change = load(t_s, 0, grams)
    return PieceWeighed(
        int(t_s * 1e9), named, grams * 1000, 2041.2, Method.CLEARED_PAN, change, "words", 0.9, ("a", "b")
    )


NEW = say(Verb.NEW_CARCASS)
SAME = Call("", same_again=True)


def test_a_piece_is_entered_with_what_the_scale_sent_and_where_it_goes() -> None:
    larder = Larder(NEW)
    (body,) = larder.take(weighed(call("haunch", "left"), 3415))
    assert body == e.PieceEntered(
        carcass=1,
        cut="haunch",
        side="left",
        count=1,
        destination="prime",
        mass_mg=3_415_000,
        u_mg=2041.2,
        d_mg=5000,
        scale="bench",
        method="cleared pan",
        indication="3.415 kg",
        indication_before="0.000 kg",
        heard="words",
        confidence=0.9,
        alternatives=("a", "b"),
    )


def test_a_weight_without_a_call_is_entered_unnamed() -> None:
    larder = Larder(NEW)
    (body,) = larder.take(weighed(None))
    assert isinstance(body, e.PieceEntered)
    assert (body.cut, body.side, body.count, body.destination, body.mass_mg) == ("", "", 1, "", 1_000_000)


def test_a_spoken_weight_keeps_the_words_as_its_indication() -> None:
    larder = Larder(NEW)
    said = PieceWeighed(
        1, call("neck"), 1_250_000, 2886.8, Method.SPOKEN, None, "ledger weight one point two five"
    )
    (body,) = larder.take(said)
    assert isinstance(body, e.PieceEntered)
    assert (body.scale, body.d_mg, body.method) == ("spoken", 0, "spoken")
    assert (body.indication, body.indication_before) == ("ledger weight one point two five", "")


@pytest.mark.parametrize(
    ("said", "repeated"),
    [
        (SAME, ("shank", "left", 2, "dice")),
        (Call("", Side.RIGHT, same_again=True), ("shank", "right", 2, "dice")),
        (Call("", count=3, destination="pet", same_again=True), ("shank", "left", 3, "pet")),
    ],
)
def test_same_again_repeats_the_last_standing_piece(said: Call, repeated: tuple[object, ...]) -> None:
    larder = Larder(NEW, weighed(None), weighed(call("shank", "left", 2, "dice")), weighed(call("neck")))
    larder.take(say(Verb.STRIKE), weighed(said))
    assert larder.standing()[-1][:4] == repeated


def test_same_again_after_a_piece_without_a_name_is_not_the_piece_before_that() -> None:
    # Dice, not understood, then "same again": it is no second rump.
    larder = Larder(NEW, weighed(call("rump")), weighed(None), weighed(SAME))
    assert [piece[0] for piece in larder.standing()] == ["rump", "", ""]


def test_same_again_with_nothing_before_it_keeps_the_weight_unnamed() -> None:
    larder = Larder(NEW, weighed(SAME))
    assert larder.standing() == [("", "", 1, "", 1_000_000)]


def test_a_call_without_a_weight_is_noted_on_the_carcass() -> None:
    larder = Larder(NEW, CallUnweighed(1, call("liver"), "liver"), CallUnweighed(2, SAME, "same again"))
    assert [(u.cut, u.heard) for u in larder.carcass.unweighed] == [("liver", "liver"), ("", "same again")]


def test_what_is_passed_over_or_asked_leaves_no_mark() -> None:
    larder = Larder(NEW)
    assert larder.take(LoadPassed(1, load(2, 0, 100), PassingReason.BRIEF)) == []
    asked = Question(1, 1, QuestionKind.WHAT_WAS_THAT, (), 640_000_000)
    assert larder.take(asked) == []
    assert larder.take(QuestionClosed(1, asked, None)) == []
    for verb in (Verb.READ_BACK, Verb.WHAT_REMAINS, Verb.TOTAL, Verb.REST, Verb.WAKE, Verb.SPOKEN_WEIGHT):
        assert larder.take(say(verb)) == []


@pytest.mark.parametrize(
    "decision",
    [
        weighed(call("haunch")),
        CallUnweighed(1, call("haunch"), ""),
        say(Verb.TAG, digits="1"),
        say(Verb.DESCRIBE, species="roe deer"),
        say(Verb.DRESSED_WEIGHT, number=Decimal(20)),
        say(Verb.CLOSE_CARCASS),
        say(Verb.PARK_CARCASS),
        say(Verb.STRIKE),
        say(Verb.PUT_BACK),
        say(Verb.THAT_WAS, call=call("neck")),
        say(Verb.CORE_TEMPERATURE, number=Decimal(3)),
        say(Verb.PLAN, plan="primals"),
    ],
)
def test_without_an_open_carcass_it_says_so(decision: Decision) -> None:
    larder = Larder()
    with pytest.raises(EntryError) as caught:
        larder.take(decision)
    assert caught.value.what == "no carcass is open"
    assert larder.store.rows == []


@pytest.mark.parametrize(
    ("decision", "sentence"),
    [
        (say(Verb.STRIKE), "there is nothing to strike"),
        (say(Verb.PUT_BACK), "there is nothing to put back"),
        (say(Verb.THAT_WAS, call=call("neck")), "there is no piece to rename"),
        (say(Verb.TAG), "no tag number was heard"),
        (say(Verb.DESCRIBE), "no species was heard"),
        (say(Verb.DRESSED_WEIGHT), "nothing lies still on the scale"),
        (say(Verb.DRESSED_WEIGHT, number=Decimal(0)), "a dressed weight must be more than nothing"),
        (say(Verb.TRAY), "nothing lies still on the scale"),
        (say(Verb.TRAY, standing=[plateau(1, -5)]), "the scale shows less than nothing"),
        (say(Verb.RESUME, digits="9"), "there is no carcass 9"),
        (say(Verb.RESUME), "no carcass is parked"),
        (say(Verb.CORE_TEMPERATURE), "no temperature was heard"),
        (say(Verb.STERILISER), "no temperature was heard"),
        (say(Verb.NOTE), "no note was heard"),
        (say(Verb.PLAN), "no plan was heard"),
        (weighed(call("neck"), 0), "a piece must weigh more than nothing"),
    ],
)
def test_what_makes_no_sense_is_refused_in_words_fit_to_be_said(decision: Decision, sentence: str) -> None:
    larder = Larder(NEW)
    with pytest.raises(EntryError) as caught:
        larder.take(decision)
    assert caught.value.what == sentence


def test_strike_takes_back_the_last_piece_and_put_back_undoes_the_last_strike() -> None:
    larder = Larder(NEW, weighed(call("haunch"), 1), weighed(call("neck"), 2), weighed(None, 4))
    larder.take(say(Verb.STRIKE), say(Verb.STRIKE))
    assert larder.carcass.total_mg() == 1000
    larder.take(say(Verb.PUT_BACK))
    assert [p[0] for p in larder.standing()] == ["haunch", "neck"]
    larder.take(say(Verb.PUT_BACK))
    assert larder.carcass.total_mg() == 7000
    with pytest.raises(EntryError, match="nothing to put back"):
        larder.take(say(Verb.PUT_BACK))
    larder.take(say(Verb.STRIKE))
    assert larder.carcass.total_mg() == 3000


def test_that_was_renames_the_last_piece_and_keeps_its_weight() -> None:
    larder = Larder(NEW, weighed(call("shank", "left"), 800), weighed(None, 700))
    larder.take(say(Verb.THAT_WAS, call=call("haunch", "right", 2), heard="ledger that was two right haunch"))
    assert larder.standing()[-1] == ("haunch", "right", 2, "prime", 700_000)
    larder.take(say(Verb.THAT_WAS, call=SAME))
    assert larder.standing()[-1] == ("shank", "left", 1, "mince", 700_000)


def test_a_side_put_right_leaves_where_the_piece_goes() -> None:
    larder = Larder(NEW, weighed(Call("haunch", Side.LEFT, destination="pet"), 700))
    right = call("haunch", "right")
    larder.take(say(Verb.THAT_WAS, call=right))
    assert larder.standing()[-1] == ("haunch", "right", 1, "pet", 700_000)
    larder.take(say(Verb.THAT_WAS, call=right))
    assert larder.standing()[-1] == ("haunch", "right", 1, "prime", 700_000), "said as it is: as usual"
    larder.take(say(Verb.THAT_WAS, call=Call("haunch", Side.LEFT, destination="stock")))
    assert larder.standing()[-1] == ("haunch", "left", 1, "stock", 700_000)
    larder.take(say(Verb.THAT_WAS, call=call("shank", "left")))
    assert larder.standing()[-1] == ("shank", "left", 1, "mince", 700_000), "another cut goes its own way"


def test_the_tray_is_what_stands_on_the_pan_and_not_on_the_rail() -> None:
    larder = Larder(NEW, say(Verb.TRAY, standing=[plateau(2, 24600, "rail"), plateau(1, 1250)]))
    tray = larder.books.containers["bench"]
    assert (tray.mass_mg, tray.indication, tray.u_mg) == (1_250_000, "1.250 kg", 5000 / 12**0.5)
    larder.take(say(Verb.TRAY, standing=[plateau(3, 0)]))
    assert larder.books.containers["bench"].mass_mg == 0


def test_the_dressed_weight_is_taken_from_the_rail_before_the_bench() -> None:
    larder = Larder(NEW, say(Verb.DRESSED_WEIGHT, standing=[plateau(2, 900), plateau(1, 24600, "rail")]))
    assert larder.carcass.dressed == e.DressedWeightTaken(
        1, 24_600_000, 5000 / 12**0.5, 5000, "rail", "24.600 kg"
    )


def test_the_dressed_weight_on_the_bench_is_without_the_container() -> None:
    larder = Larder(NEW, say(Verb.TRAY, standing=[plateau(1, 1250)]))
    with pytest.raises(EntryError, match="Nothing lies still"):
        larder.take(say(Verb.DRESSED_WEIGHT, standing=[plateau(2, 1250)]))
    larder.take(say(Verb.DRESSED_WEIGHT, standing=[plateau(2, 9000)]))
    dressed = larder.carcass.dressed
    assert dressed is not None
    assert dressed.mass_mg == 7_750_000
    assert dressed.u_mg == pytest.approx(5000 / 6**0.5)  # two readings of d/sqrt(12), in quadrature


@pytest.mark.parametrize(
    ("said", "mass_mg", "last_decimal_mg"),
    [("24.6", 24_600_000, 100_000), ("24", 24_000_000, 1_000_000), ("24.65", 24_650_000, 10_000)],
)
def test_a_spoken_dressed_weight_is_as_uncertain_as_its_last_decimal(
    said: str, mass_mg: int, last_decimal_mg: int
) -> None:
    larder = Larder(NEW, say(Verb.DRESSED_WEIGHT, number=Decimal(said), heard="words"))
    dressed = larder.carcass.dressed
    assert dressed is not None
    assert (dressed.mass_mg, dressed.d_mg, dressed.scale, dressed.indication) == (
        mass_mg,
        0,
        "spoken",
        "words",
    )
    assert dressed.u_mg == pytest.approx(last_decimal_mg / 12**0.5)  # JCGM 100:2008, F.2.2.1


def test_tag_description_temperature_and_note_are_kept_on_the_carcass() -> None:
    larder = Larder(NEW, say(Verb.TAG, digits="417"), say(Verb.DESCRIBE, species="fallow deer", sex="doe"))
    larder.take(say(Verb.CORE_TEMPERATURE, number=Decimal("3.5")), say(Verb.STERILISER, number=Decimal(82)))
    larder.take(say(Verb.NOTE, note="bloodshot"), say(Verb.DESCRIBE, species="roe deer"))
    carcass = larder.carcass
    assert (carcass.tag, carcass.species, carcass.sex) == ("417", "roe deer", "doe")
    assert [(t.what, t.celsius) for t in carcass.temperatures] == [("core", "3.5"), ("steriliser", "82")]
    assert [n.text for n in carcass.notes] == ["bloodshot"]


def test_the_steriliser_and_a_note_need_no_carcass() -> None:
    larder = Larder()
    assert larder.take(say(Verb.STERILISER, number=Decimal(82))) == [
        e.TemperatureNoted(None, "steriliser", "82")
    ]
    assert larder.take(say(Verb.NOTE, note="cleaned down")) == [e.NoteMade(None, "cleaned down")]


def test_the_way_of_weighing_turns() -> None:
    larder = Larder(say(Verb.TAKING_OFF))
    assert larder.books.direction == "taking off"
    larder.take(say(Verb.PUTTING_ON))
    assert larder.books.direction == "putting on"


def test_a_new_carcass_parks_the_one_in_hand_and_resume_takes_it_up_again() -> None:
    larder = Larder(NEW, say(Verb.TAG, digits="417"), NEW, say(Verb.TAG, digits="12"))
    assert [c.state.value for c in larder.books.carcasses.values()] == ["parked", "open"]
    larder.take(say(Verb.RESUME, digits="417"))
    assert larder.books.current == 1
    with pytest.raises(EntryError, match="already open"):
        larder.take(say(Verb.RESUME, digits="417"))
    larder.take(say(Verb.PARK_CARCASS))
    assert larder.books.carcass is None
    with pytest.raises(EntryError, match="say the tag"):
        larder.take(say(Verb.RESUME))
    larder.take(say(Verb.RESUME, digits="12"), say(Verb.CLOSE_CARCASS), say(Verb.RESUME))
    assert larder.books.current == 1


def test_resume_prefers_a_parked_carcass_over_a_newer_closed_one_of_the_same_tag() -> None:
    tag = say(Verb.TAG, digits="417")
    larder = Larder(NEW, tag, NEW, tag, say(Verb.CLOSE_CARCASS), say(Verb.RESUME, digits="417"))
    assert larder.books.current == 1
    larder.take(say(Verb.CLOSE_CARCASS), say(Verb.RESUME, digits="417"))
    assert larder.books.current == 2  # all are closed: the newest
    assert larder.carcass.state is CarcassState.OPEN
    assert larder.carcass.closing is None


def test_carcass_numbers_are_never_used_again() -> None:
    larder = Larder(NEW, say(Verb.CLOSE_CARCASS), NEW, NEW)
    assert [c.number for c in larder.books.carcasses.values()] == [1, 2, 3]


def test_a_plan_said_in_mid_carcass_holds_until_another_is_said() -> None:
    larder = Larder(NEW, weighed(call("haunch"), 1))
    assert larder.take(say(Verb.PLAN, plan="primals", heard="ledger plan primals")) == [
        e.PlanChanged(1, "primals", "ledger plan primals")
    ]
    assert larder.carcass.plan == "primals"
    with pytest.raises(EntryError, match="plan is primals already"):
        larder.take(say(Verb.PLAN, plan="primals"))
    larder.take(say(Verb.PLAN, plan="block"))
    assert larder.carcass.plan == "block"


def test_strike_takes_back_whatever_came_last_a_piece_or_a_plan() -> None:
    larder = Larder(
        NEW, say(Verb.PLAN, plan="block"), weighed(call("neck"), 2), say(Verb.PLAN, plan="primals")
    )
    larder.take(say(Verb.STRIKE))
    assert (larder.carcass.plan, larder.carcass.total_mg()) == ("block", 2000)
    larder.take(say(Verb.STRIKE))
    assert (larder.carcass.plan, larder.carcass.total_mg()) == ("block", 0)
    larder.take(say(Verb.STRIKE))
    assert larder.carcass.plan == ""  # as it was opened
    with pytest.raises(EntryError, match="nothing to strike"):
        larder.take(say(Verb.STRIKE))
    larder.take(say(Verb.PUT_BACK))
    assert (larder.carcass.plan, larder.carcass.total_mg()) == ("block", 0)
    larder.take(say(Verb.PUT_BACK), say(Verb.PUT_BACK))
    assert (larder.carcass.plan, larder.carcass.total_mg()) == ("primals", 2000)


def test_a_piece_that_turns_out_to_be_the_tray_is_struck_and_the_plan_said_after_it_stays() -> None:
    larder = Larder(NEW, weighed(call("neck"), 2), say(Verb.PLAN, plan="primals"))
    larder.take(Instruction(9, Command(Verb.STRIKE), "ledger tray", pieces_only=True))
    assert (larder.carcass.plan, larder.carcass.total_mg()) == ("primals", 0)


def test_a_description_of_the_carcass_is_not_struck_by_voice() -> None:
    larder = Larder(NEW)
    larder.keeper.write([e.CarcassDescribed(1, plan="block")], t_ns=5)
    with pytest.raises(EntryError, match="nothing to strike"):
        larder.take(say(Verb.STRIKE))
    with pytest.raises(EntryError, match="is not a piece"):
        larder.keeper.write([e.EntryReversed(larder.books.last_seq, "x")], t_ns=6)


def test_a_tray_withdrawn_leaves_the_one_before_it_on_the_scale() -> None:
    first, second = e.ContainerSet("bench", 1_180_000, "1.180"), e.ContainerSet("bench", 640_000, "0.640")
    larder = Larder(NEW)
    larder.keeper.write([first, second], t_ns=1)
    assert larder.take(TrayWithdrawn(1, "bench")) == [first]
    larder = Larder(NEW)
    larder.keeper.write([second], t_ns=1)
    assert larder.take(TrayWithdrawn(1, "bench")) == [e.ContainerSet("bench", 0, "no container")]
