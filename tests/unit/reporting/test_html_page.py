"""The page read back with html.parser: well formed, self-contained, escaped, and its sums close."""

from dataclasses import replace
from html.parser import HTMLParser
from itertools import pairwise

import pytest

from handsfree.ledger import entries as e
from handsfree.ledger.books import Books
from handsfree.reporting import look, palette
from handsfree.reporting.figures import BalanceFigures, SuspectLine
from handsfree.reporting.making import sheet_of
from handsfree.reporting.page import page_html
from handsfree.reporting.picture import WIDTH, blocks_of, picture_text, spread
from handsfree.testing.invented_carcass import INVENTED_LARDER, invented_books

FIGURES = BalanceFigures(
    31_250_000,
    30_520_000,
    125_000,
    605_000,
    78_000,
    "not explained",
    "0.605 kg is not accounted for",
    suspects=(SuspectLine("the right shank was not logged", 'Weigh it and call "right shank".', 0.93),),
)
VOID = {"meta", "br", "hr", "col", "link", "img", "input"}


class Page(HTMLParser):
    """Elements in order, text by element, and a complaint for every tag that does not match."""

    def __init__(self, html: str) -> None:
        super().__init__(convert_charrefs=True)
        self.open: list[str] = []
        self.elements: list[tuple[str, dict[str, str | None]]] = []
        self.texts: list[tuple[str, str]] = []
        self.faults: list[str] = []
        self.feed(html)
        self.close()

    def handle_starttag(self, tag, attrs) -> None:
        self.elements.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag) -> None:
        if not self.open or self.open.pop() != tag:
            self.faults.append(f"</{tag}> does not match")

    def handle_data(self, data) -> None:
        if self.open and data.strip():
            self.texts.append((self.open[-1], data))


@pytest.fixture
def sheet():
    return sheet_of(
        invented_books().carcasses[1], FIGURES, larder=INVENTED_LARDER, last_seq=41, digest="ab" * 32
    )


@pytest.fixture
def page(sheet) -> Page:
    return Page(page_html(sheet))


def test_every_tag_is_closed_in_order(page: Page) -> None:
    assert page.faults == []
    assert page.open == []


def test_nothing_is_fetched_from_anywhere(sheet, page: Page) -> None:
    html = page_html(sheet)
    for reference in ("http", "url(http", "@import", "src=", "href=", "//", "<script", "<link", "<iframe"):
        assert reference not in html, reference
    # The one url() is the hatching drawn on this page.
    assert html.count("url(") == html.count("url(#hatch)")
    assert not any(
        name in attributes for _, attributes in page.elements for name in ("src", "href", "srcset")
    )


def test_the_parts_stand_in_the_order_of_their_weight(page: Page) -> None:
    headings = [text for tag, text in page.texts if tag in {"h1", "h2"}]
    assert headings == [
        "Fallow deer buck",
        "Where it went",
        "Pieces in the order of weighing",
        "By destination",
        "Yield of dressed weight",
        "Left and right",
        "By cut",
    ]


def test_identifiers_are_unique_and_the_picture_has_words(page: Page) -> None:
    identifiers = [attributes["id"] for _, attributes in page.elements if "id" in attributes]
    assert len(identifiers) == len(set(identifiers))
    picture = next(a for tag, a in page.elements if tag == "svg" and "aria-labelledby" in a)
    assert picture["role"] == "img"
    assert set(str(picture["aria-labelledby"]).split()) <= set(identifiers)
    description = next(text for tag, text in page.texts if tag == "desc")
    assert "0.605 kg (1.9 %) unaccounted" in description
    assert "11.825 kg (37.8 %) prime" in description


def test_the_figures_at_the_top_close(page: Page) -> None:
    figures = [float(text) for text in [text for tag, text in page.texts if tag == "b"][:5]]
    dressed, pieces, loss, unaccounted, _ = figures
    assert round((pieces + loss + unaccounted) * 1000) == round(dressed * 1000) == 31_250


def test_the_column_of_pieces_sums_to_its_foot(sheet, page: Page) -> None:
    cells = [text for tag, text in page.texts if tag == "td"]
    foot = cells.index("in all")
    assert cells[foot + 1] == "30.520"
    kilograms = [piece.net_kg for piece in sheet.pieces]
    assert round(sum(float(one) for one in kilograms) * 1000) == 30_520
    for one in kilograms:
        assert one in cells


def test_the_hanging_carcass_is_as_long_as_the_dressed_weight(sheet) -> None:
    blocks = blocks_of(sheet)
    assert sum(block.mass_mg for block in blocks) == 31_250_000
    for block in blocks:
        assert not block.heads or sum(head.mass_mg for head in block.heads) == block.mass_mg


def test_drawn_heights_are_in_proportion_to_mass(page: Page) -> None:
    wide = [
        (float(str(a["y"])), float(str(a["height"])))
        for tag, a in page.elements
        if tag == "rect" and a.get("x") == "62" and float(str(a["width"])) == 134
    ]
    # prime 11 825 and dice 8110: the first two stretches of the wide strip
    assert wide[0][1] / wide[1][1] == pytest.approx(11825 / 8110, rel=0.001)
    assert wide[1][0] == pytest.approx(wide[0][0] + wide[0][1], abs=0.02)


def test_nothing_of_the_picture_lies_outside_it(page: Page) -> None:
    view = next(str(a["viewbox"]) for tag, a in page.elements if tag == "svg" and "aria-labelledby" in a)
    _, _, width, height = (float(number) for number in view.split())
    assert width == WIDTH
    for tag, a in page.elements:
        if tag in {"rect", "text"} and "x" in a and "y" in a and a.get("class") != "ticket":
            assert 0 <= float(str(a["x"])) <= width
            assert 0 <= float(str(a["y"])) <= height


def test_more_out_than_in_is_drawn_and_said() -> None:
    carcass = invented_books().carcasses[1]
    assert carcass.dressed is not None
    carcass.dressed = replace(carcass.dressed, mass_mg=30_000_000)
    figures = replace(FIGURES, dressed_mg=30_000_000, unaccounted_mg=-645_000, verdict="more than came in")
    sheet = sheet_of(carcass, figures)
    page = Page(page_html(sheet))
    assert page.faults == []
    assert "−0.645" in [text for tag, text in page.texts if tag == "b"]
    assert "dressed" in [text for tag, text in page.texts if tag == "text"]


def test_a_name_too_long_for_the_picture_is_cut_there_and_whole_in_the_tables() -> None:
    carcass = invented_books().carcasses[1]
    name = "an extraordinarily long name of a cut that nobody says"
    seq = next(iter(carcass.pieces))
    carcass.pieces[seq] = replace(carcass.pieces[seq], cut=name, side="")
    page = Page(page_html(sheet_of(carcass)))
    drawn = [text for tag, text in page.texts if tag == "text"]
    assert name not in drawn
    assert any(name.startswith(text[:-1]) and text.endswith("…") for text in drawn)
    assert [text for tag, text in page.texts if tag == "td"].count(name) == 2  # by piece and by cut


def test_an_empty_carcass_has_a_page_without_a_picture() -> None:
    entry = e.Entry(1, "2025-10-14T08:30:00.000000Z", "s", 0, e.CarcassOpened(1), "0" * 64, "1" * 64)
    page = Page(page_html(sheet_of(Books([entry]).carcasses[1])))
    assert page.faults == []
    assert "No balance" in [text for _, text in page.texts]
    assert not any("aria-labelledby" in a for tag, a in page.elements if tag == "svg")


def test_the_picture_in_words_names_every_part(sheet) -> None:
    text = picture_text(sheet)
    for name in (
        "prime",
        "dice",
        "mince",
        "pet",
        "stock",
        "waste",
        "condemned",
        "process loss",
        "unaccounted",
    ):
        assert name in text


def test_labels_keep_apart_and_in_order() -> None:
    places = spread([10.0, 11.0, 12.0, 90.0, 99.0], [10.0] * 5, 0.0, 95.0)
    assert places == sorted(places)
    assert all(b - a >= 10 for a, b in pairwise(places))
    assert places[-1] <= 95


@pytest.mark.parametrize(
    ("ink", "ground"),
    [
        (palette.INK, palette.PAPER),
        (palette.MUTED, palette.PAPER),
        (palette.OXBLOOD, palette.PAPER),
        (palette.INK, palette.GROUND),
    ],
)
def test_text_stands_out_as_wcag_asks(ink: str, ground: str) -> None:
    assert palette.contrast(ink, ground) >= 4.5  # WCAG 2.2, 1.4.3 level AA


def test_contrast_is_that_of_wcag() -> None:
    # WCAG 2.2: black on white is 21:1; #767676 on white is the well-known 4.54:1.
    assert palette.contrast("#000000", "#ffffff") == pytest.approx(21)
    assert palette.contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.005)


@pytest.mark.parametrize("place", range(6))
@pytest.mark.parametrize(
    "name", ["prime", "dice", "mince", "pet", "stock", "waste", "condemned", "hound food"]
)
def test_names_inside_the_picture_can_be_read(name: str, place: int) -> None:
    fill = palette.fill_of(name, place)
    assert palette.contrast(palette.ink_on(fill), fill) >= 4.5


def test_the_style_sheet_knows_paper() -> None:
    assert "@page" in look.STYLE
    assert "size: A4" in look.STYLE
