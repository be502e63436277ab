"""Scales that are asked, scales on one wire, captures of what a scale sends."""

from __future__ import annotations

from pathlib import Path

import pytest

from handsfree.errors import ScaleError
from handsfree.testing.scripted_scale import ScriptedTransport
from handsfree.weighing.asking import Asking
from handsfree.weighing.capture import read_scale_csv
from handsfree.weighing.messages import Indication
from handsfree.weighing.ports import Chunk, Ended, Lost, Nothing, Received
from handsfree.weighing.recording import CaptureWriter, Spied
from handsfree.weighing.shapes import find_shapes
from handsfree.weighing.shared_wire import SharedWire
from handsfree.weighing.weigher import Weigher

MS = 1_000_000
ASK = b"W\r\n"


class StepClock:
    def __init__(self) -> None:
        self.t_ns = 0

    def now_ns(self) -> int:
        return self.t_ns

    def started_at(self):
        raise AssertionError("nobody asks")


class Oracle:
    """A scale that answers each request after a while, and notes when it was asked."""

    scale = "bench"

    def __init__(self, clock: StepClock, delay_ms: float, deaf_to: int = 0) -> None:
        self.clock = clock
        self.delay_ms = delay_ms
        self.deaf_to = deaf_to
        self.asked_ms: list[float] = []
        self.due_ns: int | None = None
        self.opened = False

    def receive(self, timeout_s: float) -> Received:
        if not self.opened:
            self.opened = True
            return Nothing(self.clock.t_ns)
        end_ns = self.clock.t_ns + round(timeout_s * 1e9)
        if self.due_ns is not None and self.due_ns <= end_ns:
            self.clock.t_ns, self.due_ns = max(self.clock.t_ns, self.due_ns), None
            return Chunk(self.clock.t_ns, b"ST,GS 1.000KG\r\n")
        self.clock.t_ns = end_ns
        return Nothing(end_ns)

    def send(self, data: bytes) -> None:
        assert data == ASK
        self.asked_ms.append(self.clock.t_ns / MS)
        if len(self.asked_ms) > self.deaf_to:
            self.due_ns = self.clock.t_ns + round(self.delay_ms * MS)

    def close(self) -> None: ...


def run(oracle: Oracle, seconds: float, **settings: float) -> list[Chunk]:
    asking = Asking(oracle, ASK, oracle.clock, every_s=settings.pop("every_s", 0.1), **settings)
    found = []
    while oracle.clock.t_ns < seconds * 1e9:
        if isinstance(received := asking.receive(0.2), Chunk):
            found.append(received)
    return found


def test_a_quick_scale_is_asked_at_the_rate_that_was_set():
    oracle = Oracle(StepClock(), delay_ms=30)
    assert len(run(oracle, 1.0)) == 10
    assert oracle.asked_ms[:4] == [0, 100, 200, 300]


def test_a_slow_scale_is_asked_again_only_when_it_has_answered():
    oracle = Oracle(StepClock(), delay_ms=300)
    run(oracle, 1.0)
    assert oracle.asked_ms[:4] == [0, 300, 600, 900]


def test_a_scale_that_waits_to_be_stable_is_given_its_time():
    oracle = Oracle(StepClock(), delay_ms=7000)
    assert len(run(oracle, 15.0, answer_s=8.0)) == 2
    assert oracle.asked_ms == [0, 7000, 14000]


def test_a_request_that_was_lost_is_sent_again_after_a_second():
    oracle = Oracle(StepClock(), delay_ms=30, deaf_to=2)
    run(oracle, 2.2)
    assert oracle.asked_ms == [0, 1000, 2000, 2100, 2200] or oracle.asked_ms[:4] == [0, 1000, 2000, 2100]


def test_a_lost_port_is_asked_as_soon_as_it_is_back():
    clock = StepClock()
    script: list[Received] = [Nothing(0), Nothing(1), Lost(2, "gone"), Nothing(3), Chunk(4, b"1 kg\r\n")]
    bare = ScriptedTransport("bench", script)
    asking = Asking(bare, ASK, clock, every_s=0.1)
    found = []
    while not isinstance(received := asking.receive(0.01), Ended):
        clock.t_ns += 10 * MS
        found.append(type(received))
    assert found == [Nothing, Nothing, Lost, Nothing, Chunk]
    assert len(bare.sent) >= 2


def test_what_comes_on_a_shared_wire_reaches_every_scale_once():
    lines = [Chunk(i, f"{1 + i % 2:02d},ST,GS,+{i / 1000:7.3f},kg\r\n".encode()) for i in range(1, 31)]
    wire = SharedWire(ScriptedTransport("wire", [*lines, Lost(99, "gone")]))
    taps = {"01": wire.tap("bench"), "02": wire.tap("rail")}
    weighers = {
        number: Weigher(tap.scale, find_shapes("auto"), address=number, first_is_whole=True)
        for number, tap in taps.items()
    }
    got: dict[str, list[int]] = {"01": [], "02": []}
    lost = 0
    # The second reads in bursts, as threads do.
    for _ in range(40):
        for number, times in (("01", 1), ("02", 3)):
            for _ in range(times):
                received = taps[number].receive(0.0)
                lost += isinstance(received, Lost)
                found = weighers[number].feed(received)
                got[number] += [each.value_mg // 1000 for each in found if isinstance(each, Indication)]
    assert got == {"01": list(range(2, 31, 2)), "02": list(range(1, 30, 2))}
    assert lost == 2


def test_a_shared_wire_is_freed_when_its_last_scale_has_left():
    class Held(ScriptedTransport):
        closed = 0

        def close(self) -> None:
            self.closed += 1

    bare = Held("wire", [Chunk(1, b"x\r\n"), Chunk(2, b"y\r\n")])
    wire = SharedWire(bare)
    one, two = wire.tap("bench"), wire.tap("rail")
    one.close()
    assert bare.closed == 0
    assert isinstance(one.receive(0.0), Ended)
    assert isinstance(two.receive(0.0), Chunk)
    two.send(b"W")
    two.close()
    assert (bare.closed, bare.sent) == (1, [b"W"])


def test_a_shared_wire_that_is_not_there_is_told_to_each_scale():
    class Absent(ScriptedTransport):
        def receive(self, timeout_s: float) -> Received:
            raise ScaleError("the port is not there")

    wire = SharedWire(Absent("wire", []))
    one, two = wire.tap("bench"), wire.tap("rail")
    with pytest.raises(ScaleError):
        one.receive(0.0)
    assert isinstance(two.receive(0.0), Lost)


def test_a_capture_replays_what_was_spied_on(tmp_path: Path):
    sent: list[Received] = [
        Chunk(100 * MS, b"ST,GS   1.23"),
        Chunk(101 * MS, b"4,kg\r\n\x02   1.234kgGS\x03"),
        Chunk(120 * MS, b"\r"),  # a check character that looks like a line end, and came late
        Lost(200 * MS, "gone"),
        Chunk(2000 * MS, b"US,GS   0.000,kg\r\n"),
        Ended(2000 * MS),
    ]
    spied = Spied(ScriptedTransport("bench", sent), CaptureWriter(tmp_path / "c.csv"))
    for _ in sent:
        spied.receive(0.0)
    spied.close()
    (again,) = read_scale_csv(tmp_path / "c.csv")
    got = []
    while not isinstance(received := again.receive(0.0), Ended):
        got.append(received)
    assert got == [
        Chunk(101 * MS, b"ST,GS   1.234,kg\r\n"),
        Chunk(101 * MS, b"\x02   1.234kgGS\x03"),
        Chunk(120 * MS, b"\r"),
        Lost(200 * MS, "the port was lost, as recorded"),
        Chunk(2000 * MS, b"US,GS   0.000,kg\r\n"),
    ]


def test_a_scale_without_line_ends_keeps_its_times_in_the_capture(tmp_path: Path):
    frames = [Chunk((i + 1) * 100 * MS, b"=%8.3f" % (i / 1000)) for i in range(60)]
    with CaptureWriter(tmp_path / "c.csv") as writer:
        for chunk in frames:
            writer.feed("bench", chunk)
    (again,) = read_scale_csv(tmp_path / "c.csv")
    got = []
    while isinstance(received := again.receive(0.0), Chunk):
        got.append(received)
    assert b"".join(each.data for each in got) == b"".join(each.data for each in frames)
    assert got[-50:] == frames[-50:]


def test_a_full_disk_ends_the_capture_and_not_the_weighing(tmp_path: Path):
    full = Path("/dev/full")
    if not full.exists():
        pytest.skip("no /dev/full here")
    (tmp_path / "c.csv").write_text("seconds,scale,line\n")
    writer = CaptureWriter(tmp_path / "c.csv")
    writer._file.close()
    writer._file = full.open("w", encoding="ascii")
    import csv

    writer._rows = csv.writer(writer._file)
    told: list[str] = []
    lines = [Chunk(i, b"1 kg\r\n") for i in range(5)]
    spied = Spied(ScriptedTransport("bench", lines), writer, told.append)
    assert all(isinstance(spied.receive(0.0), Chunk) for _ in range(5))
    spied.close()
    assert len(told) == 1
    assert "cannot be written" in told[0]
