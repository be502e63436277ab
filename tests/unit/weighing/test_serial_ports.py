"""The serial edge, on pseudo-terminals and loop://."""

from __future__ import annotations

import errno
import os
import pty
import socket
import termios
import tty
from collections.abc import Iterator

import pytest

from handsfree.errors import ConfigError, ScaleError
from handsfree.weighing.ports import Chunk, Ended, Lost, Nothing
from handsfree.weighing.serial_port import SerialPort, SerialSettings, explain, serial_ports


class StepClock:
    """A clock that a test moves by hand."""

    def __init__(self) -> None:
        self.t_ns = 1

    def now_ns(self) -> int:
        return self.t_ns

    def started_at(self):
        raise AssertionError("nobody asks")


@pytest.fixture
def line() -> Iterator[tuple[int, str, list[int]]]:
    """A pseudo-terminal: the scale's end, the port's path, the open files."""
    master, slave = pty.openpty()
    tty.setraw(slave)
    files = [master, slave]
    yield master, os.ttyname(slave), files
    for each in files:
        os.close(each)


def test_bytes_come_with_the_time_of_the_clock(line: tuple[int, str, list[int]]):
    master, path, _ = line
    clock = StepClock()
    port = SerialPort("bench", path, clock)
    assert port.receive(0.0) == Nothing(1)
    os.write(master, b"1.000 kg\r\n")
    clock.t_ns = 77
    received = port.receive(1.0)
    assert isinstance(received, Chunk)
    assert received.t_ns == 77
    port.close()


def test_a_request_reaches_the_scale(line: tuple[int, str, list[int]]):
    master, path, _ = line
    port = SerialPort("bench", path, StepClock())
    port.receive(0.0)
    port.send(b"W\r\n")
    assert os.read(master, 10) == b"W\r\n"
    port.close()


def test_an_unplugged_port_is_lost_once_then_nothing_and_tried_again_after_a_second(
    line: tuple[int, str, list[int]], tmp_path
):
    master, path, files = line
    link = tmp_path / "ttyUSB0"
    link.symlink_to(path)
    clock = StepClock()
    port = SerialPort("bench", str(link), clock)
    assert isinstance(port.receive(0.0), Nothing)
    for each in files:
        os.close(each)
    files.clear()
    link.unlink()
    lost = port.receive(0.1)
    assert isinstance(lost, Lost)
    assert str(link) in lost.detail
    assert isinstance(port.receive(0.0), Nothing)
    clock.t_ns += 2_000_000_000
    assert isinstance(port.receive(0.0), Nothing)  # tried, still not there

    master, slave = pty.openpty()
    tty.setraw(slave)
    files += [master, slave]
    link.symlink_to(os.ttyname(slave))
    clock.t_ns += 500_000_000
    assert isinstance(port.receive(0.0), Nothing)  # not yet tried again
    clock.t_ns += 600_000_000
    assert isinstance(port.receive(0.0), Nothing)  # open again
    os.write(master, b"2.000 kg\r\n")
    received = port.receive(1.0)
    assert isinstance(received, Chunk)
    port.close()


def test_a_missing_port_is_a_scale_error_that_names_it():
    port = SerialPort("bench", "/dev/ttyNONE7", StepClock())
    with pytest.raises(ScaleError, match=r"bench scale's port /dev/ttyNONE7 is not there.*ports here"):
        port.receive(0.0)


def test_a_busy_port_is_a_scale_error(line: tuple[int, str, list[int]]):
    _, path, _ = line
    first, second = SerialPort("bench", path, StepClock()), SerialPort("rail", path, StepClock())
    first.receive(0.0)
    with pytest.raises(ScaleError, match="busy"):
        second.receive(0.0)
    first.close()


def test_permission_denied_says_which_group_and_rule():
    said = str(explain("bench", "/dev/ttyUSB0", OSError(errno.EACCES, "Permission denied")))
    assert "group dialout" in said
    assert "udev rule" in said
    assert "log in again" in said


@pytest.mark.parametrize("url", ["nonesuch://x", "/dev/null", "/"])
def test_what_is_no_serial_port_is_a_scale_error(url: str):
    with pytest.raises(ScaleError, match=r"cannot be opened|busy|not there"):
        SerialPort("bench", url, StepClock()).receive(0.0)


def test_a_port_may_be_spied_on(line: tuple[int, str, list[int]], capsys: pytest.CaptureFixture[str]):
    master, path, _ = line
    port = SerialPort("bench", f"spy://{path}", StepClock())
    assert isinstance(port.receive(0.0), Nothing)
    os.write(master, b"1 kg\r\n")
    received = port.receive(1.0)
    assert isinstance(received, Chunk)
    port.close()
    assert isinstance(port.receive(0.0), Ended)
    assert "RX" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("text", "settings"),
    [
        ("9600", SerialSettings(9600, 8, "N", 1)),
        ("9600 8-N-1", SerialSettings(9600, 8, "N", 1)),
        ("4800 7-E-2", SerialSettings(4800, 7, "E", 2)),
        (" 2400 7e1 ", SerialSettings(2400, 7, "E", 1)),
    ],
)
def test_settings_are_written_as_in_the_papers(text: str, settings: SerialSettings):
    assert SerialSettings.parse(text) == settings


@pytest.mark.parametrize("text", ["", "fast", "9600 8N", "9600 9-N-1", "9600 8-X-1", "0 8N1", "9600 8N3"])
def test_settings_that_are_none_are_a_config_error(text: str):
    with pytest.raises(ConfigError, match="9600 8-N-1"):
        SerialSettings.parse(text)


def test_the_ports_of_this_machine_can_be_listed():
    assert all(isinstance(path, str) and isinstance(about, str) for path, about in serial_ports())


def test_a_port_may_be_retuned_while_it_is_open(line: tuple[int, str, list[int]]):
    master, path, _ = line
    port = SerialPort("bench", path, StepClock())
    port.receive(0.0)
    os.write(master, b"rubbish")
    port.retune(SerialSettings(2400))
    assert termios.tcgetattr(master)[5] == termios.B2400
    assert isinstance(port.receive(0.0), Nothing)  # what came at the old rate is dropped
    os.write(master, b"1.000 kg\r\n")
    assert isinstance(port.receive(1.0), Chunk)
    # The kernel's pseudo-terminals know neither seven bits nor parity, and say so with termios.error.
    with pytest.raises(ScaleError, match=r"cannot talk with these settings.*Set other baud"):
        port.retune(SerialSettings(2400, 7, "E"))
    port.close()


def test_a_network_server_that_hangs_up_is_lost_and_taken_again_when_it_answers():
    clock = StepClock()
    with socket.create_server(("127.0.0.1", 0)) as server:
        url = f"socket://127.0.0.1:{server.getsockname()[1]}"
        port = SerialPort("bench", url, clock)
        assert isinstance(port.receive(0.0), Nothing)
        first, _ = server.accept()
        first.sendall(b"1.000 kg\r\n")
        assert isinstance(port.receive(1.0), Chunk)
        while isinstance(port.receive(0.0), Chunk):
            pass
        first.close()
        assert isinstance(port.receive(1.0), Lost)
        assert isinstance(port.receive(0.0), Nothing)
        clock.t_ns += 2_000_000_000
        assert isinstance(port.receive(0.0), Nothing)
        second, _ = server.accept()
        with second:
            second.sendall(b"2.000 kg\r\n")
            assert isinstance(port.receive(1.0), Chunk)
        port.close()


def test_a_network_server_that_is_not_there_is_a_scale_error():
    with socket.create_server(("127.0.0.1", 0)) as server:
        number = server.getsockname()[1]
    with pytest.raises(ScaleError, match="cannot be opened"):
        SerialPort("bench", f"socket://127.0.0.1:{number}", StepClock()).receive(0.0)
