"""A season by hand, against published shares, and against the figures of single carcasses."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta, timezone
from decimal import Decimal

import pytest

from handsfree.ledger import entries as e
from handsfree.ledger.books import Books
from handsfree.reconciliation.portions import portions_of
from handsfree.reconciliation.price_list import PriceList
from handsfree.reconciliation.proceeds import evenness, utilisation, value_of
from handsfree.reconciliation.season import By, Figure, Season, SeasonRules, season_of
from handsfree.reconciliation.season_figures import Doubt, figures_of_season
from handsfree.reconciliation.watch import Usual
from handsfree.reconciliation.worth import worths_of
from handsfree.testing.invented_season import Drift, Event, fill, season_events
from handsfree.testing.ledger_entries import POSTED_AT, piece
from handsfree.testing.memory_store import MemoryStore

PRICES = PriceList(
    "EUR",
    {"loin": Decimal("42.5"), "double chops": Decimal("24.95")},
    {"prime": Decimal("18.0001"), "mince": Decimal(6)},
    date(2026, 4, 1),
)


def store_of(*events: Event) -> MemoryStore:
    store = MemoryStore()
    fill(store, events)
    return store


def season(*events: Event, by: By = By.SPECIES, **options) -> Season:
    return season_of(figures_of_season(store_of(*events).closed_between("", "")), by, **options)


def carcass(number: int, dressed_mg: int | None, *pieces: e.PieceEntered, **said) -> list[e.Body]:
    bodies: list[e.Body] = [e.CarcassOpened(number), e.CarcassDescribed(number, **({"skin": "off"} | said))]
    if dressed_mg is not None:
        bodies.append(e.DressedWeightTaken(number, dressed_mg, 0.0, 5000, "rail", ""))
    total = sum(each.mass_mg for each in pieces)
    unaccounted = None if dressed_mg is None else dressed_mg - total
    closing = e.CarcassClosed(number, "explained", "", unaccounted, 0, "")
    return [*bodies, *(replace(each, carcass=number) for each in pieces), closing]


def lone(*bodies: e.Body, posted_at: str = POSTED_AT) -> Event:
    return Event(posted_at, list(bodies))


def test_published_shares_that_add_to_more_than_all_stay_so() -> None:
    # Massey Univ. MAgrSc thesis 1985 (hdl 10179/14178), fallow: the five printed means add to 100.7 %.
    printed = {"neck": 126, "flank": 154, "shoulder": 178, "saddle": 155, "haunch": 394}
    pieces = [piece(1, cut, mass * 1000, destination=cut) for cut, mass in printed.items()]
    found = season(lone(*carcass(1, 1_000_000, *pieces)))
    assert found.whole.utilisation == pytest.approx({cut: mass / 1000 for cut, mass in printed.items()})
    assert sum(found.whole.utilisation.values()) == pytest.approx(1.007)


def test_the_lamb_cutting_test_adds_to_all() -> None:
    # National Live Stock & Meat Board, Handbook on Cutting Lamb, p. 6: 32 + 13 + 11 + 23 + 21 = 100.
    pieces = [piece(1, "x", mass * 10_000, destination=f"{mass}") for mass in (32, 13, 11, 23, 21)]
    found = season(lone(*carcass(1, 1_000_000, *pieces)))
    assert sum(found.whole.utilisation.values()) == pytest.approx(1.0)
    assert found.whole.loss == 0


def test_loss_and_yield_are_shares_of_the_dressed_weight() -> None:
    # By hand: of 10 kg, 6 kg loin and 1 kg pet are meat; 2 kg bone and 0.5 kg fat are not; 0.5 kg is left.
    weighed = [("loin", "prime", 6), ("pet trim", "pet", 1), ("bone", "stock", 2), ("fat", "waste", 0.5)]
    pieces = [piece(1, cut, round(kg * 1e6), destination=to) for cut, to, kg in weighed]
    found = season(lone(*carcass(1, 10_000_000, *pieces, species="fallow")))
    [each] = found.figures.carcasses
    assert (each.loss, each.meat) == (0.05, 0.7)
    assert (each.pieces_mg, each.meat_mg) == (9_500_000, 7_000_000)
    [group] = found.groups
    assert (group.name, group.loss, group.meat) == ("fallow", 0.05, 0.7)
    assert [watched.watch for watched in found.watched] == [None, None], "one carcass is too few to judge"


@pytest.mark.parametrize(
    ("bodies", "doubt"),
    [
        (carcass(1, 10_000_000), Doubt.NONE),
        (carcass(1, None, piece(1, "neck", 5)), Doubt.NO_DRESSED_WEIGHT),
        ([*carcass(1, 10_000_000), piece(1, "neck", 5)], Doubt.CORRECTED),
        ([*carcass(1, None), e.DressedWeightTaken(1, 9, 0.0, 1, "rail", "")], Doubt.CORRECTED),
        (carcass(1, 10_000_000, skin="on"), Doubt.IN_SKIN),
        (carcass(1, 10_000_000, piece(1, "", 5)), Doubt.UNNAMED),
        ([*carcass(1, 9), e.CarcassClosed(1, "explained", "", 0, 0, "not logged")], Doubt.SUSPECT),
        ([*carcass(1, 9), e.CarcassClosed(1, "explained", "It fits. Perhaps a tray.", 0, 0)], Doubt.SUSPECT),
        ([*carcass(1, 9), e.CarcassClosed(1, "not explained", "", 0, 0, "")], Doubt.NOT_EXPLAINED),
    ],
)
def test_a_carcass_in_doubt_says_why(bodies: list[e.Body], doubt: Doubt) -> None:
    found = season(lone(*bodies))
    assert found.figures.carcasses[0].doubt is doubt
    assert found.doubts == ({doubt: 1} if doubt else {})
    assert found.whole.doubtful == (doubt is not Doubt.NONE)


def test_carcasses_in_doubt_are_shown_and_not_used_for_limits() -> None:
    events = [
        lone(*carcass(n, 10_000_000, piece(1, "neck", 9_900_000 + 9_000 * (n % 3)))) for n in range(1, 41)
    ]
    suspect = carcass(41, 10_000_000, piece(1, "neck", 5_000_000))
    suspect[-1] = e.CarcassClosed(41, "not explained", "", 5_000_000, 0, "not logged")
    found = season(lone(*suspect), *events)
    [loss, _] = found.watched
    assert loss.watch is not None
    assert len(loss.watch.values) == 41
    assert loss.watch.usual.places == tuple(range(1, 41))
    assert loss.watch.beyond == (0,), "a carcass with an open suspect is judged all the same"
    assert found.whole.loss == pytest.approx(0.01, abs=0.002)


def test_limits_may_come_from_the_settings() -> None:
    rules = SeasonRules(usual={Figure.LOSS: Usual(0.0, 0.01)})
    found = season(lone(*carcass(1, 10_000_000, piece(1, "neck", 9_000_000))), rules=rules)
    [loss, meat] = found.watched
    assert loss.watch is not None
    assert loss.watch.beyond == (0,)
    assert meat.watch is None


def test_a_bench_or_butcher_is_named_when_there_is_one() -> None:
    one = replace(piece(1, "neck", 500_000), scale="bench one", by="Ann")
    other = replace(one, scale="bench two", by="Ben")
    spoken = replace(one, scale="spoken", by="Ann")
    found = season(
        lone(*carcass(1, 10_000_000, one, spoken)),
        lone(*carcass(2, 10_000_000, one, other)),
        lone(*carcass(3, 10_000_000)),
        by=By.BENCH,
    )
    assert [(c.bench, c.butcher) for c in found.figures.carcasses] == [
        ("bench one", "Ann"),
        ("several", "several"),
        ("", ""),
    ]
    assert [group.name for group in found.groups] == ["", "bench one", "several"]
    assert {(w.species, w.bench) for w in found.watched} == {("", ""), ("", "bench one"), ("", "several")}


def test_months_begin_in_the_larders_own_zone() -> None:
    late = lone(*carcass(1, 10_000_000), posted_at="2026-03-31T22:30:00.000000Z")
    closed = store_of(late).closed_between("", "")
    assert figures_of_season(closed).carcasses[0].month == "2026-03"
    ahead = timezone(timedelta(hours=2))
    assert figures_of_season(closed, ahead).carcasses[0].month == "2026-04"


def test_no_closed_carcass_is_an_empty_season() -> None:
    found = season(lone(e.CarcassOpened(1)))
    assert (found.groups, found.watched, found.portions) == ((), (), ())
    assert found.whole.loss is None


def test_columns_say_what_single_carcasses_say() -> None:
    # Second route: the figures of one `Carcass` after the other (`proceeds`), from the books.
    store = store_of(*season_events(40, seed=11, corrected=0.4))
    figures = figures_of_season(store.closed_between("", ""))
    carcasses = list(Books(store.entries()).carcasses.values())
    found = season_of(figures, By.SPECIES, prices=PRICES, portion_cuts={"double chops", "haunch steaks"})
    assert found.whole.utilisation == pytest.approx(utilisation(carcasses))
    values = [value_of(each, PRICES) for each in carcasses]
    assert found.worths is not None
    assert list(found.worths.amounts) == [value.amount for value in values], "exact to the last digit"
    assert list(found.worths.priced_mg) == [value.priced_mg for value in values]
    assert sum(found.worths.unpriced_mg.values()) == sum(sum(v.unpriced_mg.values()) for v in values)
    [chops, steaks] = found.portions
    for portions in (chops, steaks):
        lots = [(p.mass_mg, p.count) for c in carcasses for p in c.standing() if p.cut == portions.cut]
        even = evenness(lots)
        assert even is not None
        assert portions.lots == even.lots
        assert portions.cv == pytest.approx(even.cv)


def test_evenness_is_told_within_carcasses() -> None:
    # By hand: means 100 and 120 g in one carcass (14.142 of 110 g), 200 and 200 g in another: pooled over
    # two degrees of freedom, sqrt((14.142/110)**2 / 2); ratios 1.2 and 1, median 1.1; the third has one lot.
    def chops(*lots: tuple[int, int]) -> list[e.PieceEntered]:
        return [piece(1, "double chops", mass_mg, count=count) for mass_mg, count in lots]

    found = season(
        lone(*carcass(1, 9_000_000, *chops((400_000, 4), (360_000, 3)))),
        lone(*carcass(2, 9_000_000, *chops((400_000, 2), (200_000, 1)))),
        lone(*carcass(3, 9_000_000, *chops((900_000, 3)))),
        portion_cuts={"double chops"},
    )
    [portions] = found.portions
    assert (portions.pieces, portions.lots, portions.carcasses) == (13, 5, 2)
    assert portions.cv_within == pytest.approx(14.142 / 110 / 2**0.5, rel=1e-4)
    assert portions.ratio == pytest.approx(1.1)
    assert (portions.worst_ratio, portions.worst) == (pytest.approx(1.2), 1)
    assert portions_of(found.figures, {"cutlets"}) == ()


def test_a_missing_price_is_told_and_not_taken_as_nothing() -> None:
    # By hand: 2 kg at 42.50 and 1.5 kg at 18.0001 make 112.00015; bone and an unnamed piece have no price.
    pieces = [
        piece(1, "loin", 2_000_000),
        piece(1, "rump", 1_500_000),
        piece(1, "bone", 3_000_000, destination="stock"),
        piece(1, "", 100_000),
    ]
    found = season(lone(*carcass(1, 10_000_000, *pieces)), prices=PRICES)
    assert found.worths is not None
    assert found.worths.amounts == (Decimal("112.00015"),)
    assert found.worths.unpriced_mg == {("bone", "stock"): 3_000_000, ("", ""): 100_000}
    assert found.whole.worth is not None
    assert found.whole.worth.per_kg_dressed == Decimal("11.200015")


def test_money_is_exact_where_doubles_are_not() -> None:
    # By hand: 333,333.333 g at 0.1, then three times: a tenth has no exact double.
    events = [lone(*carcass(n, 10**9, piece(1, "rump", 333_333_333))) for n in (1, 2, 3)]
    closed = figures_of_season(store_of(*events).closed_between("", ""))
    worths = worths_of(closed, PriceList("EUR", {}, {"prime": Decimal("0.1")}, date(2026, 4, 1)))
    assert sum(worths.amounts) == Decimal("99.9999999")


def test_a_bench_that_begins_to_lose_more_is_found_and_dated() -> None:
    events = season_events(480, seed=4, a_year=480, drift=Drift(360), corrected=0)
    found = season(*events, by=By.BENCH)
    act = {
        (w.species, w.bench)
        for w in found.watched
        if w.figure is Figure.LOSS and w.watch and any(c.lasting and c.above for c in w.watch.changes)
    }
    assert ("fallow", "bench two") in act
    assert not {bench for _, bench in act} - {"bench two"}
    [fallow] = [
        w for w in found.watched if (w.figure, w.species, w.bench) == (Figure.LOSS, "fallow", "bench two")
    ]
    assert fallow.watch is not None
    change = fallow.watch.changes[-1]
    begun = found.figures.carcasses[fallow.places[change.since]].carcass.number
    assert abs(begun - 360) < 40
    # The drift is 0.6 % of the dressed weight.
    assert change.shift == pytest.approx(0.006, abs=0.0015)
