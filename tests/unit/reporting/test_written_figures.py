from datetime import UTC

import pytest

from handsfree.reporting import words


def test_names_lose_what_could_move_a_cursor_or_break_a_page() -> None:
    assert words.plain("left\x1b[2J haunch\n\u202e x\ud800") == "left [2J haunch x"


@pytest.mark.parametrize(
    ("masses_mg", "decimals"),
    [([], 3), ([1_000_000], 3), ([1_234_000], 3), ([1_234_500], 4), ([1_234_560], 5), ([453_592, 1_000], 6)],
)
def test_as_many_decimals_as_needed_and_no_more(masses_mg: list[int], decimals: int) -> None:
    assert words.kg_decimals(masses_mg) == decimals


@pytest.mark.parametrize(
    ("fraction", "text"),
    [(0.1234, "12.3"), (0.0, "0.0"), (0.0001, "<0.1"), (-0.0001, "−<0.1"), (-0.021, "−2.1"), (None, "")],
)
def test_percentages_have_one_decimal(fraction: float | None, text: str) -> None:
    assert words.percent(fraction) == text


def test_negative_kilograms_have_a_true_minus() -> None:
    assert words.kg(-40_000) == "−0.040"


def test_a_stamp_that_is_none_is_shown_as_it_is() -> None:
    assert words.clock_time("yesterday", UTC) == "yesterday"
    assert words.day_and_time("", UTC) == ""
    assert words.day("2025-10-14", UTC) == "2025-10-14"
