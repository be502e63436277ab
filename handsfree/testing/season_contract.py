"""What every record of a season must answer. Subclass in a test file and supply `after`."""
# ruff: noqa: D102  (a test's name is its sentence)

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Iterator, Sequence
from dataclasses import replace

from handsfree.ledger import entries as e
from handsfree.ledger.books import Books
from handsfree.ledger.digest import ZERO_DIGEST, chain
from handsfree.ledger.season_record import ClosedSeason, SeasonRecord
from handsfree.testing.invented_season import Event, season_events
from handsfree.testing.ledger_entries import piece

_DAYS = ("2026-04-01T08:00:00.000000Z", "2026-04-02T08:00:00.000000Z", "2026-04-03T08:00:00.000000Z")


def flat(season: ClosedSeason) -> list[tuple[str, str, str, str, int, int, int]]:
    """Every weighing with its names, sorted: cut, destination, scale, by, carcass, count, mass."""
    return sorted(
        (w.cut, w.destination, w.scale, w.by, *row)
        for w in season.weighings
        for row in zip(w.carcass, w.count, w.mass_mg, strict=True)
    )


def shut(number: int, *, suspect: str | None = "") -> e.CarcassClosed:
    """An invented closing."""
    return e.CarcassClosed(number, "explained", f"told of {number}", 10_000 * number, 50_000, suspect)


def entries_of(events: Sequence[Event]) -> Iterator[e.Entry]:
    """The entries that a ledger makes of them."""
    last = (0, ZERO_DIGEST)
    for event in events:
        for entry, _ in chain(event.bodies, session="x", t_ns=0, posted_at=event.posted_at, after=last):
            yield entry
            last = (entry.seq, entry.digest)


class SeasonRecordContract(ABC):
    """The suite."""

    @abstractmethod
    def after(self, events: Sequence[Event]) -> SeasonRecord:
        """A record of a ledger that holds these."""

    def whole(self, *bodies: e.Body) -> ClosedSeason:
        return self.after([Event(_DAYS[0], list(bodies))]).closed_between("", "")

    def test_an_empty_ledger_has_no_closed_carcass(self) -> None:
        assert self.after([]).closed_between("", "") == ClosedSeason((), ())

    def test_an_open_carcass_is_none(self) -> None:
        assert self.whole(e.CarcassOpened(1), piece(1, "neck", 1_000_000)) == ClosedSeason((), ())
        resumed = (e.CarcassOpened(1), shut(1), e.CarcassResumed(1))
        assert self.whole(*resumed).carcasses == ()

    def test_a_closed_carcass_comes_as_described_last_and_closed_last(self) -> None:
        found = self.whole(
            e.CarcassOpened(1, "417"),
            e.CarcassDescribed(1, species="fallow", sex="doe"),
            e.CarcassDescribed(1, sex="buck", skin="off"),
            e.DressedWeightTaken(1, 24_000_000, 1.0, 5000, "rail", "24.000 kg"),
            e.DressedWeightTaken(1, 25_000_000, 1.0, 5000, "rail", "25.000 kg"),
            shut(1, suspect="not logged"),
            e.CarcassResumed(1),
            shut(1, suspect=None),
        )
        [carcass] = found.carcasses
        assert carcass == (
            *(1, "417", "fallow", "buck", "off", _DAYS[0], 25_000_000),
            *("explained", "told of 1", None, 10_000, False),
        )

    def test_what_is_not_known_is_empty(self) -> None:
        [carcass] = self.whole(e.CarcassOpened(1), e.CarcassClosed(1, "", "", None, None)).carcasses
        assert carcass[:5] == (1, "", "", "", "")
        assert (carcass.dressed_mg, carcass.unaccounted_mg) == (None, None)

    def test_weighings_stand_under_the_names_they_go_by_now(self) -> None:
        found = self.whole(
            e.CarcassOpened(1),
            piece(1, "neck", 700_000, destination="dice"),  # entry 2
            piece(1, "", 505_000),
            piece(1, "cutlets", 480_000, count=4),
            piece(1, "loin", 860_000),
            e.PieceRenamed(3, "shank", "left", 2, "mince", "", ""),
            e.PieceRenamed(3, "shank", "right", 1, "mince", "", ""),
            e.EntryReversed(2, "strike"),
            e.EntryReversed(5, "strike"),
            e.EntryReversed(9, "put back"),
            piece(1, "", 120_000),
            shut(1),
        )
        assert flat(found) == [
            ("", "", "bench", "", 1, 1, 120_000),
            ("cutlets", "prime", "bench", "", 1, 4, 480_000),
            ("loin", "prime", "bench", "", 1, 1, 860_000),
            ("shank", "mince", "bench", "", 1, 1, 505_000),
        ]
        names = [(w.cut, w.destination, w.scale, w.by) for w in found.weighings]
        assert names == sorted(names)

    def test_a_struck_weighing_that_was_named_is_gone_and_a_like_one_stays(self) -> None:
        found = self.whole(
            e.CarcassOpened(1),
            *(piece(1, "bone", 500_000, destination="stock") for _ in range(3)),  # entries 2 to 4
            e.PieceRenamed(3, "fat", "", 1, "waste", "", ""),
            e.EntryReversed(3, "strike"),
            e.EntryReversed(4, "strike"),
            shut(1),
        )
        assert flat(found) == [("bone", "stock", "bench", "", 1, 1, 500_000)]

    def test_scales_and_butchers_are_told_apart(self) -> None:
        one = replace(piece(1, "neck", 700_000), scale="bench one", by="Ann")
        two = replace(piece(1, "neck", 800_000), scale="bench two", by="")
        assert flat(self.whole(e.CarcassOpened(1), one, two, shut(1))) == [
            ("neck", "prime", "bench one", "Ann", 1, 1, 700_000),
            ("neck", "prime", "bench two", "", 1, 1, 800_000),
        ]

    def test_corrections_after_the_closing_are_told(self) -> None:
        opened: list[e.Body] = [
            e.CarcassOpened(1),
            piece(1, "neck", 700_000),
            piece(1, "loin", 700_000),
            shut(1),
        ]
        laters: list[e.Body] = [
            piece(1, "rump", 300_000),
            e.EntryReversed(2, "strike"),
            e.PieceRenamed(3, "rump", "", 1, "prime", "", ""),
            e.CarcassDescribed(1, sex="doe"),
            e.DressedWeightTaken(1, 25_000_000, 1.0, 5000, "rail", "25.000 kg"),
        ]
        for later in laters:
            assert [c.changed for c in self.whole(*opened, later).carcasses] == [True], later
            again: list[e.Body] = [*opened, later, e.CarcassResumed(1), shut(1)]
            assert [c.changed for c in self.whole(*again).carcasses] == [False], later
        struck = e.EntryReversed(2, "strike")
        put_back = self.whole(*opened[:3], struck, shut(1), e.EntryReversed(4, "put back"))
        assert [c.changed for c in put_back.carcasses] == [True]
        assert [c.changed for c in self.whole(*opened, e.NoteMade(1, "kept")).carcasses] == [False]

    def test_only_what_was_closed_between_the_two_moments_comes_in_order_of_closing(self) -> None:
        opened = [e.CarcassOpened(number) for number in (1, 2, 3)]
        pieces = [piece(number, "neck", 100_000 * number) for number in (1, 2, 3)]
        events = [
            Event(_DAYS[0], [*opened, *pieces, shut(3)]),
            Event(_DAYS[1], [shut(1)]),
            Event(_DAYS[2], [shut(2)]),
        ]
        record = self.after(events)

        def numbers(since: str, before: str) -> tuple[list[int], list[int]]:
            found = record.closed_between(since, before)
            return [c.number for c in found.carcasses], [row[4] for row in flat(found)]

        assert numbers("", "") == ([3, 1, 2], [1, 2, 3])
        assert numbers("2026-04-02", "") == ([1, 2], [1, 2])
        assert numbers("", "2026-04-03") == ([3, 1], [1, 3])
        assert numbers(_DAYS[1], _DAYS[2]) == ([1], [1])
        assert numbers("2026-05-01", "") == ([], [])

    def test_an_invented_season_comes_as_the_books_have_it(self) -> None:
        events = list(season_events(60, seed=7, corrected=0.5))
        found = self.after(events).closed_between("", "")
        books = Books(entries_of(events))
        assert [c.number for c in found.carcasses] == list(range(1, 61))
        changed = [number for number, c in books.carcasses.items() if c.changed_since_closing]
        assert [c.number for c in found.carcasses if c.changed] == changed
        assert len(changed) > 5
        assert flat(found) == sorted(
            (p.cut, p.destination, p.entered.scale, p.entered.by, number, p.count, p.mass_mg)
            for number, carcass in books.carcasses.items()
            for p in carcass.standing()
        )
