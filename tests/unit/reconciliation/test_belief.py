"""What a closing keeps of losses and shares: it reads back whole, and says where it came from."""

from __future__ import annotations

from dataclasses import replace
from math import inf

import pytest

from handsfree.ledger import entries as e
from handsfree.ledger.digest import ZERO_DIGEST, chain
from handsfree.reconciliation.belief import Belief, UsualShare, belief_from_records, belief_to_records
from handsfree.reconciliation.instruments import PROCESS_BY_HAND, PROCESS_UNKNOWN
from handsfree.reconciliation.plan import Expected, Plan
from handsfree.testing.ledger_entries import POSTED_AT

LEARNED = Belief(
    replace(PROCESS_BY_HAND, cutting=0.1 / 3, cutting_sd=0.0017, cutting_dof=16.0, carcasses=12, drip=0.001),
    {"neck": UsualShare(0.1 / 7, 0.123, 9, "fallow"), "haunch": UsualShare(0.2, 0.1, 12, "fallow doe")},
)


@pytest.mark.parametrize("belief", [LEARNED, Belief(PROCESS_UNKNOWN)], ids=["learned", "usual"])
def test_what_was_believed_comes_back_from_the_ledger_to_the_last_bit(belief: Belief) -> None:
    body = e.CarcassClosed(1, "explained", "", 0, 0, "", belief_to_records(belief))
    [(entry, _)] = chain([body], session="s", t_ns=0, posted_at=POSTED_AT, after=(0, ZERO_DIGEST))
    assert isinstance(entry.body, e.CarcassClosed)
    assert belief_from_records(entry.body.believed) == belief


def test_a_closing_that_kept_nothing_tells_nothing() -> None:
    assert belief_from_records(()) is None


def test_the_sheet_says_where_the_loss_came_from() -> None:
    assert LEARNED.origin() == "Expected losses: cutting from 12 closed carcasses of this larder."
    assert "usual figures" in Belief(PROCESS_UNKNOWN).origin()
    both = Belief(replace(LEARNED.process, hot_carcasses=6))
    assert both.origin() == (
        "Expected losses: cutting from 12 closed carcasses and chilling from 6 closed carcasses weighed hot"
        " of this larder."
    )
    assert PROCESS_UNKNOWN.cutting_dof == inf


def test_learned_shares_take_the_place_of_the_plans() -> None:
    plan = Plan("block", (Expected("neck", share=0.06, spread=0.35), Expected("rump", "left", share=0.03)))
    neck, rump = LEARNED.planned(plan).expected
    assert (neck.share, neck.spread) == (0.1 / 7, 0.123)
    assert rump == plan.expected[1]
