"""What every ledger store must do. Subclass in a test file and supply `make` and `reopened`."""
# ruff: noqa: D102  (a test's name is its sentence)

from __future__ import annotations

from abc import ABC, abstractmethod
from itertools import pairwise

import pytest

from handsfree.errors import EntryError, LedgerError
from handsfree.ledger import entries as e
from handsfree.ledger.books import Books, CarcassState, open_books
from handsfree.ledger.digest import ZERO_DIGEST
from handsfree.ledger.ports import LedgerStore
from handsfree.testing.ledger_entries import ONE_OF_EACH, POSTED_AT, piece


def put(store: LedgerStore, *bodies: e.Body) -> list[e.Entry]:
    """Append in an invented session."""
    return store.append(bodies, session="contract", t_ns=1_500_000_000, posted_at=POSTED_AT)


class LedgerContract(ABC):
    """The suite; each test makes a fresh store."""

    @abstractmethod
    def make(self) -> LedgerStore:
        """A new, empty store."""

    @abstractmethod
    def reopened(self, store: LedgerStore) -> LedgerStore:
        """The same ledger as after a restart."""

    def test_a_new_ledger_is_empty_and_sound(self) -> None:
        store = self.make()
        assert list(store.entries()) == []
        assert store.last() == (0, ZERO_DIGEST)
        assert (store.verify().count, store.verify().last_digest) == (0, ZERO_DIGEST)

    def test_one_of_each_kind_comes_back_as_it_was_appended(self) -> None:
        store = self.make()
        made = put(store, *ONE_OF_EACH)
        assert [entry.body for entry in made] == list(ONE_OF_EACH)
        assert {type(body) for body in ONE_OF_EACH} == set(e.BODIES.values())
        assert list(store.entries()) == made
        assert list(self.reopened(store).entries()) == made

    def test_entries_are_numbered_from_one_and_each_carries_the_digest_before(self) -> None:
        store = self.make()
        made = put(store, *ONE_OF_EACH[:3]) + put(store, *ONE_OF_EACH[3:6])
        assert [entry.seq for entry in made] == [1, 2, 3, 4, 5, 6]
        assert made[0].previous == ZERO_DIGEST
        assert all(after.previous == before.digest for before, after in pairwise(made))
        assert len({entry.digest for entry in made}) == 6

    def test_the_chain_goes_on_after_a_restart(self) -> None:
        store = self.make()
        first = put(store, *ONE_OF_EACH[:6])
        again = self.reopened(store)
        second = put(again, *ONE_OF_EACH[6:])
        assert second[0].previous == first[-1].digest
        found = again.verify()
        assert (found.count, found.last_digest) == (len(ONE_OF_EACH), second[-1].digest)

    def test_entries_after_a_number_are_only_those(self) -> None:
        store = self.make()
        made = put(store, *ONE_OF_EACH)
        assert list(store.entries(after=17)) == made[17:]
        assert list(store.entries(after=20)) == []

    def test_all_bodies_of_a_batch_are_written_or_none(self) -> None:
        store = self.make()
        put(store, e.CarcassOpened(1))
        spoiled = piece(1, "neck", 700_000)
        object.__setattr__(spoiled, "mass_mg", 0.7)
        with pytest.raises(EntryError, match=r"0\.7 cannot be the mass_mg of PieceEntered"):
            put(store, piece(1, "haunch", 3_000_000), spoiled)
        assert store.last()[0] == 1
        assert put(store, e.CarcassParked(1))[0].seq == 2
        store.verify()

    @pytest.mark.parametrize("u_mg", [float("nan"), float("inf")])
    def test_a_value_that_is_no_number_is_refused(self, u_mg: float) -> None:
        store = self.make()
        with pytest.raises(EntryError, match="cannot be written"):
            put(store, e.ContainerSet("bench", 1, "1 kg", u_mg))
        assert store.last()[0] == 0

    @pytest.mark.parametrize(
        "posted_at", ["", "yesterday", "2026-01-31T07:05:09", "2026-01-31T07:05:09+01:00"]
    )
    def test_a_posting_time_that_is_not_utc_is_refused(self, posted_at: str) -> None:
        store = self.make()
        with pytest.raises(EntryError, match="UTC wall time"):
            store.append([e.CarcassOpened(1)], session="s", t_ns=0, posted_at=posted_at)

    def test_words_of_any_language_come_back(self) -> None:
        store = self.make()
        note = e.NoteMade(None, 'Hälfte, jarret — "½" \\ \n 鹿 \U0001f98c \x00')
        put(store, note)
        again = self.reopened(store)
        assert [entry.body for entry in again.entries()] == [note]
        again.verify()

    def test_half_a_character_is_refused(self) -> None:
        with pytest.raises(EntryError, match="cannot be written"):
            put(self.make(), e.NoteMade(None, "\ud800"))

    def test_an_empty_batch_writes_nothing(self) -> None:
        store = self.make()
        assert put(store) == []
        assert store.last()[0] == 0

    def test_the_entries_of_a_carcass_are_all_about_it_and_no_others(self) -> None:
        store = self.make()
        put(store, *ONE_OF_EACH)  # 1 to 20
        put(store, e.CarcassOpened(2, "12"), piece(2, "neck", 400_000), e.EntryReversed(22, "strike"))
        assert [entry.seq for entry in store.entries_of(2)] == [21, 22, 23]
        about_one = [2, 3, 4, 7, 8, 9, 10, 11, 12, 13, 14, 16, 17, 18]
        assert [entry.seq for entry in store.entries_of(1)] == about_one
        assert list(store.entries_of(3)) == []

    def test_carcasses_are_found_by_any_tag_they_ever_had(self) -> None:
        store = self.make()
        put(store, e.CarcassOpened(1, "417"), e.CarcassOpened(2), e.CarcassDescribed(2, tag="417"))
        put(store, e.CarcassDescribed(1, tag="5"))
        assert store.tagged("417") == [2, 1]
        assert store.tagged("5") == [1]
        assert store.tagged("6") == []

    def test_an_entry_names_its_carcass(self) -> None:
        store = self.make()
        put(store, *ONE_OF_EACH)
        assert [store.carcass_of(seq) for seq in (1, 2, 7, 9, 99)] == [None, 1, 1, None, None]

    def test_closed_carcasses_are_told_latest_first(self) -> None:
        store = self.make()
        shut = [e.CarcassClosed(number, "", "", None, None) for number in (1, 2, 3)]
        put(store, *(e.CarcassOpened(number) for number in (1, 2, 3, 4)), shut[2], shut[0], shut[1])
        put(store, e.CarcassResumed(1))
        assert store.closed(10) == [2, 3]
        assert store.closed(1) == [2]

    def test_sessions_are_found_by_the_moment_they_began(self) -> None:
        store = self.make()
        eight, nine = "2026-01-31T08:00:00.000000Z", "2026-01-31T09:00:00.000000Z"
        put(store, e.SessionBegan("x", "live", started_at=eight), e.CarcassOpened(1))
        put(store, e.SessionBegan("x", "live", started_at=nine), e.SessionEnded("end"))
        put(store, e.SessionBegan("x", "replay", started_at=eight), e.NoteMade(1, eight))
        assert [entry.seq for entry in store.sessions_begun(eight)] == [1, 5]
        assert [entry.seq for entry in store.sessions_begun(nine)] == [3]
        assert list(store.sessions_begun("")) == []

    def test_working_entries_give_the_same_books_but_for_closed_carcasses(self) -> None:
        store = self.make()
        put(store, *ONE_OF_EACH)
        put(store, e.CarcassOpened(2, "12"), piece(2, "neck", 400_000), e.ContainerSet("rail", 5, "5 mg"))
        put(store, e.CarcassOpened(3), e.WeighingTurned("taking off"), e.ContainerSet("bench", 7, "7 mg"))
        put(store, piece(3, "rump", 900_000), e.PieceRenamed(27, "loin", "", 1, "prime", "", "x"))
        put(store, e.ContainerSet("bench", 5, "5 mg"), e.ContainerSet("bench", 7, "7 mg"))
        full, working = Books(store.entries()), open_books(store)
        assert set(working.carcasses) == {2, 3}
        assert working.carcasses == {n: c for n, c in full.carcasses.items() if n in {2, 3}}
        assert working.containers == full.containers
        assert working.trays == full.trays
        assert (working.direction, working.current) == ("taking off", 3)
        assert working.bench == full.bench
        assert working.bench.name == "Morag"
        assert (working.last_seq, working.next_number) == (30, 4)
        assert working.by_number(1) == full.carcasses[1]
        assert working.by_tag("417") == full.carcasses[1]
        assert working.piece(7) == full.piece(7)

    def test_who_is_at_the_bench_is_known_after_a_restart_however_often_it_was_changed_and_struck(
        self,
    ) -> None:
        store = self.make()
        put(store, e.ButcherChanged(1, "Ann"), e.ButcherChanged(2, "Ben"))
        put(store, e.EntryReversed(2, "strike"), e.EntryReversed(3, "put back"))
        for seq in range(5, 45, 2):  # twenty more, each struck
            put(store, e.ButcherChanged(3, "Cal"), e.EntryReversed(seq, "strike"))
        full, working = Books(store.entries()), open_books(self.reopened(store))
        assert full.bench.name == working.bench.name == "Ben"
        assert working.bench.butcher == full.bench.butcher
        last = max(full.bench.changes)
        assert working.reversal_of(last) == full.reversal_of(last) == last + 1

    def test_what_moved_a_carcass_last_is_known_after_a_restart(self) -> None:
        store = self.make()
        put(store, e.CarcassOpened(1), e.CarcassClosed(1, "", "", None, None), e.CarcassOpened(2))
        put(store, e.CarcassClosed(2, "", "", None, None), e.CarcassResumed(1))
        put(store, e.CarcassClosed(1, "", "", None, None), e.ButcherChanged(1, "Ann"))
        full, working = Books(store.entries()), open_books(store)
        assert full.bench.since == working.bench.since == 6
        assert working.bench.last_change() == full.bench.butcher

    def test_a_closed_carcass_is_taken_up_again_out_of_the_ledger(self) -> None:
        store = self.make()
        put(store, *ONE_OF_EACH)
        books = open_books(store)
        assert books.carcasses == {}
        for entry in put(store, e.CarcassResumed(1), e.NoteMade(1, "again"), e.EntryReversed(8, "strike")):
            books.apply(entry)
        assert books.carcasses == Books(store.entries()).carcasses
        assert books.carcasses[1].state is CarcassState.OPEN

    def test_a_closed_store_says_so(self) -> None:
        store = self.make()
        put(store, e.CarcassOpened(1))
        store.close()
        store.close()
        with pytest.raises(LedgerError, match="already closed"):
            put(store, e.CarcassParked(1))
        with pytest.raises(LedgerError, match="already closed"):
            list(store.entries())
