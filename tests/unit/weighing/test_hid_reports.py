"""Six-byte weight reports of usage page 0x8D.

Vectors: public parsers of such scales, as read ("0x1934 = 6452 x 10^-1 = 645.2 oz", "20 g"), one
worked by hand (1234 x 10^-3 kg), and real reports whose names are their bytes.
"""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from handsfree.weighing.hid import read_report
from handsfree.weighing.messages import Condition, Indication, Torn

REAL = Path(os.environ.get("HANDSFREE_REAL_DATA", Path(__file__).parents[3] / "../shared/real")) / "scale"


@pytest.mark.parametrize(
    ("report", "text", "value_mg"),
    [
        ("030402001400", "20 g", 20_000),
        ("03040bff3419", "645.2 oz", 18_291_113),  # 645.2 x 28 349.523 125 mg = 18 291 112.3
        ("030403fdd204", "1.234 kg", 1_234_000),
        ("030203000000", "0 kg", 0),
        ("03040cfe0a00", "0.10 lb", 45_359),
        ("030402010500", "50 g", 50_000),
    ],
)
def test_a_stable_report_is_its_number_and_unit(report: str, text: str, value_mg: int):
    found = read_report(bytes.fromhex(report), "bench", 5)
    assert isinstance(found, Indication)
    assert (found.text, found.stable, found.condition) == (text, True, Condition.NORMAL)
    assert abs(found.value_mg - value_mg) <= 1


@pytest.mark.parametrize(
    ("status", "stable", "condition"),
    [
        (1, False, Condition.FAULT),
        (2, True, Condition.NORMAL),
        (3, False, Condition.NORMAL),
        (4, True, Condition.NORMAL),
        (5, False, Condition.UNDERLOAD),
        (6, False, Condition.OVERLOAD),
        (7, False, Condition.FAULT),
        (8, False, Condition.FAULT),
    ],
)
def test_the_status_table_of_the_usage_page(status: int, stable: bool, condition: Condition):
    found = read_report(bytes([3, status, 2, 0, 9, 0]), "bench", 5)
    assert isinstance(found, Indication)
    assert (found.stable, found.condition) == (stable, condition)
    assert found.value_mg == (9_000 if condition is Condition.NORMAL else 0)


@pytest.mark.parametrize(
    "report",
    [
        "",
        "0304020014",
        "03040200140000",
        "020402001400",
        "030902001400",
        "03040d001400",
        "030405001400",
        "0304027f1400",
    ],
)
def test_anything_else_is_torn(report: str):
    assert isinstance(read_report(bytes.fromhex(report), "bench", 5), Torn)


def test_real_reports_read_as_their_bytes_say():
    files = sorted(REAL.glob("hid_*.bin"))
    if not files:
        pytest.skip(f"no real reports in {REAL}")
    said = {path.stem[4:]: read_report(path.read_bytes(), "bench", 0) for path in files}
    texts = {name: each.text for name, each in said.items() if isinstance(each, Indication)}
    # By hand: 0x19 = 25 and 0x4e = 78 tenths of an ounce; status 5 is under zero, whatever the number.
    assert texts.get("03040bff1900") == "2.5 oz"
    assert texts.get("03040bff4e00") == "7.8 oz"
    under = said["03050bff0000"]
    assert isinstance(under, Indication)
    assert under.condition is Condition.UNDERLOAD
    # Unit 0 is in no table of the usage page.
    assert isinstance(said["030400009000"], Torn)
