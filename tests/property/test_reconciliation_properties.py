"""What holds of every balance: it closes, order does not matter, shared sources cancel."""

from __future__ import annotations

import json
from contextlib import suppress
from dataclasses import replace
from math import sqrt

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from uncertainties import ufloat

from handsfree.errors import BalanceError
from handsfree.pairing.messages import Method
from handsfree.reconciliation.account import Account, Weighing
from handsfree.reconciliation.balance import balance_account
from handsfree.reconciliation.budget import Budget, Source, SourceKind
from handsfree.reconciliation.document import Document, document_from_json, document_to_json
from handsfree.reconciliation.instruments import ProcessLoss, ScaleData
from handsfree.reconciliation.plan import Expected, Plan
from handsfree.reconciliation.reconcile import reconcile_account
from handsfree.reconciliation.weighings import weighings_budget

SCALES = {
    "bench": ScaleData("bench", 5_000, 2_000.0, 0.0002, 0.0001, (640_000,)),
    "rail": ScaleData("rail", 20_000, None, None),
}
PLAN = Plan("p", (Expected("haunch", "left", 1, 0.2), Expected("haunch", "right", 1, 0.2), Expected("mince")))

masses_mg = st.integers(1, 60_000_000)
sources = st.builds(
    Source, st.sampled_from(SourceKind), st.sampled_from(["a", "b"]), st.sampled_from(["", "1"])
)
budgets = st.lists(st.tuples(sources, st.floats(-1e6, 1e6)), max_size=8).map(Budget)
weighings = st.builds(
    Weighing,
    number=st.just(0),
    mass_mg=masses_mg,
    scale=st.sampled_from(["bench", "rail", "unknown", "spoken"]),
    d_mg=st.sampled_from([0, 1_000, 5_000]),
    u_mg=st.floats(0, 20_000),
    method=st.sampled_from(Method),
    tare=st.sampled_from(["", "", "tub"]),
    cut=st.sampled_from(["haunch", "shank", "mince", ""]),
    side=st.sampled_from(["left", "right", ""]),
    destination=st.sampled_from(["prime", "mince", ""]),
    struck=st.booleans(),
    posted_at=st.sampled_from(["", "2026-11-25T08:00:00Z", "2026-11-26T09:30:00Z", "at noon"]),
)
cleared = weighings.map(lambda w: replace(w, method=Method.CLEARED_PAN))


def numbered(pieces: list[Weighing]) -> tuple[Weighing, ...]:
    return tuple(replace(piece, number=n) for n, piece in enumerate(pieces, 1))


@st.composite
def accounts(draw: st.DrawFn, pieces: st.SearchStrategy[Weighing] = weighings) -> Account:
    dressed = draw(st.none() | st.builds(Weighing, st.just(0), masses_mg, st.sampled_from(["rail", "bench"])))
    state = draw(st.sampled_from(["", "hot", "cold"]))
    return Account(
        "c", dressed=dressed, hot_or_cold=state, pieces=numbered(draw(st.lists(pieces, max_size=8)))
    )


processes = st.builds(
    ProcessLoss, st.floats(0, 0.05), st.floats(0, 0.02), st.floats(0, 0.05), st.floats(0, 0.02)
)


@settings(deadline=None)
@given(accounts(), processes)
def test_every_balance_closes_to_the_milligram(account: Account, process: ProcessLoss) -> None:
    balance = balance_account(account, SCALES, process, PLAN)
    assert balance.closes()
    assert balance.pieces_mg == sum(p.mass_mg for p in account.pieces if not p.struck)


@settings(deadline=None)
@given(accounts(cleared), processes, st.randoms(use_true_random=False))
def test_the_order_of_pieces_weighed_one_by_one_does_not_matter(
    account: Account, process: ProcessLoss, random: object
) -> None:
    shuffled = list(account.pieces)
    random.shuffle(shuffled)  # type: ignore[attr-defined]
    one = balance_account(account, SCALES, process)
    two = balance_account(replace(account, pieces=tuple(shuffled)), SCALES, process)
    assert (one.lines, one.unaccounted_mg) == (two.lines, two.unaccounted_mg)
    assert one.pieces_budget.u_mg == pytest.approx(two.pieces_budget.u_mg, rel=1e-12)


@settings(deadline=None)
@given(budgets)
def test_a_quantity_less_itself_has_no_uncertainty(budget: Budget) -> None:
    assert (budget - budget).u_mg == 0.0


@settings(deadline=None)
@given(budgets, budgets, st.floats(-10, 10))
def test_sums_and_multiples_agree_with_the_uncertainties_library(
    one: Budget, two: Budget, factor: float
) -> None:
    units = {source: ufloat(0, 1) for source in {*one.terms, *two.terms}}

    def value(budget: Budget) -> object:
        return sum(part * units[source] for source, part in budget.terms.items())

    outside = value(one) - factor * value(two)  # type: ignore[operator]
    expected = getattr(outside, "std_dev", 0.0)
    assert (one - two.scaled(factor)).u_mg == pytest.approx(expected, rel=1e-9, abs=1e-6)


@settings(deadline=None)
@given(budgets, budgets)
def test_a_sum_is_no_more_uncertain_than_its_parts_fully_correlated(one: Budget, two: Budget) -> None:
    assert (one + two).u_mg <= (one.u_mg + two.u_mg) * (1 + 1e-12)


@settings(deadline=None)
@given(st.lists(weighings, max_size=8), weighings)
def test_one_more_piece_never_lowers_the_coherent_parts(pieces: list[Weighing], more: Weighing) -> None:
    before = weighings_budget(pieces, SCALES).by_kind()
    after = weighings_budget([*pieces, more], SCALES).by_kind()
    for kind in (SourceKind.SPAN, SourceKind.TARE):
        assert after.get(kind, 0.0) >= before.get(kind, 0.0)


@settings(deadline=None)
@given(
    st.lists(masses_mg, min_size=1, max_size=8), st.sampled_from([Method.TRAY_BUILDING, Method.TAKING_OFF])
)
def test_a_run_knows_only_its_first_and_last_reading(parts: list[int], method: Method) -> None:
    pieces = [Weighing(n, mass_mg, "bench", 5_000, method=method) for n, mass_mg in enumerate(parts)]
    scales = {"bench": ScaleData("bench", 5_000, 2_000.0, 0.0)}
    assert weighings_budget(pieces, scales).u_mg == pytest.approx(sqrt(2 * 5_000**2 / 12 + 2 * 2_000**2))


@settings(max_examples=60, deadline=None)
@given(accounts(), processes)
def test_posteriors_sum_to_one_and_always_offer_nothing_and_none(
    account: Account, process: ProcessLoss
) -> None:
    outcome = reconcile_account(account, SCALES, process, PLAN)
    assert sum(suspect.posterior for suspect in outcome.suspects) == pytest.approx(1.0, abs=1e-9)
    kinds = {suspect.kind.value for suspect in outcome.suspects}
    assert {"nothing wrong", "none of these"} <= kinds
    assert all(0.0 <= suspect.posterior <= 1.0 for suspect in outcome.suspects)
    assert outcome.sentence()
    assert outcome.spoken()


@settings(max_examples=60, deadline=None)
@given(accounts(), processes)
def test_a_document_written_and_read_back_gives_the_same_balance(
    account: Account, process: ProcessLoss
) -> None:
    document = Document(account, SCALES, process, PLAN)
    again = document_from_json(json.loads(json.dumps(document_to_json(document))))
    one, two = document.reconcile(), again.reconcile()
    assert [replace(p, u_mg=0.0) for p in again.account.pieces] == [
        replace(p, u_mg=0.0) for p in account.pieces
    ]
    assert [p.u_mg for p in again.account.pieces] == pytest.approx(
        [p.u_mg for p in account.pieces], rel=1e-12
    )
    assert two.balance.unaccounted_mg == one.balance.unaccounted_mg
    assert two.verdict.kind is one.verdict.kind


json_values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=5),
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(
            st.sampled_from(["format", "pieces", "dressed", "scales", "net_g", "d_g", "x"]), inner, max_size=4
        )
    ),
    max_leaves=12,
)


@settings(deadline=None)
@given(json_values)
def test_any_json_is_a_document_or_a_balance_error(parsed: object) -> None:
    for value in (parsed, {"format": 1, "pieces": [parsed]}, {"format": 1, "pieces": [], "dressed": parsed}):
        with suppress(BalanceError):  # any other exception fails the test
            assert isinstance(document_from_json(value), Document)
