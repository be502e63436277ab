"""The verb `shares` on an invented ledger of two sound carcasses and one in doubt."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from handsfree.cli.group import group
from handsfree.ledger import entries as e
from handsfree.ledger.sqlite_store import open_ledger
from handsfree.testing.ledger_entries import POSTED_AT, piece


@pytest.fixture
def ledger(tmp_path: Path) -> Path:
    file = tmp_path / "invented.ledger"
    store = open_ledger(file)
    for number, verdict in ((1, "explained"), (2, "explained"), (3, "not explained")):
        bodies: list[e.Body] = [
            e.CarcassOpened(number, plan="primals"),
            e.CarcassDescribed(number, species="fallow", sex="doe", skin="off", hot_or_cold="cold"),
            e.DressedWeightTaken(number, 20_000_000, 2000.0, 5000, "rail", "20.000 kg"),
            piece(number, "neck", 2_500_000, destination="dice"),
            e.CarcassClosed(number, verdict, "", 0, 0),
        ]
        store.append(bodies, session="test", t_ns=0, posted_at=POSTED_AT)
    store.close()
    return file


def run(ledger: Path, *more: str) -> str:
    done = CliRunner().invoke(group, ["shares", "--ledger", str(ledger), *more])
    assert done.exit_code == 0, done.output
    return done.output


def test_shares_tell_what_was_seen_and_what_was_passed_over(ledger: Path) -> None:
    told = json.loads(run(ledger, "--json"))
    assert (told["carcasses"], told["passed_over"]) == (2, 1)
    [neck] = told["shares"]
    assert (neck["plan"], neck["cut"], neck["carcasses"]) == ("primals", "neck", 2)
    # 2.5 of 20 kg is the published share, 0.125, which the cut list begins with.
    assert neck["share"] == pytest.approx(0.125, abs=1e-6)
    assert "(few)" in run(ledger)


def test_shares_are_written_for_a_spreadsheet(ledger: Path) -> None:
    head, row = run(ledger, "--csv", "-").splitlines()
    assert head.startswith("plan,species,sex,cut,carcasses,share,")
    assert row.startswith("primals,fallow,doe,neck,2,0.125,")


def test_a_fresh_start_forgets_without_deleting(ledger: Path) -> None:
    assert json.loads(run(ledger, "--json", "--since", "2026-02-01"))["shares"] == []
    assert "No share was learned yet" in run(ledger, "--since", "2026-02-01")


def test_forgetting_is_one_line_of_settings_and_is_undone_by_taking_it_out(
    ledger: Path, tmp_path: Path
) -> None:
    settings = tmp_path / "handsfree.toml"
    settings.write_text('# ours\n[larder]\nname = "Invented" # on the door\n', encoding="utf-8")
    entered = ledger.read_bytes()
    told = run(ledger, "--forget", "--config", str(settings))
    assert "learn_from" in told
    assert "To undo it" in told
    assert ledger.read_bytes() == entered
    assert settings.read_text(encoding="utf-8").startswith(
        '# ours\n[larder]\nname = "Invented" # on the door\nlearn_from = '
    )
    afterwards = json.loads(run(ledger, "--json", "--config", str(settings)))
    assert (afterwards["carcasses"], afterwards["passed_over"], afterwards["shares"]) == (0, 3, [])
    kept = [line for line in settings.read_text(encoding="utf-8").splitlines() if "learn_from" not in line]
    settings.write_text("\n".join(kept), encoding="utf-8")
    assert json.loads(run(ledger, "--json", "--config", str(settings)))["carcasses"] == 2


@pytest.mark.parametrize(
    ("lines", "carcasses"),
    [("learn = false", 0), ("learn_from = 2026-01-31", 2), ("learn_from = 2026-02-01T00:00:00Z", 0)],
)
def test_learning_follows_the_settings(ledger: Path, tmp_path: Path, lines: str, carcasses: int) -> None:
    settings = tmp_path / "handsfree.toml"
    settings.write_text(f"[larder]\n{lines}\n", encoding="utf-8")
    told = json.loads(run(ledger, "--json", "--config", str(settings)))
    assert told["carcasses"] == carcasses
    assert told["losses"]["cutting_carcasses"] == 0  # two are too few
    if "false" in lines:
        assert "Learning is off" in run(ledger, "--config", str(settings))


def test_a_day_in_quotes_is_told_as_a_fault(ledger: Path, tmp_path: Path) -> None:
    settings = tmp_path / "handsfree.toml"
    settings.write_text('[larder]\nlearn_from = "2026-04-01"\n', encoding="utf-8")
    done = CliRunner().invoke(group, ["shares", "--ledger", str(ledger), "--config", str(settings)])
    assert done.exit_code != 0
