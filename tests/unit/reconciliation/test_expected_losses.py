"""Expected losses stay apart by cause, and follow the time since the dressed weight was taken."""

from __future__ import annotations

from math import exp, sqrt

import pytest

from handsfree.reconciliation.account import Account, Weighing
from handsfree.reconciliation.balance import balance_account
from handsfree.reconciliation.budget import SourceKind
from handsfree.reconciliation.instruments import PROCESS_UNKNOWN, ProcessLoss, ScaleData
from handsfree.reconciliation.losses import chilled_share, hours_before_cutting, losses_of
from handsfree.reconciliation.plan import Plan

SCALES = {"rail": ScaleData("rail", 20_000, 10_000.0, 0.0), "bench": ScaleData("bench", 5_000, 2_000.0, 0.0)}
LOSS = ProcessLoss(0.007, 0.003, 0.017, 0.005, drip=0.002, drip_sd=0.001)


def account(hours: float | None, *, hot: bool = False, **more: object) -> Account:
    values: dict[str, object] = {"skin": "off", "hot_or_cold": "hot" if hot else "cold", **more}
    return Account(
        "c",
        dressed=Weighing(0, 20_000_000, "rail", 20_000),
        pieces=(Weighing(1, 19_000_000, "bench", 5_000),),
        hours_before_cutting=hours,
        **values,  # type: ignore[arg-type]
    )


def fractions(of: Account, process: ProcessLoss = LOSS) -> dict[str, float]:
    return {loss.cause: loss.fraction for loss in losses_of(of, process)}


def test_chilling_reaches_92_hundredths_of_72_hours_in_36() -> None:
    # Smith & Carpenter 1973, J. Anim. Sci. 36(5):862: of the loss in 72 h, 92 % came in the first 36 h.
    tau = 14.7
    assert (1 - exp(-36 / tau)) / (1 - exp(-72 / tau)) == pytest.approx(0.92, abs=0.001)
    # By hand: (1 - exp(-6/14.7)) / (1 - exp(-24/14.7)) = 0.33514/0.80461.
    assert chilled_share(6) == pytest.approx(0.4165, abs=5e-4)
    assert chilled_share(0) == 0
    assert chilled_share(24) == chilled_share(200) == chilled_share(None) == 1


def test_a_carcass_cut_hot_has_not_lost_what_a_night_takes() -> None:
    at_once, next_day = fractions(account(0.5, hot=True)), fractions(account(24, hot=True))
    assert at_once["chilling"] == pytest.approx(0.017 * chilled_share(0.5))
    assert at_once["chilling"] < 0.001
    assert next_day["chilling"] == pytest.approx(0.017)
    assert fractions(account(24))["chilling"] == 0  # weighed cold


def test_a_cold_carcass_dries_by_the_day_and_half_as_fast_in_skin() -> None:
    assert fractions(account(48))["drying"] == pytest.approx(2 * 0.005)
    assert fractions(account(48, skin="on"))["drying"] == pytest.approx(0.005)
    # Two days hot: the first day is chilling, the second drying.
    two_days_hot = fractions(account(48, hot=True))
    assert (two_days_hot["chilling"], two_days_hot["drying"]) == pytest.approx((0.017, 0.005))


def test_chilling_cutting_drip_and_drying_are_never_mixed() -> None:
    balance = balance_account(account(36, hot=True), SCALES, LOSS)
    # By hand, of 20 kg: 0.7 % cutting, 0.2 % drip, 1.7 % chilling, half a day at 0.5 % drying.
    assert (
        balance.cutting_loss_mg, balance.drip_loss_mg, balance.chill_loss_mg, balance.drying_loss_mg
    ) == (140_000, 40_000, 340_000, 50_000)  # fmt: skip
    assert balance.unaccounted_mg == 20_000_000 - 19_000_000 - 570_000
    assert balance.closes()
    assert balance.budget is not None
    by_cause = {s.scale: abs(u) for s, u in balance.budget.terms.items() if s.kind is SourceKind.PROCESS}
    assert by_cause == pytest.approx(
        {"cutting": 60_000, "drip": 20_000, "chilling": 100_000, "drying": 20_000}
    )


def test_the_time_is_that_of_the_weighings_on_a_scale() -> None:
    dressed = Weighing(0, 20_000_000, "rail", posted_at="2026-11-24T08:00:00Z")
    pieces = (
        Weighing(1, 1_000_000, "bench", posted_at="2026-11-25T08:00:00Z"),
        Weighing(2, 3_000_000, "bench", posted_at="2026-11-25T12:00:00Z"),
    )
    # By hand, by mass: (1·24 + 3·28)/4 = 27 h.
    assert hours_before_cutting(Account("c", dressed=dressed, pieces=pieces)) == pytest.approx(27)
    said = Weighing(0, 20_000_000, "spoken", posted_at="2026-11-24T08:00:00Z")
    assert hours_before_cutting(Account("c", dressed=said, pieces=pieces)) is None
    backwards = Weighing(0, 20_000_000, "rail", posted_at="2026-11-26T08:00:00Z")
    assert hours_before_cutting(Account("c", dressed=backwards, pieces=pieces)) is None
    assert hours_before_cutting(Account("c", dressed=dressed, pieces=pieces[:0])) is None


def test_a_hot_weight_of_unknown_time_counts_as_chilled_and_says_so() -> None:
    balance = balance_account(account(None, hot=True), SCALES, LOSS, Plan("none"))
    assert balance.chill_loss_mg == 340_000
    assert any("chilling counts as finished" in note for note in balance.notes)


def test_what_is_not_known_of_the_cutting_is_mostly_the_way_of_it() -> None:
    # Mixture of two equal parts (0.35 ± 0.12, 1.00 ± 0.39): variance = mean of the variances + that
    # of the means.
    by_hand = sqrt((0.12**2 + 0.39**2) / 2 + ((1.0 - 0.35) / 2) ** 2)
    assert PROCESS_UNKNOWN.cutting_sd * 100 == pytest.approx(by_hand, abs=0.01)
    assert PROCESS_UNKNOWN.cutting * 100 == pytest.approx((0.35 + 1.0) / 2, abs=0.03)
