import io

from rich.console import Console

from handsfree.reporting.listing import carcass_table, carcasses_json, piece_list_table
from handsfree.testing.invented_carcass import invented_books


def printed(table, width: int = 80) -> str:
    file = io.StringIO()
    Console(file=file, width=width).print(table)
    return file.getvalue()


def test_a_carcass_is_listed_with_what_is_known_of_it() -> None:
    assert carcasses_json(invented_books().carcasses.values()) == [
        {
            "carcass": 1,
            "tag": "417",
            "species": "fallow deer",
            "sex": "buck",
            "state": "closed",
            "opened_at": "2025-10-14T08:30:25.000000Z",
            "closed_at": "2025-10-14T08:38:32.500000Z",
            "dressed_g": "31250",
            "pieces": 29,
            "pieces_g": "30520",
            "verdict": "not explained",
            "unaccounted_g": "605",
        }
    ]


def test_an_open_carcass_has_no_verdict() -> None:
    (row,) = carcasses_json(invented_books(closed=False).carcasses.values())
    assert (row["state"], row["verdict"], row["closed_at"], row["unaccounted_g"]) == ("open", "", "", None)


def test_the_list_of_carcasses_fits_80_columns_and_is_not_cut_off() -> None:
    text = printed(carcass_table(invented_books().carcasses.values()))
    for part in ("417", "2025-10-14", "31.250", "30.520", "97.7", "29"):
        assert part in text
    assert "…" not in text


def test_the_list_of_pieces_gives_entry_numbers_and_marks_struck_ones() -> None:
    text = printed(piece_list_table(invented_books().carcasses.values()), width=100)
    struck = next(line for line in text.splitlines() if "struck" in line)
    assert struck.split()[0] == "18"  # the twelfth piece, after six entries of other kinds
    assert "2.120" in struck
    assert "…" not in text
