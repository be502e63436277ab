"""Documents in and out: exact masses, every fault named by its JSON path, outcome that closes."""

from __future__ import annotations

import json
from decimal import Decimal
from typing import Any

import jsonschema
import pytest

from handsfree.errors import BalanceError
from handsfree.reconciliation.document import document_from_json, document_from_text, document_to_json
from handsfree.reconciliation.document_faults import schema
from handsfree.reconciliation.outcome import outcome_to_json

# An invented carcass.
DOCUMENT: dict[str, Any] = {
    "format": 1,
    "carcass": {"tag": "417", "species": "fallow deer", "sex": "doe", "skin": "off", "hot_or_cold": "cold"},
    "dressed": {"mass_g": 11_000, "scale": "rail"},
    "scales": {
        "rail": {"d_g": 20, "repeatability_g": 10, "span_percent": 0.05},
        "bench": {"d_g": 5, "repeatability_g": 2, "span_percent": 0.02, "containers_g": [640]},
    },
    "pieces": [
        {"cut": "haunch", "side": "left", "destination": "prime", "net_g": "5200.5", "scale": "bench"},
        {"cut": "haunch", "side": "right", "destination": "prime", "net_g": 5150.25, "scale": "bench"},
    ],
    "plan": {
        "name": "short",
        "expected": [
            {"cut": "haunch", "side": "left"},
            {"cut": "haunch", "side": "right"},
            {"cut": "shank", "side": "left", "share_percent": 5.5},
        ],
    },
    "process": {"cutting_percent": 0.5, "cutting_sd_percent": 0.25},
}


def changed(path: list[str | int], value: Any) -> dict[str, Any]:
    copy: dict[str, Any] = json.loads(json.dumps(DOCUMENT))
    inner: Any = copy
    for step in path[:-1]:
        inner = inner[step]
    inner[path[-1]] = value
    return copy


def test_a_document_becomes_exact_milligrams() -> None:
    for document in (document_from_json(DOCUMENT), document_from_text(json.dumps(DOCUMENT))):
        assert [piece.mass_mg for piece in document.account.pieces] == [5_200_500, 5_150_250]
    text = '{"format": 1, "pieces": [{"net_g": 0.001}, {"net_g": 123456.789}]}'
    assert [p.mass_mg for p in document_from_text(text).account.pieces] == [1, 123_456_789]


def test_the_outcome_closes_in_grams_and_names_the_missing_shank() -> None:
    outcome = outcome_to_json(document_from_json(DOCUMENT).reconcile())
    balance = outcome["balance"]
    # By hand: 11 000 - 5 200.5 - 5 150.25 - 0.5 % of 11 000 = 594.25 g.
    assert balance["unaccounted_g"] == 594.25
    parts = [line["mass_g"] for line in balance["destinations"]]
    losses = [balance["cutting_loss_g"], balance["chill_loss_g"], balance["unaccounted_g"]]
    assert sum(map(Decimal, map(str, parts + losses))) == Decimal(str(balance["dressed_g"]))
    assert outcome["verdict"]["kind"] == "not explained"
    assert outcome["suspects"][0]["kind"] == "not logged"
    assert outcome["suspects"][0]["missing"] == [{"cut": "shank", "side": "left", "count": 1}]
    assert sum(suspect["posterior"] for suspect in outcome["suspects"]) == pytest.approx(1, abs=1e-12)
    assert outcome["remaining"] == [{"cut": "shank", "side": "left", "count": 1}]
    assert "left shank" in outcome["sentence"]
    assert json.loads(json.dumps(outcome, allow_nan=False)) == outcome


def test_the_budget_lines_add_up_in_squares_to_the_whole() -> None:
    budget = outcome_to_json(document_from_json(DOCUMENT).reconcile())["budget"]
    squares = sum(line["u_g"] ** 2 for line in budget["sources"])
    assert squares**0.5 == pytest.approx(budget["u_g"], abs=0.01)  # lines are rounded to the mg
    assert budget["expanded_u_k2_g"] == pytest.approx(2 * budget["u_g"], abs=0.002)
    assert {line["source"] for line in budget["sources"]} == {
        "rounding", "zero", "repeatability", "span", "process",
    }  # fmt: skip


def test_writing_and_reading_back_gives_the_same_outcome() -> None:
    document = document_from_json(DOCUMENT)
    again = document_from_json(json.loads(json.dumps(document_to_json(document))))
    assert outcome_to_json(again.reconcile())["suspects"] == outcome_to_json(document.reconcile())["suspects"]
    assert again.account.pieces == document.account.pieces


def test_a_document_without_dressed_weight_is_summed_and_not_judged() -> None:
    outcome = outcome_to_json(document_from_json({"format": 1, "pieces": [{"net_g": 10}]}).reconcile())
    assert outcome["balance"]["pieces_g"] == 10
    assert outcome["balance"]["unaccounted_g"] is None
    assert outcome["budget"] is None
    assert outcome["verdict"]["kind"] == "no dressed weight"


@pytest.mark.parametrize(
    ("path", "value", "said"),
    [
        (["format"], 2, "$.format must be 1, not 2"),
        (["format"], True, "$.format must be 1, not True"),
        (["pieces", 1, "net_g"], -5, "$.pieces[1].net_g must be a number"),
        (["pieces", 1, "net_g"], 0, "$.pieces[1].net_g must be a number"),
        (["pieces", 0, "net_g"], "five", "$.pieces[0].net_g must be a number (or decimal text)"),
        (["pieces", 0, "net_g"], None, "$.pieces[0].net_g"),
        (["pieces", 0, "net_g"], float("nan"), "$.pieces[0].net_g"),
        (["pieces", 0, "net_g"], float("inf"), "$.pieces[0].net_g"),
        (["pieces", 0, "net_g"], 1e-7, "$.pieces[0].net_g is less than a milligram"),
        (["pieces", 0, "side"], "top", "$.pieces[0].side must be one of '', 'left', 'right', not 'top'"),
        (["pieces", 0, "count"], 0, "$.pieces[0].count: 0 is out of range"),
        (["pieces", 0, "count"], 1.5, "$.pieces[0].count must be a whole number"),
        (["pieces", 0, "method"], "thrown", "$.pieces[0].method must be one of 'cleared pan'"),
        (["pieces", 0, "weight"], 1, "$.pieces[0]: additional properties are not allowed ('weight'"),
        (["pieces", 0, "entry"], 2, "the number 2 is there 2 times"),
        (["pieces"], {}, "$.pieces must be a list, not an object"),
        (["dressed", "mass_g"], "", "$.dressed.mass_g must be"),
        (["dressed"], 11, "$.dressed must be an object or nothing, not 11"),
        (["scales", "bench", "d_g"], 0, "$.scales.bench.d_g must be"),
        (["scales", "bench"], {}, "$.scales.bench: 'd_g' is missing"),
        (["process", "cutting_percent"], 101, "$.process.cutting_percent: 101 is out of range"),
        (["process"], {"cutting_percent": 60, "chill_percent": 60}, "$.process: cutting and chilling"),
        (["plan", "expected", 2, "cut"], "", "$.plan.expected[2].cut"),
        (["carcass", "skin"], "half", "$.carcass.skin must be one of"),
        (["unweighed"], [{}], "$.unweighed[0]: 'cut' is missing"),
        (["unweighed"], [{"cut": "neck", "entry": 0}], "$.unweighed[0].entry: 0 is out of range"),
        (["dressed", "hours_before_cutting"], -1, "$.dressed.hours_before_cutting: -1 is out of range"),
        (["dressed", "posted_at"], "yesterday", "$.dressed.posted_at must be a moment such as"),
        (["pieces", 0, "posted_at"], 5, "$.pieces[0].posted_at must be text, not 5"),
        (["scales", "bench", "repeatability_readings"], 1, "$.scales.bench.repeatability_readings: 1 is out"),
        (["process", "drip_percent"], -1, "$.process.drip_percent: -1 is out of range"),
        (["process", "cutting_carcasses"], "ten", "$.process.cutting_carcasses must be a whole number"),
        (["plan", "parts"], {"haunch": "shank"}, "$.plan.parts.haunch must be a list, not 'shank'"),
    ],
)  # fmt: skip
def test_each_fault_is_named_with_its_path(path: list[str | int], value: Any, said: str) -> None:
    with pytest.raises(BalanceError) as caught:
        document_from_json(changed(path, value), "carcass.json")
    assert said in str(caught.value)
    assert str(caught.value).startswith("Cannot reconcile carcass.json: ")
    assert "correct the file" in caught.value.next_step


def test_all_faults_are_told_together() -> None:
    faulty = {"format": 1, "pieces": [{"net_g": -1, "side": "x"} for _ in range(10)]}
    with pytest.raises(BalanceError) as caught:
        document_from_json(faulty)
    assert "$.pieces[0].net_g" in str(caught.value)
    assert "$.pieces[0].side" in str(caught.value)
    assert "and 8 more faults" in str(caught.value)


@pytest.mark.parametrize("text", ["", "{", "[1, 2", '{"format": 1,}', "\ufeff{}", "[" * 100_000, "9" * 5000])
def test_text_that_is_no_json_is_a_balance_error(text: str) -> None:
    with pytest.raises(BalanceError):
        document_from_text(text, "carcass.json")


@pytest.mark.parametrize("parsed", [None, 1, "x", [], {}, {"pieces": []}])
def test_json_that_is_no_document_is_a_balance_error(parsed: Any) -> None:
    with pytest.raises(BalanceError):
        document_from_json(parsed)


def test_the_schema_is_one_and_every_key_has_its_place_in_it() -> None:
    jsonschema.Draft202012Validator.check_schema(schema())
    jsonschema.validate(document_to_json(document_from_json(DOCUMENT)), schema())


#: What may be told besides: every key that the first version of the format did not have.
MORE: dict[str, Any] = {
    **DOCUMENT,
    "carcass": {"tag": "417", "skin": "off", "hot_or_cold": "hot"},
    "dressed": {
        "mass_g": 11_000, "scale": "rail", "posted_at": "2026-11-24T16:00:00Z", "hours_before_cutting": 6,
    },
    "scales": {
        "rail": {"d_g": 20, "repeatability_g": 10, "span_percent": 0.05, "zero_g": 4},
        "bench": {"d_g": 5, "repeatability_g": 2, "span_percent": 0.02, "repeatability_readings": 10},
    },
    "unweighed": [{"cut": "shank", "side": "left", "entry": 9, "posted_at": "2026-11-25T08:20:00Z"}],
    "plan": {**DOCUMENT["plan"], "parts": {"haunch": ["shank"]}},
    "process": {
        "cutting_percent": 0.5, "cutting_sd_percent": 0.25, "cutting_carcasses": 12, "drip_percent": 0.2,
        "drip_sd_percent": 0.1, "chill_percent": 1.7, "chill_sd_percent": 0.5,
        "drying_per_day_percent": 0.5, "drying_sd_per_day_percent": 0.2,
    },
}  # fmt: skip


def test_every_further_key_is_read_written_and_read_back() -> None:
    document = document_from_json(MORE)
    assert document.process.cutting_dof == 11
    assert document.scales["bench"].repeatability_dof == 9
    assert document.account.hours_before_cutting == 6
    assert document.plan is not None
    assert dict(document.plan.parts) == {"haunch": ("shank",)}
    written = document_to_json(document)
    jsonschema.validate(written, schema())
    again = document_from_json(json.loads(json.dumps(written)))
    assert (again.account.unweighed, again.account.dressed) == (
        document.account.unweighed,
        document.account.dressed,
    )
    assert again.process == document.process
    assert again.scales["bench"] == document.scales["bench"]
    one, two = (outcome_to_json(each.reconcile()) for each in (document, again))
    assert one["balance"] == two["balance"]
    assert one["verdict"] == two["verdict"]


def test_the_outcome_says_how_the_dressed_weight_was_taken_and_what_went_where() -> None:
    outcome = outcome_to_json(document_from_json(MORE).reconcile())
    balance = outcome["balance"]
    assert balance["dressed"] == {
        "scale": "rail", "posted_at": "2026-11-24T16:00:00Z", "skin": "off", "hot_or_cold": "hot",
        "hours_before_cutting": 6.0,
    }  # fmt: skip
    # By hand, of 11 kg: 0.5 %; 0.2 %; none yet; of 1.7 % chilling the part
    # (1 - exp(-6/14.7))/(1 - exp(-24/14.7)) = 0.41652.
    assert (balance["cutting_loss_g"], balance["drip_loss_g"], balance["drying_loss_g"]) == (55, 22, 0)
    assert balance["chill_loss_g"] == pytest.approx(0.017 * 11_000 * 0.41652, abs=0.01)
    verdict = outcome["verdict"]
    assert verdict["degrees_of_freedom"] > 11
    assert verdict["k"] > 2.807
    assert verdict["noticed_g"] > verdict["expanded_u_g"]
    called = outcome["suspects"][0]
    assert (called["kind"], called["entries"]) == ("called, not weighed", [9])
    assert called["say"] == ["left shank"]
    assert called["moments"] == ["2026-11-25T08:20:00Z"]


def test_a_document_of_the_first_version_of_the_format_still_means_the_same() -> None:
    # Written before there were times, drip and drying: none of them may change its balance.
    balance = document_from_json(DOCUMENT).reconcile().balance
    assert (balance.drip_loss_mg, balance.drying_loss_mg, balance.chill_loss_mg) == (0, 0, 0)
    assert balance.unaccounted_mg == 594_250


def test_a_time_of_a_piece_that_is_no_moment_is_a_time_not_known() -> None:
    # The first version of the format took any text there.
    document = document_from_json(changed(["pieces", 0, "posted_at"], "after lunch"))
    assert document.reconcile().balance.hours_before_cutting is None
