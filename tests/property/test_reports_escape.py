"""Whatever text is in the ledger, the page stays well formed and the CSV reads back the same."""

import csv
import io
import json
from dataclasses import replace
from html.parser import HTMLParser

from hypothesis import given, settings
from hypothesis import strategies as st
from rich.console import Console

from handsfree.ledger import entries as e
from handsfree.reporting.export import COLUMNS, csv_text, guarded, json_text, unguarded
from handsfree.reporting.making import sheet_of
from handsfree.reporting.page import page_html
from handsfree.reporting.terminal import sheet_on_terminal
from handsfree.testing.invented_carcass import invented_books

NASTY = [
    "<script>alert(1)</script>",
    '" onload="x',
    "&amp;",
    "=1+1",
    "</title>",
    "\x1b[2J",
    "'=cmd",
    "]]>",
    "[/bold]",
]
TEXT = st.one_of(st.text(max_size=30), st.sampled_from(NASTY))


class Tags(HTMLParser):
    """The sequence of tags and of attribute names."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.seen: list[object] = []
        self.feed(html)
        self.close()

    def handle_starttag(self, tag, attrs) -> None:
        self.seen.append((tag, [name for name, _ in attrs]))

    def handle_endtag(self, tag) -> None:
        self.seen.append(tag)


def carcass_with(text: str):
    carcass = invented_books().carcasses[1]
    for name in ("tag", "species", "sex"):
        setattr(carcass, name, f"x{text}")
    seq = next(iter(carcass.pieces))
    old = carcass.pieces[seq]
    entered = replace(old.entered, heard=text, indication=text, scale=text)
    carcass.pieces[seq] = replace(old, cut=f"x{text}", destination="prime", entered=entered)
    carcass.notes.append(e.NoteMade(1, f"x{text}"))
    return carcass


@settings(max_examples=60, deadline=None)
@given(TEXT)
def test_no_text_can_add_a_tag_to_the_page(text: str) -> None:
    plain, odd = (Tags(page_html(sheet_of(carcass_with(one), larder=f"x{one}"))) for one in ("neutral", text))
    assert odd.seen == plain.seen


@settings(max_examples=60, deadline=None)
@given(TEXT)
def test_the_page_can_always_be_written_as_utf8(text: str) -> None:
    html = page_html(sheet_of(carcass_with(text)))
    assert "\x00" not in html
    html.encode("utf-8")


@settings(max_examples=30, deadline=None)
@given(TEXT)
def test_no_text_can_send_an_escape_sequence_to_the_terminal(text: str) -> None:
    file = io.StringIO()
    Console(file=file, width=100).print(sheet_on_terminal(sheet_of(carcass_with(text))))
    assert "\x1b" not in file.getvalue()


@settings(max_examples=100, deadline=None)
@given(TEXT)
def test_the_csv_reads_back_as_it_was(text: str) -> None:
    carcass = carcass_with(text)
    rows = list(csv.DictReader(io.StringIO(csv_text([carcass]), newline="")))
    assert len(rows) == len(carcass.pieces)
    assert list(rows[0]) == list(COLUMNS)
    for column, value in (("cut", f"x{text}"), ("heard", text), ("indication", text), ("scale", text)):
        assert unguarded(rows[0][column]) == value


@settings(max_examples=200, deadline=None)
@given(TEXT)
def test_no_text_cell_begins_like_a_formula(text: str) -> None:
    assert not guarded(text).lstrip(" ").startswith(("=", "+", "-", "@", "\t", "\r", "\n"))
    assert unguarded(guarded(text)) == text


@settings(max_examples=40, deadline=None)
@given(TEXT)
def test_the_json_reads_back_as_it_was(text: str) -> None:
    document = json.loads(json_text([carcass_with(text)]))
    assert document["format"] == 1
    assert document["pieces"][0]["heard"] == text
