"""Every kind of fault done to one invented carcass: the suspect, where it points, what it says to do."""

from __future__ import annotations

from dataclasses import replace

import pytest

from handsfree.reconciliation.account import Account, Called, Weighing
from handsfree.reconciliation.hypotheses import Hypothesis, SuspectKind
from handsfree.reconciliation.instruments import ProcessLoss, ScaleData
from handsfree.reconciliation.plan import Expected, Plan, remaining
from handsfree.reconciliation.reconcile import Reconciliation, reconcile_account
from handsfree.reconciliation.suspects import Suspect
from handsfree.reconciliation.words import phrases_for, remedy_for, words_for_suspect
from handsfree.speech.parser import meaning_of
from handsfree.testing.shipped_words import shipped_vocabulary

POUND_KG = 0.45359237
SCALES = {
    "rail": ScaleData("rail", 20_000, 10_000.0, 0.0005, containers_mg=(820_000,)),
    "bench": ScaleData("bench", 5_000, 2_000.0, 0.0002, containers_mg=(640_000,)),
}
PROCESS = ProcessLoss(0.005, 0.0025)
#: Grams of an invented fallow carcass cut on the block.
PAIRS = {"topside": 720, "silverside": 690, "shank": 580, "shoulder": 1_270, "loin": 760, "flank": 470}
SINGLES = {"neck": 1_350, "dice": 1_500, "mince": 1_400, "bone": 5_100}
WHOLE_G = (2 * sum(PAIRS.values()) + sum(SINGLES.values())) / 0.995
PLAN = Plan(
    "block",
    tuple(Expected(cut, side, 1, g / WHOLE_G, 0.3) for cut, g in PAIRS.items() for side in ("left", "right"))
    + tuple(Expected(cut, "", 1, g / WHOLE_G, 0.4) for cut, g in SINGLES.items()),
)


def grams(number: int, mass_g: float, cut: str = "", side: str = "") -> Weighing:
    at = f"2026-11-25T09:{number % 60:02}:00Z"
    return Weighing(number, round(mass_g / 5) * 5_000, "bench", 5_000, cut=cut, side=side, posted_at=at)


def pieces() -> list[Weighing]:
    pairs = [(g + 15 * (side == "left"), cut, side) for cut, g in PAIRS.items() for side in ("left", "right")]
    rows = [*pairs, *((g, cut, "") for cut, g in SINGLES.items())]
    return [grams(n, *row) for n, row in enumerate(rows, 1)]


#: What the carcass weighs, dressed: its pieces and half a per cent for the knife.
DRESSED_G = sum(piece.mass_mg for piece in pieces()) / 1000 / 0.995


def without(*gone: tuple[str, str]) -> list[Weighing]:
    return [piece for piece in pieces() if (piece.cut, piece.side) not in gone]


def reconciled(
    record: list[Weighing], *, dressed_g: float | None = None, plan: Plan | None = PLAN, **account: object
) -> Reconciliation:
    shown_mg = round((dressed_g or DRESSED_G) / 20) * 20_000
    dressed = Weighing(0, shown_mg, "rail", 20_000, posted_at="2026-11-25T08:00:00Z")
    values: dict[str, object] = {"title": "carcass 417", "tag": "417", "skin": "off", **account}
    whole = Account(dressed=dressed, pieces=tuple(record), **values)  # type: ignore[arg-type]
    return reconcile_account(whole, SCALES, PROCESS, plan)


def first(record: list[Weighing], **more: object) -> Suspect:
    return reconciled(record, **more).suspects[0]  # type: ignore[arg-type]


def changed(number: int, **values: object) -> list[Weighing]:
    return [replace(p, **values) if p.number == number else p for p in pieces()]  # type: ignore[arg-type]


def number_of(cut: str, side: str = "") -> int:
    return next(p.number for p in pieces() if (p.cut, p.side) == (cut, side))


def test_the_carcass_itself_is_in_order() -> None:
    outcome = reconciled(pieces())
    assert outcome.suspects[0].kind is SuspectKind.NOTHING
    assert outcome.suspects[0].posterior > 0.9
    assert not outcome.questioned


def test_a_tray_left_on_the_scale_is_found_with_the_weighings_it_is_in() -> None:
    record = [replace(p, mass_mg=p.mass_mg + 640_000) if 4 <= p.number <= 8 else p for p in pieces()]
    suspect = first(record)
    assert suspect.kind is SuspectKind.TRAY_LEFT_ON
    assert set(suspect.entries) & {4, 5, 6, 7, 8}
    assert suspect.mass_mg == 5 * 640_000
    assert suspect.say == ("ledger tray",)
    assert "entries" in suspect.words


def test_a_tray_weighed_with_one_piece_points_at_the_piece_too_heavy_for_its_name() -> None:
    number = number_of("flank", "right")
    suspect = first(changed(number, mass_mg=(470 + 640) * 1000))
    assert suspect.kind is SuspectKind.CONTAINER_INCLUDED
    assert suspect.entries == (number,)
    assert suspect.moments == (f"2026-11-25T09:{number:02}:00Z",)


@pytest.mark.parametrize("cut", ["topside", "shoulder", "loin"])
def test_a_piece_read_in_pounds_is_found(cut: str) -> None:
    number = number_of(cut, "right")
    suspect = first(changed(number, mass_mg=round(PAIRS[cut] / POUND_KG / 5) * 5_000))
    assert suspect.kind is SuspectKind.WRONG_UNIT
    assert suspect.entries == (number,)
    assert "pounds taken for kilograms" in suspect.words


def test_a_scale_switched_to_pounds_is_found_from_the_moment_on() -> None:
    record = [
        replace(p, mass_mg=round(p.mass_mg / POUND_KG / 5_000) * 5_000) if p.number >= 9 else p
        for p in pieces()
    ]
    suspect = first(record)
    assert suspect.kind is SuspectKind.WRONG_UNIT
    assert suspect.entries == tuple(range(9, len(record) + 1))


def test_a_dressed_weight_in_pounds_is_found() -> None:
    suspect = first(pieces(), dressed_g=DRESSED_G / POUND_KG)
    assert (suspect.kind, suspect.entries) == (SuspectKind.WRONG_UNIT, ())
    assert suspect.say == ("ledger dressed weight",)
    assert suspect.moments == ("2026-11-25T08:00:00Z",)


def test_a_dressed_weight_with_its_hook_is_found_by_the_mass_of_the_hook() -> None:
    assert first(pieces(), dressed_g=DRESSED_G + 820).kind is SuspectKind.DRESSED_WITH_CONTAINER


def test_a_dressed_weight_of_another_carcass_is_among_the_first_two() -> None:
    kinds = [s.kind for s in reconciled(pieces(), dressed_g=1.4 * DRESSED_G).suspects[:2]]
    assert SuspectKind.OTHER_CARCASS in kinds


def test_a_scale_that_is_off_and_a_loss_taken_wrongly_are_offered_for_a_small_rest() -> None:
    record = [replace(p, mass_mg=round(0.988 * p.mass_mg / 5_000) * 5_000) for p in pieces()]
    outcome = reconciled(record)
    assert outcome.verdict.questioned
    kinds = {suspect.kind for suspect in outcome.suspects}
    assert {SuspectKind.SCALE_DRIFT, SuspectKind.PROCESS_LOSS_OFF} <= kinds
    # A pan that did not come back to zero makes the scale the likelier of the two.
    wandered = [replace(p, indication_before="0.015 kg") for p in record]
    drift, wandered_drift = (
        sum(s.posterior for s in of.suspects if s.kind is SuspectKind.SCALE_DRIFT)
        for of in (outcome, reconciled(wandered))
    )
    assert wandered_drift > drift


def test_a_piece_called_by_another_name_is_found_by_its_weight() -> None:
    # The right shoulder was called a third shank; no mass is missing.
    number = number_of("shoulder", "right")
    suspect = first(changed(number, cut="shank"))
    assert suspect.kind is SuspectKind.MISCALLED
    assert suspect.entries[-1] == number
    assert [item.words() for item in suspect.missing] == ["right shoulder"]
    assert suspect.say == ("ledger that was right shoulder",)


def test_an_unnamed_weighing_equal_to_its_neighbour_is_the_same_piece_again() -> None:
    record = pieces()
    record.insert(3, replace(record[2], number=99, cut="", side=""))
    suspect = first(record)
    assert (suspect.kind, suspect.entries) == (SuspectKind.LOGGED_TWICE, (3, 99))
    assert suspect.say == ("ledger strike that",)


def test_a_piece_logged_again_after_another_one_is_found() -> None:
    record = pieces()
    place = number_of("dice") - 1
    record.insert(place + 2, replace(record[place], number=99))
    assert first(record).entries == (place + 1, 99)


def test_two_things_at_once_are_told_together_and_each_with_its_remedy() -> None:
    record = [*without(("shoulder", "right")), grams(99, 640, "dice")]
    outcome = reconciled(record)
    suspect = next(s for s in outcome.suspects if s.kind is SuspectKind.TWO_AT_ONCE)
    assert suspect is outcome.suspects[0]
    assert set(suspect.parts) == {SuspectKind.NOT_LOGGED, SuspectKind.CONTAINER}
    assert set(suspect.say) == {"right shoulder", "ledger strike that"}
    assert ", and " in suspect.words
    assert "entry 99" in suspect.words


def test_the_call_of_a_missing_piece_raises_its_posterior() -> None:
    # Two pieces of nearly one mass are absent, one of them is missing from the sum.
    record = [
        replace(p, mass_mg=p.mass_mg + 705_000) if (p.cut, p.side) == ("shoulder", "left") else p
        for p in without(("topside", "right"), ("silverside", "right"))
    ]

    def of(outcome: Reconciliation, words: str) -> float:
        return sum(s.posterior for s in outcome.suspects if [i.words() for i in s.missing] == [words])

    quiet, called = (
        reconciled(record, unweighed=calls)
        for calls in ((), (Called("silverside", "right", number=41, posted_at="2026-11-25T09:40:00Z"),))
    )
    assert of(called, "right silverside") > of(quiet, "right silverside")
    assert called.suspects[0].kind is SuspectKind.CALLED_NOT_WEIGHED
    assert called.suspects[0].entries == (41,)
    assert called.suspects[0].moments == ("2026-11-25T09:40:00Z",)


def whole_haunch(side: str, number: int = 98) -> list[Weighing]:
    hind = [p for p in pieces() if p.side == side and p.cut in ("topside", "silverside", "shank")]
    bone_mg = 900_000
    record = [
        replace(p, mass_mg=p.mass_mg - bone_mg) if p.cut == "bone" else p for p in pieces() if p not in hind
    ]
    mass_mg = sum(p.mass_mg for p in hind) + bone_mg
    return [*record, Weighing(number, mass_mg, "bench", 5_000, cut="haunch", side=side)]


def test_a_haunch_kept_whole_is_not_short_of_its_parts() -> None:
    record = whole_haunch("left")
    assert remaining(PLAN, record) == ()
    outcome = reconciled(record)
    assert outcome.suspects[0].kind is SuspectKind.NOTHING
    assert not outcome.questioned
    assert not any(s.missing for s in outcome.suspects)


def test_a_planned_haunch_broken_down_further_is_not_short_of_the_whole() -> None:
    primals = Plan("primals", (Expected("haunch", "left", 1, 0.19), Expected("haunch", "right", 1, 0.19)))
    record = [p for p in pieces() if p.cut in ("topside", "silverside", "shank")]
    assert remaining(primals, record) == ()
    left_only = [p for p in record if p.side == "left"]
    assert [item.words() for item in remaining(primals, left_only)] == ["right haunch"]


def test_without_a_plan_one_side_whole_and_the_other_in_parts_raises_nothing() -> None:
    outcome = reconciled(whole_haunch("right"), plan=None)
    assert not outcome.questioned
    assert not any(s.missing for s in outcome.suspects)


def test_a_plan_that_has_whole_and_part_misses_each_of_them() -> None:
    plan = Plan("both", (Expected("shoulder", "left"), Expected("fore shank", "left")))
    shoulder = [grams(1, 1_200, "shoulder", "left")]
    assert [item.words() for item in remaining(plan, shoulder)] == ["left fore shank"]


def test_a_haunch_weighed_whole_and_again_in_its_parts_is_found() -> None:
    haunch = next(p for p in whole_haunch("left") if p.cut == "haunch")
    suspect = first([*pieces(), replace(haunch, mass_mg=haunch.mass_mg - 900_000)])
    assert suspect.kind is SuspectKind.WHOLE_AND_PARTS
    assert suspect.entries[-1] == 98


@pytest.mark.parametrize("kind", list(SuspectKind))
def test_every_kind_has_words_a_remedy_and_phrases_the_recorder_understands(kind: SuspectKind) -> None:
    one = Hypothesis(kind, 1.0, missing=(Expected("shank", "right"),), entries=(7,), detail="bench")
    if kind is SuspectKind.TWO_AT_ONCE:
        parts = (replace(one, kind=SuspectKind.NOT_LOGGED), replace(one, kind=SuspectKind.LOGGED_TWICE))
        one = replace(one, parts=parts)
    words, remedy = words_for_suspect(one, 600_000), remedy_for(one, "417")
    assert words
    assert "{" not in words + remedy
    assert words[-1] != "."
    assert remedy.endswith(".") or kind is SuspectKind.NOTHING
    grammar = shipped_vocabulary().everything()
    for phrase in phrases_for(one):
        # A bare dressed weight takes what stands on the scale: it is a command of its own.
        assert meaning_of(grammar, phrase) is not None, phrase
