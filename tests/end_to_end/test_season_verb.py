"""The verb `season` on an invented ledger: tables, CSV read back, JSON, page, pictures, faults."""

from __future__ import annotations

import csv
import io
import json
import sys
from decimal import Decimal
from pathlib import Path

import pytest
from click.testing import CliRunner

from handsfree.cli.group import group
from handsfree.errors import ConfigError, EngineUnavailableError, EntryError, HandsfreeError, LedgerError
from handsfree.ledger.sqlite_store import open_ledger
from handsfree.testing.invented_season import Drift, write_season

PRICES = """# invented
currency = "EUR"
date = 2026-04-01

[cut]
loin = 42.50

[destination]
prime = 19.80
dice = 13.40
"""


@pytest.fixture(scope="module")
def ledger(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("season") / "invented.ledger"
    write_season(path, 260, seed=6, a_year=260, drift=Drift(200, loss=0.01))
    return path


def run(*arguments: object) -> str:
    done = CliRunner().invoke(group, ["season", *map(str, arguments)], catch_exceptions=False)
    assert done.exit_code == 0, done.output
    return done.output


def fails(*arguments: object) -> HandsfreeError:
    done = CliRunner().invoke(group, ["season", *map(str, arguments)])
    assert isinstance(done.exception, HandsfreeError), done.output
    return done.exception


def test_the_tables_say_what_to_do(ledger: Path) -> None:
    told = " ".join(run(ledger).split())
    assert "260 carcasses closed" in told
    assert "fallow: not accounted for » Since" in told
    assert "carcasses lost more than usual" in told
    assert "check the scales (handsfree scale check)" in told
    assert "Portions cut" in told
    assert "Selling by weight needs an instrument verified" in told


def test_few_carcasses_are_not_charted(ledger: Path) -> None:
    assert "Too few to judge" in run(ledger, "--to", "2016-07-12")


def test_json_names_the_stretch_and_nothing_else_is_printed(ledger: Path) -> None:
    found = json.loads(run(ledger, "--json", "--by", "month"))
    assert (found["format"], found["carcasses"], found["by"]) == (1, 260, "month")
    assert sum(each["carcasses"] for each in found["groups"]) == 260
    assert found["all"]["utilisation_sum"] == pytest.approx(0.99, abs=0.005)
    [chart] = [c for c in found["charts"] if (c["figure"], c["species"]) == ("loss", "fallow")]
    assert chart["state"] == "act"
    last = chart["signals"]["changes"][-1]
    assert last["lasting"]
    # It begins at carcass 200, on one bench of two only: every fourth carcass is a fallow from there.
    assert abs(last["since"] - 200) <= 40
    assert found["currency"] is None


def test_the_csv_reads_back_and_adds_to_the_table(ledger: Path, tmp_path: Path) -> None:
    prices = tmp_path / "prices.toml"
    prices.write_text(PRICES)
    rows = list(csv.DictReader(io.StringIO(run(ledger, "--csv", "-", "--prices", prices))))
    assert len(rows) == 260
    found = json.loads(run(ledger, "--json", "--prices", prices))
    assert found["prices_of"] == "2026-04-01"
    assert sum(Decimal(row["value"]) for row in rows) == Decimal(found["all"]["value"]["amount"])
    assert sum(Decimal(row["dressed_g"]) for row in rows) == Decimal(found["all"]["dressed_g"])
    unpriced = {each["cut"] for each in found["unpriced"]}
    assert {"bone", "mince"} <= unpriced
    assert sum(Decimal(each["mass_g"]) for each in found["unpriced"]) == sum(
        Decimal(row["unpriced_g"]) for row in rows
    )
    assert "No price, so not in the value: " in run(ledger, "--prices", prices)
    assert sum(row["used"] == "no" for row in rows) == found["all"]["in_doubt"]


def test_a_price_list_may_stand_in_the_settings(ledger: Path, tmp_path: Path) -> None:
    prices, settings = tmp_path / "prices.toml", tmp_path / "handsfree.toml"
    prices.write_text(PRICES)
    settings.write_text(f'[season]\nprices = "{prices}"\nlimits_from = 40\nloss_sd = 0.3\n')
    found = json.loads(run(ledger, "--json", "--config", settings))
    assert found["currency"] == "EUR"
    losses = [chart for chart in found["charts"] if chart["figure"] == "loss"]
    assert all(chart["usual"]["from_settings"] for chart in losses)
    yields = [c for c in found["charts"] if c["figure"] == "yield" and c["usual"]]
    assert yields
    assert all(len(chart["usual"]["carcasses"]) <= 40 for chart in yields)


def test_limits_that_make_no_sense_are_refused(ledger: Path, tmp_path: Path) -> None:
    settings = tmp_path / "handsfree.toml"
    settings.write_text("[season]\nlimits_from = 5\n")
    assert "season.limits_from must be from 20 to 1000" in str(fails(ledger, "--config", settings))


def test_files_are_written_and_named(ledger: Path, tmp_path: Path) -> None:
    pytest.importorskip("matplotlib", reason="the extra `pictures` is not installed")
    page, folder, rows = tmp_path / "season.html", tmp_path / "pictures", tmp_path / "season.csv"
    told = run(ledger, "--page", page, "--pictures", folder, "--csv", rows)
    html = page.read_text(encoding="utf-8")
    assert html.count("<svg") >= 3
    assert "http" not in html, "nothing is fetched from anywhere"
    assert "<script" not in html
    names = {path.name for path in folder.iterdir()}
    assert {"loss-fallow.png", "yield-fallow.png", "where-it-went-by-species.png"} <= names
    for path in folder.iterdir():
        assert path.read_bytes().startswith(b"\x89PNG\r\n\x1a\n")  # W3C PNG specification, 5.2
        assert str(path) in told
    assert rows.read_bytes().count(b"\r\n") == 261


def test_pictures_without_their_library_say_what_to_install(
    ledger: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "matplotlib.backends.backend_agg", None)
    error = fails(ledger, "--pictures", tmp_path / "pictures")
    assert isinstance(error, EngineUnavailableError)
    assert "handsfree[pictures]" in str(error)
    assert not (tmp_path / "pictures").exists()


def test_one_species_of_one_time_only(ledger: Path) -> None:
    found = json.loads(run(ledger, "--json", "--species", "fallow", "--from", "2016-08-01"))
    assert [each["name"] for each in found["groups"]] == ["fallow"]
    assert 0 < found["carcasses"] < 130
    error = fails(ledger, "--species", "unicorn")
    assert isinstance(error, EntryError)
    assert "fallow, red deer, roe deer" in str(error)
    assert isinstance(fails(ledger, "--from", "2017-01-02", "--to", "2017-01-01"), ConfigError)


def test_an_empty_ledger_and_one_without_closed_carcasses_say_so(tmp_path: Path) -> None:
    from handsfree.ledger import entries as e
    from handsfree.testing.ledger_entries import POSTED_AT, piece

    empty = tmp_path / "empty.ledger"
    open_ledger(empty).close()
    unfinished = tmp_path / "open.ledger"
    with open_ledger(unfinished) as store:
        bodies = [e.CarcassOpened(1), piece(1, "neck", 700_000)]
        store.append(bodies, session="s", t_ns=0, posted_at=POSTED_AT)
    for path in (empty, unfinished):
        assert "No closed carcass yet." in run(path)
        assert json.loads(run(path, "--json"))["carcasses"] == 0
        assert run(path, "--csv", "-").count("\n") == 1
        run(path, "--page", tmp_path / "page.html")
        assert "No closed carcass yet" in (tmp_path / "page.html").read_text(encoding="utf-8")
    assert isinstance(fails(tmp_path / "missing.ledger"), LedgerError)


def test_a_broken_price_list_names_file_and_line(ledger: Path, tmp_path: Path) -> None:
    prices = tmp_path / "prices.toml"
    prices.write_text(PRICES.replace("loin", "lion"))
    error = fails(ledger, "--prices", prices)
    assert isinstance(error, ConfigError)
    assert f"{prices}:6: 'lion' is no cut known here; did you mean \"loin\"?" in str(error)
    assert "There is no price list" in str(fails(ledger, "--prices", tmp_path / "none.toml"))
    prices.write_bytes(b"\xff\xfe")
    assert "cannot be read" in str(fails(ledger, "--prices", prices))


def test_the_ledger_is_only_read(ledger: Path) -> None:
    before = ledger.read_bytes()
    run(ledger)
    assert ledger.read_bytes() == before
