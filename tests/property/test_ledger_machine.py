"""Any order of openings, pieces, corrections, parkings and restarts keeps ledger, books and sums together."""

from __future__ import annotations

import sqlite3
import tempfile
from contextlib import closing
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from handsfree.errors import EntryError
from handsfree.ledger import amending
from handsfree.ledger import entries as e
from handsfree.ledger.bookkeeper import Bookkeeper
from handsfree.ledger.books import Books, open_books
from handsfree.ledger.posting import Rules, post
from handsfree.ledger.sqlite_store import open_ledger, read_ledger
from handsfree.pairing.messages import Instruction, Method, PieceWeighed
from handsfree.speech.meaning import Call, Command, Side, Verb

RULES = Rules(
    destination_of=lambda call: call.destination or "prime",
    closing_of=lambda carcass: e.CarcassClosed(carcass.number, "explained", "fine", 0, 1),
    butchers={1: "Ann", 2: "Ben"},
)
CALLS = st.builds(
    Call, st.sampled_from(["haunch", "neck", "shank"]), st.sampled_from([None, *Side]), st.integers(1, 4)
)
GRAMS = st.integers(1, 50_000)
TAGS = st.sampled_from(["1", "2", "3"])


@dataclass
class PlainPiece:
    """A piece on the naive side, or a plan or butcher that was said."""

    grams: int
    cut: str = ""
    struck_at: int = 0
    plan: str = ""
    butcher: str = ""
    at: int = 0


@dataclass
class PlainCarcass:
    """A carcass on the naive side: a list that is simply edited."""

    tag: str
    state: str = "open"
    made: list[PlainPiece] = field(default_factory=list)

    @property
    def pieces(self) -> list[PlainPiece]:
        return [each for each in self.made if not each.plan]

    @property
    def plan(self) -> str:
        said = [each.plan for each in self.made if each.plan and not each.struck_at]
        return said[-1] if said else ""


class LedgerMachine(RuleBasedStateMachine):
    def __init__(self) -> None:
        super().__init__()
        self.folder = tempfile.TemporaryDirectory(prefix="ledger-")
        self.path = Path(self.folder.name) / "ledger.db"
        self.plain: list[PlainCarcass] = []
        self.bench: list[PlainPiece] = []
        self.moved_at = 0
        self.now = 0
        self.seen: list[e.Entry] = []
        self.follower = Books()
        self.open()

    def open(self) -> None:
        self.store = open_ledger(self.path)
        self.keeper = Bookkeeper(
            self.store,
            open_books(self.store),
            session=f"s{self.now}",
            started_at=datetime(2026, 1, 31, tzinfo=UTC),
        )

    def teardown(self) -> None:
        self.store.close()
        self.folder.cleanup()

    def in_hand(self) -> PlainCarcass | None:
        return next((c for c in self.plain if c.state == "open"), None)

    def write(self, bodies: list[e.Body]) -> None:
        self.now += 1
        made = self.keeper.write(bodies, t_ns=self.now)
        self.seen += made
        for entry in made:
            self.follower.apply(entry)

    def say(self, verb: Verb, **arguments: object) -> bool:
        """Whether the recorder did it."""
        self.now += 1
        instruction = Instruction(self.now, Command(verb, **arguments), "words")  # type: ignore[arg-type]
        try:
            bodies = post(instruction, self.keeper.books, RULES)
        except EntryError:
            return False
        self.write(bodies)
        return True

    @rule(
        words=st.lists(
            st.tuples(
                st.sampled_from(["weigh", "weigh", "strike", "put back", "that was", "plan", "butcher"]),
                CALLS,
                GRAMS,
            ),
            min_size=4,
            max_size=12,
        )
    )
    def work(self, words: list[tuple[str, Call, int]]) -> None:
        """A stretch of pieces and corrections by voice, most of them with something to correct."""
        for word, call, grams in words:
            match word:
                case "weigh":
                    self._weigh(None if grams % 4 == 0 else call, grams)
                case "strike":
                    self._strike()
                case "put back":
                    self._put_back()
                case "butcher":
                    self._butcher(1 + grams % 3)
                case "plan":
                    self._plan("block" if grams % 2 else "primals")
                case _:
                    self._that_was(call)

    @initialize(tag=TAGS)
    def first_carcass(self, tag: str) -> None:
        self._new_carcass(tag)

    @rule(
        words=st.lists(
            st.tuples(st.sampled_from(["new", "park", "close", "resume", "resume"]), TAGS),
            min_size=1,
            max_size=4,
        )
    )
    def change_carcass(self, words: list[tuple[str, str]]) -> None:
        for word, tag in words:
            match word:
                case "new":
                    self._new_carcass(tag)
                case "resume":
                    self._resume(tag)
                case _:
                    self._put_aside(Verb.PARK_CARCASS if word == "park" else Verb.CLOSE_CARCASS)

    def _new_carcass(self, tag: str) -> None:
        if (hand := self.in_hand()) is not None:
            hand.state = "parked"
        assert self.say(Verb.NEW_CARCASS)
        self.moved_at = self.now
        assert self.say(Verb.TAG, digits=tag)
        self.plain.append(PlainCarcass(tag))

    def _weigh(self, call: Call | None, grams: int) -> None:
        weighed = PieceWeighed(self.now, call, grams * 1000, 1.5, Method.SPOKEN, None)
        hand = self.in_hand()
        if hand is None:
            with pytest.raises(EntryError):
                post(weighed, self.keeper.books, RULES)
            return
        self.write(post(weighed, self.keeper.books, RULES))
        hand.made.append(PlainPiece(grams, call.cut if call else "", at=self.now))

    def _strike(self) -> None:
        hand = self.in_hand()
        standing = [p for p in hand.made if not p.struck_at] if hand else []
        standing += [swap for swap in self.bench if not swap.struck_at and swap.at > self.moved_at]
        assert self.say(Verb.STRIKE) == bool(standing)
        if standing:
            max(standing, key=lambda p: p.at).struck_at = self.now

    def _put_back(self) -> None:
        hand = self.in_hand()
        struck = [p for p in hand.made if p.struck_at] if hand else []
        struck += [swap for swap in self.bench if swap.struck_at > self.moved_at]
        assert self.say(Verb.PUT_BACK) == bool(struck)
        if struck:
            max(struck, key=lambda p: p.struck_at).struck_at = 0

    def _plan(self, name: str) -> None:
        hand = self.in_hand()
        assert self.say(Verb.PLAN, plan=name) == (hand is not None and hand.plan != name)
        if hand is not None and hand.plan != name:
            hand.made.append(PlainPiece(0, plan=name, at=self.now))

    @property
    def at_the_bench(self) -> str:
        standing = [swap.butcher for swap in self.bench if not swap.struck_at]
        return standing[-1] if standing else ""

    def _butcher(self, number: int) -> None:
        name = {1: "Ann", 2: "Ben"}.get(number, "")
        other = bool(name) and self.at_the_bench != name
        assert self.say(Verb.BUTCHER, butcher=number) == other
        if other:
            self.bench.append(PlainPiece(0, butcher=name, at=self.now))

    def _that_was(self, call: Call) -> None:
        hand = self.in_hand()
        standing = [p for p in hand.pieces if not p.struck_at] if hand else []
        assert self.say(Verb.THAT_WAS, call=call) == bool(standing)
        if standing:
            standing[-1].cut = call.cut

    def _put_aside(self, verb: Verb) -> None:
        hand = self.in_hand()
        assert self.say(verb) == (hand is not None)
        if hand is not None:
            hand.state = "parked" if verb is Verb.PARK_CARCASS else "closed"
            self.moved_at = self.now

    def _resume(self, tag: str) -> None:
        found = [c for c in self.plain if c.tag == tag and c.state != "closed"]
        found = found or [c for c in self.plain if c.tag == tag]
        wanted = found[-1] if found else None
        hand = self.in_hand()
        assert self.say(Verb.RESUME, digits=tag) == (wanted is not None and wanted is not hand)
        if wanted is not None:
            self.moved_at = self.now if wanted is not hand else self.moved_at
            if hand is not None:
                hand.state = "parked"
            wanted.state = "open"

    @precondition(lambda self: any(c.pieces for c in self.plain))
    @rule(data=st.data())
    def strike_or_restore_any_piece_by_hand(self, data: st.DataObject) -> None:
        number = data.draw(st.sampled_from([n for n, c in enumerate(self.plain, 1) if c.pieces]))
        carcass = self.keeper.books.by_number(number)
        assert carcass is not None
        index = data.draw(st.integers(0, len(carcass.pieces) - 1))
        seq, plain = list(carcass.pieces)[index], self.plain[number - 1].pieces[index]
        act = amending.restore if plain.struck_at else amending.strike
        self.write(act(self.keeper.books, seq, "by hand"))
        plain.struck_at = 0 if plain.struck_at else self.now

    @rule(grams=st.integers(0, 3000), turn=st.sampled_from(["putting on", "taking off"]))
    def tray_and_turn(self, grams: int, turn: str) -> None:
        self.write([e.ContainerSet("bench", grams * 1000, f"{grams} g"), e.WeighingTurned(turn)])

    @rule()
    def restart(self) -> None:
        self.store.close()
        self.open()

    @invariant()
    def the_books_say_what_the_naive_lists_say(self) -> None:
        for number, plain in enumerate(self.plain, 1):
            carcass = self.keeper.books.by_number(number)
            assert carcass is not None
            assert carcass.total_mg() == sum(p.grams for p in plain.pieces if not p.struck_at) * 1000
            assert [p.cut for p in carcass.pieces.values()] == [p.cut for p in plain.pieces]
            assert carcass.state.value == plain.state
            assert carcass.plan == plain.plan
        hand = self.in_hand()
        assert self.keeper.books.current == (self.plain.index(hand) + 1 if hand else None)
        assert self.keeper.books.next_number == len(self.plain) + 1
        assert self.keeper.books.bench.name == self.at_the_bench

    @invariant()
    def entries_never_change_and_books_read_anew_are_the_books_kept(self) -> None:
        entries = list(self.store.entries())
        assert entries == self.seen
        full, kept = Books(entries), self.keeper.books
        assert full.carcasses == self.follower.carcasses
        assert full.bench == self.follower.bench
        assert (full.bench.butcher, full.bench.since) == (kept.bench.butcher, kept.bench.since)
        assert (full.current, full.direction, full.containers) == (
            kept.current,
            kept.direction,
            kept.containers,
        )
        for number, carcass in full.carcasses.items():
            assert kept.by_number(number) == carcass

    @invariant()
    def the_digests_hold_and_the_views_agree(self) -> None:
        with closing(read_ledger(self.path)) as reader:
            assert reader.verify().count == len(self.seen)
        with closing(sqlite3.connect(f"file:{self.path}?mode=ro", uri=True)) as db:
            rows = db.execute("SELECT state, pieces, pieces_mg FROM carcasses ORDER BY number").fetchall()
        assert rows == [
            (c.state.value, len(c.standing()), c.total_mg()) for c in self.follower.carcasses.values()
        ]


TestLedgerMachine = pytest.mark.filterwarnings("error")(LedgerMachine.TestCase)
TestLedgerMachine.settings = settings(
    max_examples=12,
    stateful_step_count=12,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow],
)
