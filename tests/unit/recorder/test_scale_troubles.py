"""Troubles of scales through the recorder: spoken, entered, over again, and nothing answered is lost."""

from __future__ import annotations

from handsfree.config import Config, ScaleSettings
from handsfree.ledger.books import Books
from handsfree.ledger.entries import TroubleNoted
from handsfree.merging import DeviceStep, ScaleStep, Step
from handsfree.speech.hearing import Listener
from handsfree.speech.typed import TypedRecogniser
from handsfree.testing import bench_scale as bench
from handsfree.testing.memory_store import MemoryStore
from handsfree.testing.typed_session import STARTED_AT, lines, session
from handsfree.weighing.messages import ScaleEventKind as Kind
from handsfree.weighing.ports import Chunk, Lost
from handsfree.wiring import words
from handsfree.wiring.workplace import Occasion, workplace

VOCABULARY = words.vocabulary(Config())
S = 1_000_000_000
OPENING = [(1.0, "ledger new carcass"), (3.0, "ledger tag four one seven")]


def run(talk: list[tuple[float, str]], *scales: list[Step], until_s: float) -> tuple[MemoryStore, list[str]]:
    """The ledger a session leaves, and what was said in it."""
    store = MemoryStore()
    listener = Listener(TypedRecogniser(), VOCABULARY.listening())
    occasion = Occasion("live", STARTED_AT, "typed words")
    place = workplace(Config(), store, VOCABULARY, occasion, scales={}, listener=listener)
    said = []
    for step in session([*OPENING, *talk], *scales, until_s=until_s):
        for outcome in place.recorder.take(step):
            said += [saying.text for saying in place.replies.to(outcome)]
    for outcome in place.recorder.finish("test"):
        said += [saying.text for saying in place.replies.to(outcome)]
    return store, said


def troubles(store: MemoryStore) -> list[tuple[str, str]]:
    bodies = [entry.body for entry in store.entries()]
    return [(body.device, body.kind) for body in bodies if isinstance(body, TroubleNoted)]


def pieces(store: MemoryStore) -> list[tuple[str, int]]:
    (carcass,) = Books(store.entries()).carcasses.values()
    return [(piece.words(), piece.mass_mg // 1000) for piece in carcass.standing()]


def frozen(steps: list[Step], at_s: float) -> list[Step]:
    """A display that stands still from a time on: the last line again and again."""
    found: list[Step] = []
    for step in steps:
        assert isinstance(step, ScaleStep)
        before = found[-1] if found else step
        same = step.t_ns > at_s * S and isinstance(before, ScaleStep) and isinstance(before.received, Chunk)
        data = before.received.data if same else step.received.data  # type: ignore[union-attr]
        found.append(ScaleStep(step.t_ns, step.scale, Chunk(step.t_ns, data)))
    return found


def test_a_frozen_display_is_told_after_the_second_call_without_a_weight():
    pan = list(lines("bench", [bench.Put(6, 900), bench.Take(10, 900), bench.Put(14, 700)], 40))
    talk = [(7, "left shank"), (15, "right shank"), (24, "neck")]
    store, said = run(talk, frozen(pan, 12.5), until_s=40)
    assert troubles(store) == [("bench", Kind.STUCK)]
    assert "the bench scale has not moved, look at it" in said
    assert pieces(store) == [("left shank", 900)]


def test_a_rail_at_rest_is_not_blamed_for_calls_without_a_weight():
    rail = frozen(list(lines("rail", [], 40, seed=2)), 0.0)
    pan = list(lines("bench", [bench.Put(6, 900), bench.Take(10, 900)], 40))
    store, _ = run([(7, "left shank"), (15, "right shank"), (24, "neck")], rail, pan, until_s=40)
    assert "rail" not in {device for device, _ in troubles(store)}


def test_a_scale_that_is_unplugged_and_back_loses_no_piece():
    pan = list(lines("bench", [bench.Put(6, 900), bench.Take(12, 900), bench.Put(22, 700)], 34))
    there = [step for step in pan if not 14 * S < step.t_ns < 20 * S]
    there.append(ScaleStep(14 * S, "bench", Lost(14 * S, "gone")))
    there.sort(key=lambda step: step.t_ns)
    store, said = run([(7, "left shank"), (23, "right shank")], there, until_s=34)
    assert troubles(store) == [("bench", Kind.UNPLUGGED), ("bench", Kind.BACK)]
    assert "the bench scale is unplugged" in said
    assert pieces(store) == [("left shank", 900), ("right shank", 700)]


def test_a_clock_that_was_set_is_told_and_kept():
    jump = DeviceStep(9 * S, "clock", "the clock was set forward by 3600 seconds")
    pan = list(lines("bench", [bench.Put(6, 900)], 16))
    store, said = run([(7, "left shank")], sorted([*pan, jump], key=lambda step: step.t_ns), until_s=16)
    assert troubles(store) == [("clock", "the clock was set forward by 3600 seconds")]
    assert "the clock was set forward by 3600 seconds" in said
    assert pieces(store) == [("left shank", 900)]


def pressed(*grams: tuple[float, int]) -> list[Step]:
    """A scale that sends one line each time its key is pressed."""
    return [
        ScaleStep(round(at_s * S), "bench", Chunk(round(at_s * S), f"ST,GS {g / 1000:7.3f},kg\r\n".encode()))
        for at_s, g in grams
    ]


def test_a_scale_that_sends_on_its_key_weighs_with_one_line_each_time():
    store = MemoryStore()
    listener = Listener(TypedRecogniser(), VOCABULARY.listening())
    scales = {"bench": ScaleSettings("bench", d_g=5, shape="status_comma", only_on_key=True)}
    place = workplace(
        Config(),
        store,
        VOCABULARY,
        Occasion("live", STARTED_AT, "typed words"),
        scales=scales,
        listener=listener,
    )
    place.recorder.expect(scales)
    talk = [*OPENING, (9.5, "left shank"), (19.5, "right shank")]
    for step in session(talk, pressed((5, 0), (10, 900), (15, 0), (20, 1240), (40, 0)), until_s=45):
        list(place.recorder.take(step))
    list(place.recorder.finish("test"))
    assert pieces(store) == [("left shank", 900), ("right shank", 1240)]
    assert troubles(store) == []
