"""The sheet on a terminal: one golden print at 80 columns, read by eye, and rules for all widths."""

import io
import re
from dataclasses import replace
from pathlib import Path

import pytest
from rich.console import Console

from handsfree.reporting.figures import BalanceFigures, BudgetLine, SuspectLine
from handsfree.reporting.making import sheet_of
from handsfree.reporting.terminal import sheet_on_terminal
from handsfree.testing.invented_carcass import INVENTED_LARDER, invented_books

GOLDEN = Path(__file__).parents[3] / "fixtures" / "golden" / "sheet_80_columns.txt"

FIGURES = BalanceFigures(
    dressed_mg=31_250_000,
    pieces_mg=30_520_000,
    process_loss_mg=125_000,
    unaccounted_mg=605_000,
    expanded_u_mg=78_000,
    verdict="not explained",
    sentence="0.605 kg of 31.250 kg is not accounted for",
    suspects=(SuspectLine("the right shank was not logged", 'Weigh it and call "right shank".', 0.93),),
    budget=(BudgetLine("rounding", 14_900.0), BudgetLine("process", 35_000.0)),
    notes=("1 unnamed weighing is in the sum.",),
)


def printed(width: int, *, encoding: str = "utf-8", **options) -> str:
    raw = io.BytesIO()
    file = io.TextIOWrapper(raw, encoding=encoding)
    sheet = sheet_of(
        invented_books().carcasses[1], FIGURES, larder=INVENTED_LARDER, last_seq=41, digest="ab" * 32
    )
    Console(file=file, width=width, **options).print(sheet_on_terminal(sheet))
    file.flush()
    return raw.getvalue().decode(encoding)


def test_the_sheet_at_80_columns_is_the_one_that_was_read_by_eye() -> None:
    lines = [line.rstrip() for line in printed(80).splitlines()]
    assert lines == GOLDEN.read_text(encoding="utf-8").splitlines()


@pytest.mark.parametrize("width", [80, 100, 132])
def test_no_line_is_wider_than_the_terminal(width: int) -> None:
    assert max(len(line) for line in printed(width).splitlines()) <= width


def test_through_a_pipe_there_is_no_escape_sequence() -> None:
    assert "\x1b" not in printed(80)


def test_colour_adds_nothing_that_is_not_in_the_words() -> None:
    coloured = printed(80, force_terminal=True, color_system="truecolor")
    stripped = re.sub(r"\x1b\[[0-9;]*m", "", coloured)
    assert stripped == printed(80)


@pytest.mark.parametrize("width", [80, 120])
def test_every_piece_and_every_figure_is_on_the_sheet(width: int) -> None:
    text = printed(width)
    for grams in (155, 160, 865, 4135, 1240, 2145, 1980, 640, 1865, 2640, 1890, 1425, 365, 210, 95):
        assert f"{grams / 1000:.3f}" in text
    for part in ("31.250", "30.520", "0.125", "0.605", "0.078", "Struck, not counted", "liver", "417"):
        assert part in text


def test_console_markup_in_a_name_is_only_text() -> None:
    books = invented_books()
    carcass = books.carcasses[1]
    seq = next(iter(carcass.pieces))
    carcass.pieces[seq] = replace(carcass.pieces[seq], cut="[bold red]neck[/]")
    file = io.StringIO()
    Console(file=file, width=100).print(sheet_on_terminal(sheet_of(carcass)))
    assert "[bold red]neck[/]" in file.getvalue()
