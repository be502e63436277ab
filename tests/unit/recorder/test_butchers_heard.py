"""From the command on the next utterance is heard as the new butcher's, live as in a replay."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from hypothesis import given, settings
from hypothesis import strategies as st

from handsfree.clock import NS_PER_S
from handsfree.config import Config
from handsfree.ledger import entries as e
from handsfree.ledger.books import Books
from handsfree.merging import ScaleStep, Step, StepBuffer
from handsfree.speech.bench_voices import BenchRecogniser
from handsfree.speech.hearing import Listener
from handsfree.speech.messages import Samples
from handsfree.speech.ports import Recognition
from handsfree.speech.typed import TypedRecogniser, decode, encode
from handsfree.testing import bench_scale as bench
from handsfree.testing.memory_store import MemoryStore
from handsfree.testing.typed_session import STARTED_AT, lines, session
from handsfree.wiring import words
from handsfree.wiring.workplace import Occasion, Workplace, workplace

CONFIG = Config(butchers={1: "Morag", 2: "Iain"})
VOCABULARY = words.vocabulary(CONFIG)


class OwnTongue(TypedRecogniser):
    """An engine that understands one butcher: words typed as "Iain: left shank" by Iain's alone."""

    def __init__(self, butcher: str) -> None:
        super().__init__()
        self._butcher = butcher

    def feed(self, samples: Samples, captured: Samples | None = None) -> None:
        """What this butcher said, as plain words; anything else is no phrase."""
        who, _, text = decode(samples).partition(": ")
        super().feed(encode(text if who in (self._butcher, "all") else "mumbling"), captured)

    def finish(self, alternatives: int = 3) -> Recognition:
        """See `TypedRecogniser`."""
        return super().finish(alternatives)


def place_over(store: MemoryStore, *, butcher: str = "") -> Workplace:
    plain = OwnTongue("")
    engine = BenchRecogniser(plain, plain, OwnTongue, CONFIG.butchers)
    listener = Listener(engine, VOCABULARY.listening())
    occasion = Occasion("live", STARTED_AT, "typed words", butcher=butcher)
    return workplace(CONFIG, store, VOCABULARY, occasion, scales={}, listener=listener)


def take(place: Workplace, steps: Iterable[Step]) -> None:
    for step in steps:
        for _ in place.recorder.take(step):
            pass
    for _ in place.recorder.finish("end"):
        pass


def pieces(store: MemoryStore) -> list[tuple[str, str]]:
    carcasses = Books(store.entries()).carcasses.values()
    return [(piece.words(), piece.entered.by) for each in carcasses for piece in each.standing()]


#: Two butchers take turns; each is understood only while the ledger has them at the bench.
TALK = [
    (1.0, "all: ledger new carcass"),
    (3.0, "all: ledger butcher one"),
    (6.0, "Morag: left haunch"),
    (14.0, "Iain: left shank"),  # not at the bench yet
    (30.0, "all: ledger butcher two"),
    (44.0, "Iain: right shank"),
    (60.0, "Morag: neck"),  # no longer
    (80.0, "Iain: ledger strike that"),  # the unnamed piece
    (83.0, "Iain: ledger butcher one"),
    (86.0, "Morag: ledger strike that"),  # back to Iain
    (90.0, "Iain: right haunch"),
]
LOADS = [(8, 4135), (16, 900), (46, 880), (62, 1500), (92, 4010)]
UNTIL_S = 105


def steps() -> list[Step]:
    events: list[bench.BenchEvent] = []
    for at_s, mass_g in LOADS:
        events += [bench.Put(at_s, mass_g), bench.Take(at_s + 3.5, mass_g)]
    return list(session(TALK, lines("bench", events, UNTIL_S), until_s=UNTIL_S))


STEPS = steps()


def entries(store: MemoryStore) -> list[e.Body]:
    return [entry.body for entry in store.entries()]


def test_each_butcher_is_understood_from_the_command_on_and_no_longer_than_that() -> None:
    store = MemoryStore()
    take(place_over(store), STEPS)
    assert pieces(store) == [
        ("left haunch", "Morag"),
        ("unnamed", "Morag"),
        ("right shank", "Iain"),
        ("right haunch", "Iain"),
    ]
    assert Books(store.entries()).bench.name == "Iain"


def test_a_session_begins_with_the_voice_of_whom_the_ledger_has_at_the_bench() -> None:
    store = MemoryStore()
    take(
        place_over(store),
        session([(1, "all: ledger new carcass"), (3, "all: ledger butcher two")], until_s=6),
    )
    pan = lines("bench", [bench.Put(4, 900)], 20)
    take(place_over(store), session([(1.5, "Iain: left shank")], pan, until_s=20))
    assert pieces(store) == [("left shank", "Iain")]


def test_a_session_may_be_begun_by_naming_who_is_there() -> None:
    store = MemoryStore()
    talk = [(1.0, "Morag: ledger new carcass"), (3.0, "Morag: left shank")]
    take(place_over(store, butcher="1"), session(talk, lines("bench", [bench.Put(5, 900)], 20), until_s=20))
    assert pieces(store) == [("left shank", "Morag")]


def arrived(order: Sequence[Step], late_ns: Sequence[int]) -> list[tuple[int, Step]]:
    """The steps with the time each arrives live: sound a little late, scale lines within the grace."""
    late = [
        (step.t_ns + (late_ns[n % len(late_ns)] if isinstance(step, ScaleStep) else 0), step)
        for n, step in enumerate(order)
    ]
    return sorted(late, key=lambda pair: pair[0])


@given(st.lists(st.integers(0, 70_000_000), min_size=1, max_size=7), st.integers(20_000_000, 900_000_000))
@settings(deadline=None, max_examples=10)
def test_live_and_replay_enter_the_same_however_late_lines_come_and_however_seldom_one_looks(
    late_ns: list[int], look_every_ns: int
) -> None:
    replayed = MemoryStore()
    take(place_over(replayed), STEPS)

    live, buffer, released = MemoryStore(), StepBuffer(sound=True), []
    coming = arrived(STEPS, late_ns)
    now_ns = 0
    while coming:
        now_ns += look_every_ns
        while coming and coming[0][0] <= now_ns:
            buffer.push(coming.pop(0)[1])
        released += buffer.ready(now_ns)
        assert now_ns < 200 * NS_PER_S
    take(place_over(live), [*released, *buffer.rest()])
    assert entries(live) == entries(replayed)
