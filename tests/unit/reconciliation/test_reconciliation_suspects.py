"""Suspects: posteriors sum to 1, and the obvious culprit of an invented carcass comes first."""

from __future__ import annotations

from dataclasses import replace
from math import exp, hypot, sqrt

import pytest

from handsfree.reconciliation.account import Account, Called, Weighing
from handsfree.reconciliation.hypotheses import SuspectKind
from handsfree.reconciliation.instruments import ProcessLoss, ScaleData
from handsfree.reconciliation.plan import Expected, Plan
from handsfree.reconciliation.reconcile import Reconciliation, reconcile_account

SCALES = {
    "rail": ScaleData("rail", 20_000, 10_000.0, 0.0005),
    "bench": ScaleData("bench", 5_000, 2_000.0, 0.0002, containers_mg=(640_000,)),
}
PROCESS = ProcessLoss(0.005, 0.0025)
PAIRS = {"haunch": 3_900, "shoulder": 1_700, "shank": 520, "loin": 900}
SINGLES = {"neck": 1_600, "dice": 1_250, "mince": 1_100, "bone": 4_300}
PLAN = Plan(
    "whole",
    tuple(Expected(cut, side, 1, g / 22_500) for cut, g in PAIRS.items() for side in ("left", "right"))
    + tuple(Expected(cut, "", 1, g / 22_500) for cut, g in SINGLES.items()),
)


def grams(number: int, mass_g: int, cut: str = "", side: str = "") -> Weighing:
    return Weighing(number, mass_g * 1000, "bench", 5_000, 2_900.0, cut=cut, side=side)


def whole_carcass() -> list[Weighing]:
    pairs = [(g + 5 * (side == "left"), cut, side) for cut, g in PAIRS.items() for side in ("left", "right")]
    rows = [*pairs, *((g, cut, "") for cut, g in SINGLES.items())]
    return [grams(n, *row) for n, row in enumerate(rows, 1)]


def reconciled(pieces: list[Weighing], plan: Plan | None = PLAN, **account: object) -> Reconciliation:
    true_mg = sum(piece.mass_mg for piece in whole_carcass())
    dressed = Weighing(0, round(true_mg / 0.995 / 20_000) * 20_000, "rail", 20_000)
    values: dict[str, object] = {"title": "carcass 417", "tag": "417", "skin": "off", **account}
    whole = Account(dressed=dressed, pieces=tuple(pieces), **values)  # type: ignore[arg-type]
    return reconcile_account(whole, SCALES, PROCESS, plan)


def first(outcome: Reconciliation) -> tuple[SuspectKind, tuple[int, ...], list[str]]:
    suspect = outcome.suspects[0]
    return suspect.kind, suspect.entries, [item.words() for item in suspect.missing]


def without(cut: str, side: str = "") -> list[Weighing]:
    return [piece for piece in whole_carcass() if (piece.cut, piece.side) != (cut, side)]


def test_a_complete_carcass_has_nothing_wrong() -> None:
    outcome = reconciled(whole_carcass())
    assert first(outcome)[0] is SuspectKind.NOTHING
    assert outcome.suspects[0].posterior > 0.9
    assert not outcome.questioned
    assert outcome.headline() == ""


@pytest.mark.parametrize("cut", list(PAIRS))
def test_a_missing_half_of_a_pair_is_named_with_its_side_and_weight(cut: str) -> None:
    outcome = reconciled(without(cut, "right"))
    assert first(outcome) == (SuspectKind.NOT_LOGGED, (), [f"right {cut}"])
    suspect = outcome.suspects[0]
    assert suspect.posterior > 0.9
    assert suspect.mass_mg == pytest.approx(PAIRS[cut] * 1000, rel=0.12)
    assert f'call "right {cut}"' in suspect.remedy
    assert '"ledger resume 4 1 7"' in suspect.remedy
    assert outcome.spoken().endswith("kilograms).")
    assert f"Probably the right {cut} was not logged" in outcome.sentence()


def test_a_missing_bucket_of_bone_is_named() -> None:
    assert first(reconciled(without("bone"))) == (SuspectKind.NOT_LOGGED, (), ["bone"])


def test_two_missing_pieces_are_named_together() -> None:
    pieces = [p for p in without("shank", "right") if (p.cut, p.side) != ("loin", "left")]
    kind, _, missing = first(reconciled(pieces))
    assert (kind, sorted(missing)) == (SuspectKind.NOT_LOGGED, ["left loin", "right shank"])


def test_a_piece_called_and_never_weighed_is_a_strong_hint() -> None:
    outcome = reconciled(without("shank", "right"), unweighed=(Called("shank", "right"),))
    assert first(outcome) == (SuspectKind.CALLED_NOT_WEIGHED, (), ["right shank"])
    assert "was called but not weighed" in outcome.headline()


def test_a_call_without_a_plan_is_a_hint_too() -> None:
    pieces = without("neck")
    outcome = reconciled(pieces, None, unweighed=(Called("neck"),))
    assert first(outcome) == (SuspectKind.CALLED_NOT_WEIGHED, (), ["neck"])


def test_without_a_plan_the_other_half_of_a_pair_is_missed() -> None:
    assert first(reconciled(without("haunch", "right"), None)) == (
        SuspectKind.NOT_LOGGED, (), ["right haunch"],
    )  # fmt: skip


def test_a_planned_piece_cut_into_others_is_no_missing_piece() -> None:
    # The right shank stayed on its haunch: nothing is missing in the sum.
    pieces = [
        replace(p, mass_mg=p.mass_mg + 520_000) if (p.cut, p.side) == ("haunch", "right") else p
        for p in without("shank", "right")
    ]
    outcome = reconciled(pieces)
    assert first(outcome)[0] is SuspectKind.NOTHING
    assert not outcome.questioned


def test_an_unnamed_weighing_that_fits_is_the_planned_piece() -> None:
    pieces = [
        replace(p, cut="", side="") if (p.cut, p.side) == ("shank", "right") else p for p in whole_carcass()
    ]
    number = next(p.number for p in pieces if not p.cut)
    outcome = reconciled(pieces)
    assert first(outcome) == (SuspectKind.UNNAMED, (number,), ["right shank"])
    assert "ledger that was right shank" in outcome.suspects[0].remedy


def test_an_unnamed_hand_on_the_pan_is_no_piece() -> None:
    assert first(reconciled([*whole_carcass(), grams(99, 2_300)]))[:2] == (
        SuspectKind.UNNAMED_NOT_MEAT,
        (99,),
    )


def test_a_piece_logged_twice_is_found_by_its_equal_neighbour() -> None:
    pieces = whole_carcass()
    place = next(n for n, p in enumerate(pieces) if p.cut == "mince")
    pieces.insert(place + 1, replace(pieces[place], number=99))
    outcome = reconciled(pieces)
    assert first(outcome)[:2] == (SuspectKind.LOGGED_TWICE, (pieces[place].number, 99))
    assert "strike" in outcome.suspects[0].remedy
    assert outcome.verdict.questioned


def test_two_equal_pieces_of_one_cut_are_not_twice_one_when_the_sum_is_right() -> None:
    pieces = without("dice")
    place = len(pieces)
    pieces[place:] = [grams(97, 625, "dice"), grams(98, 625, "dice")]
    assert first(reconciled(pieces))[0] is SuspectKind.NOTHING


def test_an_empty_tray_called_dice_is_a_container_counted_as_meat() -> None:
    outcome = reconciled([*whole_carcass(), grams(99, 640, "dice")])
    assert first(outcome)[:2] == (SuspectKind.CONTAINER, (99,))


def test_a_tray_weighed_with_a_piece_is_found_by_its_mass() -> None:
    pieces = [replace(p, mass_mg=p.mass_mg + 640_000) if p.cut == "neck" else p for p in whole_carcass()]
    assert first(reconciled(pieces))[0] is SuspectKind.CONTAINER_INCLUDED


def test_a_dressed_weight_in_skin_is_suspected_when_it_is_known_to_be() -> None:
    pieces = [replace(p, mass_mg=round(p.mass_mg * 0.925)) for p in whole_carcass()]
    outcome = reconciled(pieces, skin="on")
    assert first(outcome)[0] is SuspectKind.IN_SKIN
    with_skin = reconciled([*pieces, grams(99, 1_900, "skin")], skin="on")
    assert all(suspect.kind is not SuspectKind.IN_SKIN for suspect in with_skin.suspects)


def test_a_left_haunch_recorded_twice_is_the_right_one_misnamed() -> None:
    pieces = [replace(p, side="left") if p.cut == "haunch" else p for p in whole_carcass()]
    kind, entries, missing = first(reconciled(pieces))
    assert (kind, entries, missing) == (SuspectKind.NAMED_WRONG, (1, 2), ["right haunch"])


def test_a_carcass_closed_half_way_is_not_finished() -> None:
    kind, _, missing = first(reconciled(whole_carcass()[:6]))
    assert kind is SuspectKind.NOT_FINISHED
    assert len(missing) == 6


def test_a_rest_that_fits_nothing_is_none_of_these() -> None:
    outcome = reconciled([*whole_carcass(), grams(99, 9_000, "fat")])
    assert outcome.verdict.questioned
    assert first(outcome)[0] is SuspectKind.NONE_OF_THESE


def test_without_a_dressed_weight_the_record_alone_is_judged() -> None:
    outcome = reconcile_account(Account("c", pieces=tuple(without("shank", "right"))), SCALES, PROCESS, PLAN)
    assert sum(suspect.posterior for suspect in outcome.suspects) == pytest.approx(1)
    assert any(s.missing and s.missing[0].words() == "right shank" for s in outcome.suspects)


def test_the_odds_of_two_hypotheses_are_bayes_by_hand() -> None:
    # One left haunch of 100 g and no right one, no plan, 100 g of 2 kg unaccounted. Not logged has
    # prior odds 0.3 and an expected mass of 100 g ± 5 %, nothing wrong has odds 1 and no mass.
    pieces = (grams(1, 100, "haunch", "left"), grams(2, 1_800, "bone"))
    dressed = Weighing(0, 2_000_000, "rail", 20_000)
    account = Account("c", skin="off", dressed=dressed, pieces=pieces)
    outcome = reconcile_account(account, SCALES, ProcessLoss(0.0, 0.025), None)
    # By hand, in grams: rail √(2·20²/12 + 10²) = 12.91, its span 1.0; bench 2·(2·5²/12 + 2²) = 16.33
    # under the root, its span 0.38; process 50.
    u = sqrt(12.91**2 + 1.0 + 16.33 + 0.38**2 + 50**2)
    assert outcome.balance.budget is not None
    assert outcome.balance.budget.u_mg / 1000 == pytest.approx(u, rel=1e-3)
    by_hand = 0.3 * (u / hypot(u, 5)) / exp(-0.5 * (100 / u) ** 2)
    posterior = {suspect.kind: suspect.posterior for suspect in outcome.suspects}
    ratio = posterior[SuspectKind.NOT_LOGGED] / posterior[SuspectKind.NOTHING]
    assert ratio == pytest.approx(by_hand, rel=0.01)


def test_how_uneven_a_pair_may_be_is_judged_by_the_carcass_s_own_pairs() -> None:
    from handsfree.reconciliation.balance import balance_account
    from handsfree.reconciliation.instruments import PROCESS_UNKNOWN
    from handsfree.reconciliation.scene import Scene

    def spread(*pairs: tuple[int, int]) -> float:
        pieces = tuple(
            Weighing(2 * n + k, mass_mg, "bench", 5_000, cut=f"cut {n}", side=("left", "right")[k])
            for n, pair in enumerate(pairs)
            for k, mass_mg in enumerate(pair)
        )
        return Scene(balance_account(Account("invented", pieces=pieces), {}, PROCESS_UNKNOWN), {}).pair_log_sd

    # By hand: 0.05 worth four pairs; two pairs that differ by 10 % of ln: (4 x 0.05^2 + 2 x 0.1^2)/6.
    assert spread() == pytest.approx(0.05)
    ten = (1_000_000, round(1_000_000 * 2.718281828**0.1))
    assert spread(ten, ten) == pytest.approx(((4 * 0.0025 + 2 * 0.01) / 6) ** 0.5, rel=1e-5)
    # A pair with a neighbour left on one side tells no more than 0.2: (4 x 0.05^2 + 0.2^2)/5.
    assert spread((1_000_000, 3_000_000)) == pytest.approx(((0.01 + 0.04) / 5) ** 0.5)
