"""Finding how a scale talks, on a line that gives rubbish at the wrong settings."""

from __future__ import annotations

import os
import pty
import select
import termios
import threading
import tty
from collections.abc import Iterator
from pathlib import Path

import pytest
from click.testing import CliRunner

from handsfree.cli.scale import scale
from handsfree.config import load_config
from handsfree.weighing.finding import REQUESTS, USUAL, Finder, Found, judge
from handsfree.weighing.ports import Chunk, Nothing, Received
from handsfree.weighing.serial_settings import SerialSettings
from handsfree.weighing.shapes import find_shapes

AUTO = find_shapes("auto")
LINE = b"ST,GS   1.235,kg\r\n"


def rubbish(data: bytes, seed: int) -> bytes:
    """What a wrong rate makes of some bytes: as many others, none of them a line."""
    return bytes((byte * 7 + seed * 13 + i) % 256 | 0x80 for i, byte in enumerate(data))


class Line:
    """A port with a scale that is set to something, and a clock that moves only by waiting."""

    def __init__(
        self,
        settings: SerialSettings,
        *,
        every_s: float | None = 0.1,
        answers: bytes = b"",
        lines: bytes = LINE,
    ) -> None:
        self.settings, self.every_s, self.answers, self.lines = settings, every_s, answers, lines
        self.tuned = SerialSettings()
        self.t_ns = 0
        self.due_ns: int | None = None if every_s is None else round(every_s * 1e9)
        self.sent: list[bytes] = []

    def now_ns(self) -> int:
        return self.t_ns

    def started_at(self):
        raise AssertionError("nobody asks")

    def retune(self, settings: SerialSettings) -> None:
        self.tuned = settings

    def send(self, data: bytes) -> None:
        self.sent.append(data)
        if data == self.answers and self.tuned == self.settings:
            self.due_ns = self.t_ns + 50_000_000

    def receive(self, timeout_s: float) -> Received:
        end_ns = self.t_ns + round(timeout_s * 1e9)
        if self.due_ns is None or self.due_ns > end_ns:
            self.t_ns = max(end_ns, self.t_ns + 1)
            return Nothing(self.t_ns)
        self.t_ns = max(self.t_ns, self.due_ns)
        self.due_ns = None if self.every_s is None else self.t_ns + round(self.every_s * 1e9)
        right = self.tuned == self.settings
        return Chunk(self.t_ns, self.lines if right else rubbish(self.lines, self.tuned.baud))


def find(line: Line) -> Found | None:
    return Finder(line, line, AUTO).find()


@pytest.mark.parametrize("settings", USUAL, ids=str)
def test_every_usual_setting_of_a_scale_that_sends_by_itself_is_found(settings: SerialSettings):
    line = Line(settings)
    found = find(line)
    assert found is not None
    assert (found.settings, found.request, found.judged.shape) == (settings, b"", "status_comma")
    assert (found.judged.sample, found.judged.flagged) == ("1.235 kg", True)
    assert line.sent == []


@pytest.mark.parametrize("every_s", [0.05, 0.5, 1.0])
def test_a_slow_or_quick_scale_is_found_and_its_pace_told(every_s: float):
    found = find(Line(SerialSettings(2400, 7, "E"), every_s=every_s))
    assert found is not None
    assert found.rate_hz == pytest.approx(1 / every_s, rel=0.4)


@pytest.mark.parametrize("request_", REQUESTS, ids=repr)
def test_a_scale_that_must_be_asked_is_asked(request_: bytes):
    line = Line(SerialSettings(4800, 7, "E"), every_s=None, answers=request_)
    found = find(line)
    assert found is not None
    assert (found.settings, found.request) == (SerialSettings(4800, 7, "E"), request_)


def test_nothing_that_tares_or_zeroes_a_scale_is_ever_sent():
    line = Line(SerialSettings(300), every_s=None)
    assert find(line) is None
    assert not {each.strip()[:1].upper() for each in line.sent} & {b"T", b"Z", b"R", b"C", b"K", b"M"}


def test_a_line_that_gives_rubbish_at_every_rate_is_not_taken_for_a_scale():
    assert find(Line(SerialSettings(300))) is None


def test_lines_of_an_unknown_shape_still_tell_the_settings():
    found = find(Line(SerialSettings(19200), lines=b"WT[    1.235]KGS\r\n"))
    assert found is not None
    assert (found.settings, found.judged.shape, found.judged.lines) == (SerialSettings(19200), "", 0)
    assert found.judged.sample == "WT[    1.235]KGS"


def test_text_without_digits_is_no_scale():
    assert find(Line(SerialSettings(), lines=b"login:\r\n")) is None


def test_lines_without_a_unit_are_found_and_the_missing_unit_is_told():
    judged = judge(b"\x02   1.234GSI \x03" * 6, AUTO)
    assert (judged.shape, judged.unit_missing, judged.good) == ("block_letters", True, True)


# With seven data bits read as eight, the parity bit stands on top of every second character or so.
def test_text_with_its_parity_bits_on_top_is_not_good():
    data = bytes(byte | (0x80 if byte.bit_count() % 2 else 0) for byte in LINE * 8)
    assert not judge(data, AUTO).good


@pytest.fixture
def scale_at_2400() -> Iterator[str]:
    """A pseudo-terminal (it knows rates, no parity) whose scale sends rubbish at any rate but 2400."""
    master, slave = pty.openpty()
    tty.setraw(slave)
    stop = threading.Event()

    def send() -> None:
        while not stop.wait(0.01):
            speed = termios.tcgetattr(slave)[5]
            right = speed == termios.B2400
            if select.select([], [master], [], 0)[1]:
                os.write(master, LINE if right else rubbish(LINE, speed))

    sender = threading.Thread(target=send, daemon=True)
    sender.start()
    yield os.ttyname(slave)
    stop.set()
    sender.join(timeout=5)
    os.close(master)
    os.close(slave)


def test_the_verb_finds_a_scale_on_a_pseudo_terminal_and_writes_it_down(scale_at_2400: str, tmp_path: Path):
    file = tmp_path / "handsfree.toml"
    file.write_text('[scale.bench]  # by the window\nd_g = 5\nrequest = "old"\n')
    done = CliRunner().invoke(
        scale, ["find", scale_at_2400, "--write", "--config", str(file)], catch_exceptions=False
    )
    assert done.exit_code == 0, done.output
    assert "2400 8-N-1, shape status_comma, with a stable flag" in done.output
    settings = load_config(file).scales["bench"]
    assert (settings.port, settings.baud, settings.bits, settings.parity) == (scale_at_2400, 2400, 8, "N")
    assert (settings.d_g, settings.request, settings.shape) == (5, "", "status_comma")
    assert "# by the window" in file.read_text()
