"""The transport contract on every transport."""

from __future__ import annotations

import contextlib
import os
import pty
import tty
from collections.abc import Iterator, Sequence
from pathlib import Path

import pytest

from handsfree.clock import SystemClock
from handsfree.testing.scripted_scale import ScriptedTransport
from handsfree.testing.scripted_usb import ScriptedUsb, ScriptedUsbScale
from handsfree.testing.transport_contract import TransportContract
from handsfree.weighing.capture import CaptureTransport, open_capture
from handsfree.weighing.hid import report_line
from handsfree.weighing.hid_port import HidPort
from handsfree.weighing.ports import Chunk, Transport
from handsfree.weighing.serial_port import SerialPort


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
