"""What must be true of any season."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from handsfree.reconciliation.run_rules import runs
from handsfree.reconciliation.season import By, season_of
from handsfree.reconciliation.season_figures import figures_of_season
from handsfree.reconciliation.watch import Usual, usual_of, watched
from handsfree.reporting.season_page import season_html
from handsfree.testing.invented_season import fill, season_events
from handsfree.testing.memory_store import MemoryStore

values = st.lists(st.floats(-20, 20, allow_nan=False), min_size=1, max_size=120)


@given(values, st.data())
def test_every_place_that_is_told_is_a_carcass_that_was_judged(found: list[float], data) -> None:
    judged = data.draw(st.lists(st.booleans(), min_size=len(found), max_size=len(found)))
    watch = watched(found, judged, Usual(0.0, 1.0))
    told = {*watch.beyond, *watch.jumps, *(run.place for run in watch.hints)}
    told |= {place for change in watch.changes for place in (change.since, change.until)}
    assert all(judged[place] for place in told)
    assert all(change.since <= change.until for change in watch.changes)
    assert set(watch.beyond) == {p for p, v in enumerate(found) if judged[p] and abs(v) > 3}


@given(values)
def test_a_season_turned_upside_down_says_the_opposite(found: list[float]) -> None:
    one = watched(found, [True] * len(found), Usual(0.0, 1.0))
    other = watched([-value for value in found], [True] * len(found), Usual(0.0, 1.0))
    assert one.beyond == other.beyond
    assert one.jumps == other.jumps

    def sides(watch, sign: int) -> list[tuple[int, int, bool]]:
        return sorted((c.since, c.until, c.above == (sign > 0)) for c in watch.changes)

    assert sides(one, 1) == sides(other, -1)
    turned = runs([-value for value in found], 0, 1)
    assert {(r.place, r.rule, r.above) for r in runs(found, 0, 1)} == {
        (r.place, r.rule, not r.above) for r in turned
    }


@given(st.lists(st.floats(-5, 5), min_size=30, max_size=80), st.floats(0.1, 50), st.floats(-9, 9))
def test_the_unit_of_a_figure_does_not_matter(found: list[float], scale: float, offset: float) -> None:
    usable = [True] * len(found)
    one, other = usual_of(found, usable), usual_of([scale * v + offset for v in found], usable)
    if one is None or one.sigma < 1e-6:  # next to no scatter: rounding alone decides
        return
    if other is not None and one.places == other.places:
        assert other.sigma == pytest.approx(scale * one.sigma, rel=1e-6)
        assert other.centre == pytest.approx(scale * one.centre + offset, rel=1e-6, abs=1e-6)


@settings(max_examples=15, deadline=None)
@given(st.integers(1, 25), st.integers(0, 1000), st.sampled_from(list(By)))
def test_groups_are_the_whole_once_over(count: int, seed: int, by: By) -> None:
    store = MemoryStore()
    fill(store, season_events(count, seed=seed, corrected=0.3))
    found = season_of(figures_of_season(store.closed_between("", "")), by)
    places = sorted(place for group in found.groups for place in group.places)
    assert places == list(range(count))
    assert sum(group.dressed_mg for group in found.groups) == found.whole.dressed_mg
    shared: dict[str, float] = {}
    for group in found.groups:
        for to, share in group.utilisation.items():
            shared[to] = shared.get(to, 0) + share * group.dressed_mg / found.whole.dressed_mg
    assert shared == pytest.approx(dict(found.whole.utilisation))
    assert all(each.pieces_mg >= each.meat_mg >= 0 for each in found.figures.carcasses)


HOSTILE = st.text(min_size=1, max_size=30) | st.sampled_from(
    ["<script>x</script>", '"><i>', "&amp;", "\x1b[2J"]
)


@settings(max_examples=25, deadline=None)
@given(HOSTILE, HOSTILE)
def test_a_page_escapes_every_name(species: str, bench: str) -> None:
    from dataclasses import replace
    from datetime import UTC
    from html.parser import HTMLParser

    class Tags(HTMLParser):
        def __init__(self) -> None:
            super().__init__()
            self.seen: set[str] = set()

        def handle_starttag(self, tag: str, attrs: object) -> None:
            self.seen.add(tag)

    store = MemoryStore()
    fill(store, season_events(3))
    closed = store.closed_between("", "")
    closed = replace(
        closed,
        carcasses=tuple(each._replace(species=species) for each in closed.carcasses),
        weighings=tuple(replace(each, scale=bench) for each in closed.weighings),
    )
    found = season_of(figures_of_season(closed), By.BENCH)
    html = season_html(found, larder=bench, since=None, until=None, zone=UTC)
    tags = Tags()
    tags.feed(html)
    assert not tags.seen & {"script", "i", "img", "link"}
    assert "http" not in html.replace(species, "").replace(bench, "")


def test_a_decimal_sum_is_what_the_rows_of_the_csv_add_to() -> None:
    import csv
    import io
    from datetime import date

    from handsfree.reconciliation.price_list import PriceList
    from handsfree.reporting.season_export import season_csv

    store = MemoryStore()
    fill(store, season_events(20, seed=2))
    prices = PriceList("EUR", {"loin": Decimal("42.55")}, {"prime": Decimal("18.0001")}, date(2026, 4, 1))
    found = season_of(figures_of_season(store.closed_between("", "")), By.MONTH, prices=prices)
    rows = list(csv.DictReader(io.StringIO(season_csv(found))))
    assert found.whole.worth is not None
    assert sum(Decimal(row["value"]) for row in rows) == found.whole.worth.amount
