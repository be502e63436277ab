"""All ways a scale can be reached, at once, in one live session: each weighs, one dead one harms none."""

from __future__ import annotations

import os
import pty
import select
import socket
import sys
import threading
import tty
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from pathlib import Path
from typing import Any

import pytest
import serial
from serial import rfc2217

from handsfree.answering.messages import Saying
from handsfree.clerk import Outcome
from handsfree.config import load_config
from handsfree.ledger.entries import TroubleNoted
from handsfree.ledger.sqlite_store import read_ledger
from handsfree.pairing.messages import LoadPassed
from handsfree.testing.scripted_usb import ScriptedUsb, ScriptedUsbScale
from handsfree.weighing.capture import read_scale_csv
from handsfree.weighing.messages import ScaleEventKind as Kind
from handsfree.weighing.ports import Chunk
from handsfree.wiring import scale_ports
from handsfree.wiring.recording import LiveOptions, record
from handsfree.wiring.replaying import Watch, replay

# pyserial's RFC 2217 client names its thread in an old way.
pytestmark = pytest.mark.filterwarnings("ignore:set(Daemon|Name)\\(\\) is deprecated:DeprecationWarning")

TICK_S = 0.05
S_PER_STEP = 1.2
"""Long enough for a scale to settle, with room for a busy machine."""


class Terminal:
    """A pseudo-terminal: the scale's end and the port's path."""

    def __init__(self, stack: ExitStack) -> None:
        self.ours, theirs = pty.openpty()
        tty.setraw(theirs)
        stack.callback(os.close, self.ours)
        stack.callback(os.close, theirs)
        self.path = os.ttyname(theirs)
        self.talks = True

    def send(self, data: bytes) -> None:
        if self.talks and select.select([], [self.ours], [], 0)[1]:
            os.write(self.ours, data)

    def asked(self) -> bytes:
        return os.read(self.ours, 1000) if select.select([self.ours], [], [], 0)[0] else b""


class Server:
    """A serial server on the loopback: plain, or by RFC 2217 with pyserial's own other end."""

    def __init__(self, stack: ExitStack, *, telnet: bool) -> None:
        self._listening = socket.create_server(("127.0.0.1", 0))
        stack.callback(self._listening.close)
        self.address = f"127.0.0.1:{self._listening.getsockname()[1]}"
        self._stack, self._telnet = stack, telnet
        self._connection: socket.socket | None = None
        self._manager: Any = None
        self.gone = False

    def write(self, data: bytes) -> None:  # the name rfc2217 wants
        assert self._connection is not None
        self._connection.sendall(data)

    def serve(self) -> None:
        """Take the connection when it comes, and answer its negotiation."""
        if self.gone:
            return
        if self._connection is None:
            if not select.select([self._listening], [], [], 0)[0]:
                return
            self._connection, _ = self._listening.accept()
            self._stack.callback(self._connection.close)
            if self._telnet:
                port = self._stack.enter_context(serial.serial_for_url("loop://"))
                self._manager = rfc2217.PortManager(port, self)
        if self._manager is not None and select.select([self._connection], [], [], 0)[0]:
            list(self._manager.filter(self._connection.recv(1000)))

    def hang_up(self) -> None:
        """The server goes away for good."""
        assert self._connection is not None
        self._listening.close()
        self._connection.close()
        self.gone = True

    def send(self, data: bytes) -> None:
        if self._connection is not None and not self.gone:
            self.write(b"".join(self._manager.escape(data)) if self._manager else data)


def status(grams: int) -> bytes:
    return f"ST,GS {grams / 1000:7.3f},kg\r\n".encode()


def report(grams: int) -> bytes:
    """Status 4, unit 2 gram, power of ten 0 (USB usage page 0x8D)."""
    return bytes([3, 4, 2, 0]) + grams.to_bytes(2, "little")


class Larder:
    """Eight scales and a session that runs until its script is over."""

    def __init__(self, stack: ExitStack, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        self.folder = folder
        self.cable, self.oracle, self.wire = (Terminal(stack) for _ in range(3))
        self.tcp, self.telnet = Server(stack, telnet=False), Server(stack, telnet=True)
        self.usb = ScriptedUsbScale("/dev/hidraw0")
        # The bus stands for the library; everything of ours is the real thing.
        monkeypatch.setitem(sys.modules, "hidraw", ScriptedUsb(self.usb))
        monkeypatch.setattr(scale_ports, "captures_folder", lambda: folder / "captures")
        self.ports = {
            "cable": f'port = "spy+{self.cable.path}"\nd_g = 5\nmax_kg = 15',
            "tcp": f'port = "socket://{self.tcp.address}"\nd_g = 20\nmax_kg = 60',
            "telnet": f'port = "rfc2217://{self.telnet.address}"\nd_g = 1',
            "asked": f'port = "{self.oracle.path}"\npoll_s = 0.05\nshape = "status_space"\nd_g = 5',
            "left": f'port = "{self.wire.path}"\naddress = "01"\nd_g = 5',
            "right": f'port = "{self.wire.path}"\naddress = "02"\nd_g = 5',
            "usb": 'port = "hid:"\nd_g = 1',
            "dead": f'port = "{folder}/none"\nd_g = 5',
        }
        self.grams = 0

    def everything_sends(self) -> None:
        grams = self.grams
        for server in (self.tcp, self.telnet):
            server.serve()
            server.send(status(grams))
        self.cable.send(status(grams))
        if self.oracle.asked():
            self.oracle.send(f"ST,GS {grams / 1000:.3f}KG\r\n".encode())
        for number in ("01", "02"):
            self.wire.send(f"{number},ST,GS,+{grams * int(number) / 1000:7.3f},kg\r\n".encode())
        if len(self.usb.reports) < 3:
            self.usb.reports.append(report(grams))

    def run(self, script: Callable[[Callable[[float], None]], None]) -> list[Outcome]:
        """Record while the script moves loads; it is given a function that lets time pass."""
        config = self.folder / "handsfree.toml"
        config.write_text("".join(f"[scale.{name}]\n{lines}\n" for name, lines in self.ports.items()))
        outcomes: list[Outcome] = []
        told: list[str] = []
        options = LiveOptions(
            self.folder / "live.ledger", self.folder / "kept", quiet=True, sound=False, tell=told.append
        )
        pause = threading.Event()

        def hold(seconds: float) -> None:
            for _ in range(round(seconds / TICK_S)):
                self.everything_sends()
                pause.wait(TICK_S)

        def play() -> None:
            try:
                hold(1.5)  # rfc2217 talks over its settings first
                script(hold)
            finally:
                options.stop.set()

        def keep(outcome: Outcome, _sayings: list[Saying]) -> None:
            outcomes.append(outcome)

        player = threading.Thread(target=play, daemon=True)
        player.start()
        record(load_config(config), options, Watch(outcome=keep))
        player.join(timeout=10)
        self.told = told
        return outcomes


@pytest.fixture
def larder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Larder]:
    with ExitStack() as stack:
        yield Larder(stack, tmp_path, monkeypatch)


def changes(outcomes: list[Outcome]) -> dict[str, list[int]]:
    """Load changes in grams by scale; no carcass is open, so all are passed by."""
    found: dict[str, list[int]] = {}
    for each in outcomes:
        if isinstance(each.cause, LoadPassed):
            found.setdefault(each.cause.change.scale, []).append(each.cause.change.delta_mg // 1000)
    return found


def troubles(ledger: Path, scale: str) -> list[str]:
    store = read_ledger(ledger)
    try:
        bodies = [entry.body for entry in store.entries()]
    finally:
        store.close()
    return [body.kind for body in bodies if isinstance(body, TroubleNoted) and body.device == scale]


@pytest.mark.timeout(60)
def test_every_scale_weighs_and_the_dead_one_is_told(larder: Larder):
    def script(hold: Callable[[float], None]) -> None:
        larder.grams = 1240
        hold(S_PER_STEP)
        larder.usb.plugged = False
        hold(0.4)
        larder.usb.plugged = True
        larder.grams = 3000
        hold(S_PER_STEP + 1.2)  # a lost port is tried again after a second
        larder.telnet.hang_up()
        hold(1.0)

    outcomes = larder.run(script)
    once = [1240, 1760]
    assert changes(outcomes) == {
        **dict.fromkeys(("cable", "tcp", "telnet", "asked", "left", "usb"), once),
        "right": [2480, 3520],
    }
    ledger = larder.folder / "live.ledger"
    assert troubles(ledger, "dead") == [Kind.UNPLUGGED]
    assert troubles(ledger, "usb") == [Kind.UNPLUGGED, Kind.BACK]
    assert troubles(ledger, "telnet") == [Kind.UNPLUGGED]
    for name in ("cable", "tcp", "asked", "left", "right"):
        assert troubles(ledger, name) == [], name
    assert any("dead scale's port" in text and "is not there" in text for text in larder.told)

    # What spy+ kept is what the scale sent.
    (capture,) = (larder.folder / "captures").glob("cable-*.csv")
    assert any(capture.name in text for text in larder.told)
    (spied,) = read_scale_csv(capture)
    lines = set()
    while isinstance(received := spied.receive(0.0), Chunk):
        lines.add(received.data)
    assert lines == {status(0), status(1240), status(3000)}

    # The kept session weighs the same again.
    again: list[Outcome] = []
    watch = Watch(outcome=lambda outcome, _sayings: again.append(outcome))
    replay(larder.folder / "kept", larder.folder / "again.ledger", load_config(None), watch)
    assert changes(again) == changes(outcomes)
    assert troubles(larder.folder / "again.ledger", "usb") == [Kind.UNPLUGGED, Kind.BACK]


@pytest.mark.timeout(60)
def test_a_scale_that_goes_silent_without_any_sound_around_is_told(larder: Larder):
    larder.ports = {name: larder.ports[name] for name in ("cable", "tcp")}
    larder.ports["cable"] += "\nsilence_s = 0.6"

    def script(hold: Callable[[float], None]) -> None:
        larder.cable.talks = False
        hold(1.2)

    larder.run(script)
    assert troubles(larder.folder / "live.ledger", "cable") == [Kind.SILENT]
    assert troubles(larder.folder / "live.ledger", "tcp") == []
