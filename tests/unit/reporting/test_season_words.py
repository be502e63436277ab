"""What the charts of a season say, and what to do about it."""

from __future__ import annotations

import io
from dataclasses import replace
from datetime import UTC

import pytest
from rich.console import Console

from handsfree.reconciliation.season import By, Figure, Season, season_of
from handsfree.reconciliation.season_figures import figures_of_season
from handsfree.reporting.season_chart import SHOWN, chart_svg
from handsfree.reporting.season_terminal import money, season_on_terminal
from handsfree.reporting.season_words import caption_of, doubts_in_words, where_to_look
from handsfree.reporting.words import fine_percent
from handsfree.testing.invented_season import Drift, fill, season_events
from handsfree.testing.memory_store import MemoryStore


def season(count: int, drift: Drift | None = None, *, by: By = By.BENCH, corrected: float = 0.0) -> Season:
    store = MemoryStore()
    fill(store, season_events(count, seed=4, a_year=480, drift=drift, corrected=corrected))
    return season_of(figures_of_season(store.closed_between("", "")), by)


@pytest.fixture(scope="module")
def drifted() -> Season:
    return season(480, Drift(360))


def of(found: Season, figure: Figure, bench: str):
    [watched] = [w for w in found.watched if (w.figure, w.species, w.bench) == (figure, "fallow", bench)]
    return watched


def test_a_bench_that_loses_more_says_since_when_how_much_and_what_to_do(drifted: Season) -> None:
    caption = caption_of(drifted, of(drifted, Figure.LOSS, "bench two"), UTC)
    assert caption.state == "act"
    assert caption.headline.startswith("Since ")
    assert "carcasses lost more than usual, by 0." in caption.headline
    assert caption.headline.endswith(" kg each.")
    assert "put away unweighed" in caption.action
    assert "handsfree scale check" in caption.action
    assert caption.details[0].startswith("Usual: ")
    assert "in no doubt, " in caption.details[0]


def test_the_other_bench_is_in_order(drifted: Season) -> None:
    caption = caption_of(drifted, of(drifted, Figure.LOSS, "bench one"), UTC)
    assert caption.state in {"in order", "look back"}
    assert caption.headline.startswith("In order")
    assert caption.action == ""


def test_the_other_way_round_asks_for_the_other_things() -> None:
    caption = caption_of(
        found := season(480, Drift(360, loss=-0.006)), of(found, Figure.LOSS, "bench two"), UTC
    )
    assert "lost less than usual" in caption.headline
    assert "entered twice and trays counted as meat" in caption.action


def test_several_off_at_once_are_to_be_divided_by_bench(drifted: Season) -> None:
    by_species = season_of(drifted.figures, By.SPECIES)
    captions = [caption_of(by_species, watched, UTC) for watched in by_species.watched]
    off = [caption for caption in captions if caption.state == "act"]
    assert "--by bench" in where_to_look(by_species, captions)
    assert where_to_look(by_species, off[:1]) == ""
    assert where_to_look(drifted, off) == "", "it is divided by bench already"


def test_too_few_say_so() -> None:
    found = season(30)
    caption = caption_of(found, of(found, Figure.LOSS, "bench one"), UTC)
    assert caption.state == "too few"
    assert "20 are needed" in caption.headline
    assert chart_svg(found, of(found, Figure.LOSS, "bench one"), UTC) == ""


def test_doubts_are_counted_in_words() -> None:
    found = season(60, corrected=0.5)
    told = doubts_in_words(found)
    assert told.startswith("Shown, but not used for any limit: ")
    assert "corrected after closing" in told
    assert "amend close TAG --again" in told
    assert doubts_in_words(season(10)) == ""


def test_the_chart_shows_the_newest_and_says_itself_in_words(drifted: Season) -> None:
    watched = of(drifted, Figure.LOSS, "bench two")
    svg = chart_svg(drifted, watched, UTC)
    assert f'<desc id="d-loss-fallow-bench-two">{caption_of(drifted, watched, UTC).headline}' in svg
    drawn = svg.count("<circle")
    assert min(SHOWN, len(watched.places)) <= drawn


def test_names_are_literal_on_the_terminal(drifted: Season) -> None:
    hostile = "[bold]x[/bold]\x1b[2J"
    figures = replace(
        drifted.figures,
        carcasses=tuple(
            each._replace(carcass=each.carcass._replace(species=hostile))
            for each in drifted.figures.carcasses
        ),
    )
    out = io.StringIO()
    Console(file=out, width=80).print(season_on_terminal(season_of(figures, By.SPECIES), zone=UTC))
    assert "[bold]x[/bold]" in out.getvalue()
    assert "\x1b" not in out.getvalue()
    assert max(len(line) for line in out.getvalue().splitlines()) <= 80


def test_what_chance_does_is_told_by_the_normal_distribution() -> None:
    # 0.27 % lie beyond three standard deviations, once in 370.4 (NIST/SEMATECH 6.3.2.3 quotes 370); ranges
    # beyond D4 once in 109: 2 * P(Z < -3.267 * 1.128 / sqrt(2)), by the table of the normal distribution.
    from handsfree.reporting import season_words

    assert pytest.approx(370.4, abs=0.1) == 1 / season_words._BEYOND_BY_CHANCE
    assert pytest.approx(109, abs=1) == 1 / season_words._JUMPS_BY_CHANCE


@pytest.mark.parametrize(
    ("amount", "written"), [("1234567.895", "1 234 567.90"), ("0", "0.00"), ("-3.005", "−3.00")]
)
def test_money_is_written_to_the_hundredth(amount: str, written: str) -> None:
    # Half to even, the rounding of IEEE 754 and of Python's decimal by default.
    from decimal import Decimal

    assert money(Decimal(amount)) == written


def test_small_shares_have_two_decimals() -> None:
    assert [fine_percent(x) for x in (0.0007, -0.00314, -0.00001, None)] == ["0.07", "−0.31", "0.00", ""]
