"""What a called piece usually weighs is the larder's own, once enough carcasses were seen."""

from __future__ import annotations

from math import log

import pytest

from handsfree.carcass_in_hand import BooksInHand, PlanShelf
from handsfree.ledger import entries as e
from handsfree.ledger.books import open_books
from handsfree.reconciliation.learning import Share, share_prior
from handsfree.reconciliation.shares import Kind
from handsfree.speech.meaning import Call, Side
from handsfree.testing.ledger_entries import POSTED_AT, piece
from handsfree.testing.memory_store import MemoryStore
from handsfree.testing.shipped_words import shipped_vocabulary


@pytest.mark.parametrize(("carcasses", "usual_mg"), [(200, 1_600_000), (4, 2_500_000)])
def test_the_larders_own_share_counts_from_five_carcasses_on(carcasses: int, usual_mg: int) -> None:
    store = MemoryStore()
    bodies: list[e.Body] = [
        e.CarcassOpened(1, plan="primals"),
        e.CarcassDescribed(1, species="fallow", sex="doe"),
        e.DressedWeightTaken(1, 20_000_000, 2000.0, 5000, "rail", "20.000 kg"),
    ]
    store.append(bodies, session="test", t_ns=0, posted_at=POSTED_AT)
    # 8 % of 20 kg is 1.6 kg; the published 12.5 % is 2.5 kg.
    own = share_prior(0.125, 0.2).after([log(0.08)] * carcasses)
    learned = {Kind("primals", "fallow", "doe", "neck"): Share("fallow", "doe", "neck", own)}
    in_hand = BooksInHand(open_books(store), PlanShelf(shipped_vocabulary()), shipped_vocabulary(), learned)
    usual = in_hand.usual(Call("neck"))
    assert usual is not None
    assert usual.median_mg == pytest.approx(usual_mg, rel=0.01)
    # Carcasses that were all alike leave the least spread believed of one's own, 0.1; the list's is 0.35.
    assert usual.sigma == (0.1 if carcasses >= 5 else 0.35)


@pytest.mark.parametrize(("left_g", "usual_g", "against"), [
    (2_000, 2_000, "the other side"),
    (7_000, 0.076 * 34_000, "dressed weight"),
])  # fmt: skip
def test_the_other_side_is_gone_by_only_when_it_weighs_itself_as_such_a_piece_may(
    left_g: int, usual_g: float, against: str
) -> None:
    """A haunch taken for a flank must not have the other haunch taken for the other flank."""
    store = MemoryStore()
    bodies: list[e.Body] = [
        e.CarcassOpened(1, plan="primals"),
        e.DressedWeightTaken(1, 34_000_000, 2000.0, 5000, "rail", "34.000 kg"),
        piece(1, "flank", left_g * 1000, side="left"),
    ]
    store.append(bodies, session="test", t_ns=0, posted_at=POSTED_AT)
    in_hand = BooksInHand(open_books(store), PlanShelf(shipped_vocabulary()), shipped_vocabulary())
    usual = in_hand.usual(Call("flank", Side.RIGHT))
    assert usual is not None
    # 7.6 % of the dressed weight: the share of the plan (its source stands in grammar/venison.toml).
    assert usual.median_mg == pytest.approx(usual_g * 1000)
    assert usual.against == against


@pytest.mark.parametrize(
    ("call", "counted"),
    [
        (Call("flank", count=2), True),
        (Call("flank", count=3), False),
        (Call("flank", Side.LEFT, 2), False),
        (Call("bone", count=3), False),
        (Call("double chops", count=9), True),
        (Call("haunch steaks", count=6), True),
    ],
)
def test_what_may_be_called_by_number_follows_the_plan_and_the_cut_list(call: Call, counted: bool) -> None:
    store = MemoryStore()
    store.append([e.CarcassOpened(1, plan="primals")], session="test", t_ns=0, posted_at=POSTED_AT)
    in_hand = BooksInHand(open_books(store), PlanShelf(shipped_vocabulary()), shipped_vocabulary())
    assert in_hand.is_counted(call) is counted


def test_where_a_piece_goes_is_the_cut_lists_unless_the_call_says_otherwise() -> None:
    in_hand = BooksInHand(open_books(MemoryStore()), PlanShelf(shipped_vocabulary()), shipped_vocabulary())
    assert in_hand.goes_to(Call("flank")) == "mince"
    assert in_hand.goes_to(Call("flank", destination="pet")) == "pet"
    assert in_hand.is_counted(Call("flank", count=3)), "without a carcass no plan speaks against it"


@pytest.mark.parametrize("plan", ["block", "primals"])
def test_a_lot_may_weigh_anything_from_what_is_left_to_a_tub_full(plan: str) -> None:
    """Common practice, no source: the last lot of bone is what is left, a joint is cut where it is cut."""
    store = MemoryStore()
    bodies: list[e.Body] = [
        e.CarcassOpened(1, plan=plan),
        e.DressedWeightTaken(1, 25_000_000, 2000.0, 5000, "rail", "25.000 kg"),
    ]
    store.append(bodies, session="test", t_ns=0, posted_at=POSTED_AT)
    in_hand = BooksInHand(open_books(store), PlanShelf(shipped_vocabulary()), shipped_vocabulary())
    lot, joint = in_hand.usual(Call("bone")), in_hand.usual(Call("neck"))
    assert lot is not None
    assert joint is not None
    assert (lot.sigma, joint.sigma) == (1.0, 0.35)
