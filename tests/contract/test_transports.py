"""The transport contract on every transport."""

from __future__ import annotations

import contextlib
import os
import pty
import socket
import tty
from collections.abc import Iterator, Sequence
from pathlib import Path

import pytest

from handsfree.clock import SystemClock
from handsfree.testing.scripted_scale import ScriptedTransport
from handsfree.testing.scripted_usb import ScriptedUsb, ScriptedUsbScale
from handsfree.testing.transport_contract import TransportContract
from handsfree.weighing.asking import Asking
from handsfree.weighing.capture import CaptureTransport, open_capture
from handsfree.weighing.hid import report_line
from handsfree.weighing.hid_port import HidPort
from handsfree.weighing.ports import Chunk, Transport
from handsfree.weighing.recording import CaptureWriter, Spied
from handsfree.weighing.serial_port import SerialPort
from handsfree.weighing.shared_wire import SharedWire


class TestScripted(TransportContract):
    finite = True

    def make(self, pieces: Sequence[bytes]) -> Transport:
        return ScriptedTransport("bench", [Chunk(i, piece) for i, piece in enumerate(pieces)])


class TestCapture(TransportContract):
    finite = True

    @pytest.fixture(autouse=True)
    def _folder(self, tmp_path: Path) -> None:
        self.path = tmp_path / "bench.bin"

    def make(self, pieces: Sequence[bytes]) -> Transport:
        self.path.write_bytes(b"".join(pieces))
        (transport,) = open_capture(self.path)
        assert isinstance(transport, CaptureTransport)
        return transport


class TestLoop(TransportContract):
    def make(self, pieces: Sequence[bytes]) -> Transport:
        port = SerialPort("bench", "loop://", SystemClock())
        if pieces:
            port.receive(0.0)
        for piece in pieces:
            port.send(piece)
        return port


class TestPseudoTerminal(TransportContract):
    @pytest.fixture(autouse=True)
    def _terminals(self) -> Iterator[None]:
        self.files: list[int] = []
        yield
        for each in self.files:
            with contextlib.suppress(OSError):
                os.close(each)

    def make(self, pieces: Sequence[bytes]) -> Transport:
        master, slave = pty.openpty()
        tty.setraw(slave)
        self.files += [master, slave]
        port = SerialPort("bench", os.ttyname(slave), SystemClock())
        if pieces:
            port.receive(0.0)
        for piece in pieces:
            os.write(master, piece)
        return port


class TestUsb(TransportContract):
    def make(self, pieces: Sequence[bytes]) -> Transport:
        bus = ScriptedUsb(ScriptedUsbScale("a", reports=list(pieces)))
        return HidPort("bench", "hid:", SystemClock(), bus)

    def wire(self, pieces: Sequence[bytes]) -> bytes:
        return b"".join(map(report_line, pieces))


class TestTcp(TransportContract):
    """A serial server on the network, here on the loopback."""

    @pytest.fixture(autouse=True)
    def _server(self) -> Iterator[None]:
        self.sockets = [socket.create_server(("127.0.0.1", 0))]
        yield
        for each in self.sockets:
            each.close()

    def make(self, pieces: Sequence[bytes]) -> Transport:
        port = SerialPort("bench", f"socket://127.0.0.1:{self.sockets[0].getsockname()[1]}", SystemClock())
        if pieces:
            port.receive(0.0)
            connection, _ = self.sockets[0].accept()
            self.sockets.append(connection)
            connection.sendall(b"".join(pieces))
        return port


class TestAsking(TestScripted):
    """Asking changes nothing of what comes."""

    def make(self, pieces: Sequence[bytes]) -> Transport:
        return Asking(super().make(pieces), b"W\r\n", SystemClock(), every_s=0.0)


class TestShared(TestScripted):
    def make(self, pieces: Sequence[bytes]) -> Transport:
        return SharedWire(super().make(pieces)).tap("bench")


class TestSpied(TestScripted):
    @pytest.fixture(autouse=True)
    def _file(self, tmp_path: Path) -> Iterator[None]:
        self.writer = CaptureWriter(tmp_path / "spied.csv")
        yield
        self.writer.close()

    def make(self, pieces: Sequence[bytes]) -> Transport:
        return Spied(super().make(pieces), self.writer)
