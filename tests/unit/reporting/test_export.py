import csv
import io
import json
from decimal import Decimal

import pytest

from handsfree.ledger.books import Carcass
from handsfree.reporting.export import COLUMNS, csv_text, guarded, json_text, pieces_json
from handsfree.reporting.figures import BalanceFigures
from handsfree.reporting.making import sheet_of
from handsfree.reporting.sheetjson import sheet_json
from handsfree.testing.invented_carcass import invented_books


@pytest.fixture
def carcass() -> Carcass:
    return invented_books().carcasses[1]


def test_standing_masses_in_the_csv_sum_to_the_carcass(carcass: Carcass) -> None:
    rows = list(csv.DictReader(io.StringIO(csv_text([carcass]), newline="")))
    standing = [Decimal(row["mass_g"]) for row in rows if row["status"] == "standing"]
    assert sum(standing) == 30_520
    assert [row["cut"] for row in rows if row["status"] == "struck"] == ["shoulder"]


def test_the_csv_keeps_to_rfc_4180(carcass: Carcass) -> None:
    text = csv_text([carcass])
    assert text.endswith("\r\n")
    assert text.count("\n") == text.count("\r\n") == 1 + len(carcass.pieces)
    assert text.splitlines()[0] == ",".join(COLUMNS)


def test_a_renamed_piece_keeps_the_name_it_was_entered_under(carcass: Carcass) -> None:
    renamed = [row for row in pieces_json([carcass]) if row["renamed"]]
    assert [(row["side"], row["cut"], row["entered_as"]) for row in renamed] == [
        ("right", "flank", "right shank")
    ]


def test_json_says_what_each_name_means(carcass: Carcass) -> None:
    document = json.loads(json_text([carcass]))
    assert document["format"] == 1
    assert set(document["columns"]) == set(document["pieces"][0])
    assert document["pieces"][0]["mass_g"] == "155"


@pytest.mark.parametrize("text", ["=1+1", "+44", "-0.005 kg", "@SUM(A1)", "\t=1", "＝1", "  =1", "'quoted"])
def test_what_a_spreadsheet_would_run_is_guarded(text: str) -> None:
    assert guarded(text) == f"'{text}"


@pytest.mark.parametrize("text", ["", "neck", "4.135 kg", "left haunch, for dice"])
def test_what_is_harmless_is_left_alone(text: str) -> None:
    assert guarded(text) == text


def test_the_sheet_as_json_closes_and_is_plain_json(carcass: Carcass) -> None:
    figures = BalanceFigures(31_250_000, 30_520_000, 125_000, 605_000, 78_000, "not explained", "x")
    values = json.loads(json.dumps(sheet_json(sheet_of(carcass, figures))))
    balance = {name: Decimal(values["balance"][name]) for name in values["balance"] if name.endswith("_g")}
    assert balance["dressed_g"] == balance["pieces_g"] + balance["process_loss_g"] + balance["unaccounted_g"]
    assert sum(Decimal(piece["mass_g"]) for piece in values["pieces"]) == Decimal(values["total_g"]) == 30_520
    assert sum(Decimal(one["mass_g"]) for one in values["destinations"]) == 30_520
