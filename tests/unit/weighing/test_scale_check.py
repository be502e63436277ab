"""The check of a scale. Limits: OIML R 76-1:2006 Table 6; masses: R 111-1:2004; figures worked by numpy."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from handsfree.cli.group import group
from handsfree.config import load_config
from handsfree.testing.bench_scale import BenchEvent, BenchScale, Put, Take
from handsfree.weighing.checking import Check, plan
from handsfree.weighing.checking_limits import KnownMass, permissible_mg
from handsfree.weighing.checking_result import Weighed, evaluate
from handsfree.weighing.checking_words import sentences
from handsfree.weighing.messages import LoadChange, Plateau

KG = 1_000_000


@pytest.mark.parametrize(
    ("load_g", "e_g", "limit_g"),
    # R 76-1:2006 3.3, worked example of a scale with Max 2/5/15 kg and e 1/2/10 g.
    [(400, 1, 0.5), (1_600, 1, 1), (2_100, 2, 2), (4_250, 2, 3), (5_100, 10, 10), (15_000, 10, 10)],
)
def test_the_limits_are_those_of_the_worked_example(load_g: int, e_g: int, limit_g: float):
    assert permissible_mg(load_g * 1000, e_g * 1000, in_service=False) == limit_g * 1000
    assert permissible_mg(load_g * 1000, e_g * 1000, in_service=True) == 2 * limit_g * 1000


def test_above_ten_thousand_intervals_there_is_no_limit():
    assert permissible_mg(10_001_000, 1_000, in_service=False) is None


@pytest.mark.parametrize(
    ("grams", "limit_mg"), [(100, 5), (200, 10), (500, 25), (1000, 50), (2000, 100), (5000, 250)]
)
def test_the_masses_have_the_limits_of_class_m1(grams: int, limit_mg: float):
    # OIML R 111-1:2004 Table 1; uniform within it, JCGM 100:2008 4.3.7.
    mass = KnownMass(grams * 1000, "M1")
    assert mass.limit_mg == limit_mg
    assert mass.u_mg == pytest.approx(limit_mg / 3**0.5)


def test_span_and_repeatability_come_out_as_numpy_works_them():
    masses = [500_000, 1_000_000, 2_000_000]
    given = [500_000, 1_000_500, 2_001_000]
    ten = [
        2_001_000,
        2_001_500,
        2_000_500,
        2_001_000,
        2_001_000,
        2_000_500,
        2_001_500,
        2_001_000,
        2_001_000,
        2_000_500,
    ]
    found = evaluate(
        500,
        [Weighed(KnownMass(m), g) for m, g in zip(masses, given, strict=True)],
        [Weighed(KnownMass(2 * KG), g) for g in ten],
    )
    m, e = np.array(masses, float), np.array(given, float) - np.array(masses, float)
    (slope,), *_ = np.linalg.lstsq(m[:, None], e, rcond=None)
    s = np.std(ten, ddof=1)
    assert found.span_error == pytest.approx(slope)
    assert found.s_mg == pytest.approx(s)
    # JCGM 100:2008: two roundings and s for a reading, propagated by the least squares' own covariance;
    # the masses err together: 100 mg on 2 kg and in proportion, uniform.
    u_reading = np.sqrt(2 * 500**2 / 12 + s**2)
    u = np.hypot(u_reading * np.sqrt(np.linalg.inv(m[None, :] @ m[:, None])[0, 0]), 50e-6 / np.sqrt(3))
    assert found.u_span_error == pytest.approx(u, rel=1e-6)
    assert found.range_mg == 1000


def test_ten_equal_readings_do_not_prove_a_repeatability_of_nothing():
    found = evaluate(5_000, [Weighed(KnownMass(KG), KG)], [Weighed(KnownMass(KG), KG)] * 10)
    assert found.s_found_mg == 0
    assert found.s_mg > 0
    assert any("hides" in line for line in sentences(found))


@pytest.mark.parametrize(
    ("error_g", "verdict", "passed"),
    # 2 kg at d = 5 g is 400 e: 2.5 g at verification, 5 g in service (R 76-1:2006 Table 6, 3.5.2).
    [(0, "pass", True), (5, "pass in service", True), (10, "fail", False)],
)
def test_a_load_is_judged_by_class_three(error_g: int, verdict: str, passed: bool):
    weighed = Weighed(KnownMass(2 * KG), 2 * KG + error_g * 1000)
    found = evaluate(5_000, [weighed], [weighed] * 10)
    assert found.loads[0].verdict == verdict
    assert found.passed is passed
    assert "not a verification" in sentences(found)[-1]


def test_bottles_of_water_cannot_pass_a_scale_but_can_fail_one():
    good = Weighed(KnownMass(2 * KG, "water"), 2 * KG)
    assert evaluate(5_000, [good], [good] * 10).passed is None
    bad = Weighed(KnownMass(2 * KG, "water"), 2 * KG + 100_000)
    assert evaluate(5_000, [bad], [bad] * 10).passed is False


def test_a_difference_at_the_corner_counts_by_the_largest():
    # EURAMET cg-18 7.1.1.4: largest difference over 2 sqrt 3 times the load.
    mass = KnownMass(KG)
    corners = [Weighed(mass, KG + each) for each in (0, 1000, -2000, 0, 1000)]
    found = evaluate(1_000, [corners[0]], [corners[0]] * 10, corners)
    assert found.corners == pytest.approx(2000 / (2 * 3**0.5 * KG))


def change(delta_mg: int) -> LoadChange:
    plateau = Plateau("bench", 0, 0, 0, "", 0, 5, 1.0, 5_000)
    return LoadChange("bench", 0, 0, plateau, plateau, delta_mg, 1.0)


def test_a_wrong_mass_is_told_and_asked_for_again():
    check = Check(plan([KnownMass(KG)], loadings=2))
    assert "1.000 kilograms" in check.opening()
    assert "not 1.000" in check.feed(change(2 * KG))[0]
    assert check.loadings == 0
    assert check.feed(change(-2 * KG)) == ["Put on 1.000 kilograms."]
    assert "Take it off" in check.feed(change(KG))[0]
    assert "still" in check.feed(change(-KG // 2))[0]
    check.feed(change(-KG // 2))
    for _ in range(3):
        check.feed(change(KG))
        said = check.feed(change(-KG))
    assert check.done
    assert said == ["That is all. Thank you."]


def capture(tmp_path: Path, span: float = 1.0) -> Path:
    """A recording of a whole check: 0.5, 1 and 2 kg, then 2 kg ten times."""
    scale = BenchScale("bench", 1, 6, 10, "status_comma", 7, noise_d=0.1)
    events: list[BenchEvent] = []
    at = 3.0
    for grams in [500, 1000, 2000, *[2000] * 10]:
        events += [Put(at, grams * span), Take(at + 3, grams * span)]
        at += 6.0
    file = tmp_path / "check.csv"
    rows = [f"{t},bench,{json.dumps(line)[1:-1]}" for t, line in scale.run(events, at + 2)]
    # Commas of a line stay in its cell.
    rows = ["seconds,scale,line", *(f'{r.split(",", 2)[0]},bench,"{r.split(",", 2)[2]}"' for r in rows)]
    file.write_text("\n".join(rows) + "\n", "utf-8")
    return file


@pytest.mark.parametrize(("span", "code"), [(1.0, 0), (1.005, 1)])
def test_a_recorded_check_gives_its_result_and_the_settings_use_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, span: float, code: int
):
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    settings = tmp_path / "handsfree.toml"
    settings.write_text('# mine\n[scale.bench]\nshape = "status_comma"\nd_g = 1\n', "utf-8")
    masses = ["--mass", "0.5kg", "--mass", "1kg", "--mass", "2.000kg"]
    done = CliRunner().invoke(
        group,
        [
            "scale",
            "check",
            "bench",
            *masses,
            "--from",
            str(capture(tmp_path, span)),
            "--config",
            str(settings),
        ],
    )
    assert done.exit_code == code, done.output
    assert "Span error" in done.output
    assert "not a verification" in done.output
    assert "# mine" in settings.read_text("utf-8")
    scale = load_config(settings).scales["bench"]
    assert scale.span is not None
    assert scale.span == pytest.approx(span - 1, abs=0.0005)
    assert scale.repeatability_g is not None
    assert 0.1 <= scale.repeatability_g <= 0.7
    # How many loadings it rests on widens the balance's ±; corners not tried leave what was known.
    assert scale.repeatability_readings == 10
    assert scale.eccentricity is None
    (kept,) = (tmp_path / "data").rglob("bench-*.json")
    assert json.loads(kept.read_text("utf-8"))["loadings"] == 10
