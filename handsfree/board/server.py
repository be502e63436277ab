"""Serves the board's page and its events; an edge: it opens a socket. Standard library only."""

from __future__ import annotations

import json
import threading
from http import HTTPStatus
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any, ClassVar

from handsfree.errors import DeviceError

#: Seconds between two signs of life; the page calls itself old after 6 s without one.
_BEAT_S = 2.0

#: The page runs its own script and fetches nothing but its events.
_POLICY = (
    "default-src 'none'; style-src 'unsafe-inline'; script-src 'unsafe-inline'; connect-src 'self'; "
    "base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)


class BoardServer:
    """One page for any number of screens. Threads of its own; nothing is ever taken in.

    Args:
        page: The document.
        host: Address to serve on.
        port: Port; 0 takes a free one.

    Raises:
        DeviceError: The address or port cannot be used.
    """

    def __init__(self, page: str, host: str = "127.0.0.1", port: int = 0) -> None:
        self._page = page.encode()
        self._changed = threading.Condition()
        self._number = 0
        self._text = ""
        self._closed = False
        try:
            self._server = _Server((host, port), _Handler)
        except (OSError, OverflowError) as error:
            raise DeviceError(
                f"the board cannot be served on {host}:{port} ({error})",
                kept="the ledger is not touched",
                next_step="give another --port, or the address of this machine with --host",
            ) from error
        self._server.board = self
        self._thread = threading.Thread(
            target=self._server.serve_forever, kwargs={"poll_interval": 0.1}, name="board", daemon=True
        )
        self._thread.start()

    @property
    def address(self) -> str:
        """Where a screen finds it."""
        host, port = self._server.server_address[:2]
        return f"http://{host if isinstance(host, str) else host.decode()}:{port}/"

    @property
    def page(self) -> bytes:
        """The document as bytes."""
        return self._page

    def show(self, values: dict[str, Any]) -> None:
        """Send these values to every screen, when they are others than before."""
        text = json.dumps(values)
        with self._changed:
            if text != self._text:
                self._text = text
                self._number += 1
                self._changed.notify_all()

    def after(self, number: int) -> tuple[int, str] | None:
        """The next state after `number`; itself again when there is none for a while; None at the end."""
        with self._changed:
            self._changed.wait_for(lambda: self._number != number or self._closed, _BEAT_S)
            return None if self._closed else (self._number, self._text)

    def close(self) -> None:
        """Let all screens go and free the port. Safe to call twice."""
        with self._changed:
            if self._closed:
                return
            self._closed = True
            self._changed.notify_all()
        self._server.shutdown()
        self._server.server_close()
        self._thread.join()


class _Server(ThreadingHTTPServer):
    daemon_threads = True
    board: BoardServer

    def handle_error(self, request: Any, client_address: Any) -> None:
        """A screen that went away is no fault."""


class _Handler(BaseHTTPRequestHandler):
    server: _Server
    timeout: ClassVar[float | None] = 30
    server_version = "handsfree"
    sys_version = ""

    def do_GET(self) -> None:
        """The page, or its events; anything else is not there."""
        if self.path == "/":
            self._head("text/html; charset=utf-8", len(self.server.board.page))
            self.wfile.write(self.server.board.page)
        elif self.path == "/events":
            self._head("text/event-stream")
            self._events()
        else:
            self.send_error(HTTPStatus.NOT_FOUND)

    def log_message(self, format: str, *args: Any) -> None:  # noqa: A002 - the library's name
        """Nothing is logged: standard output and error belong to the session."""

    def _head(self, kind: str, length: int | None = None) -> None:
        self.send_response(HTTPStatus.OK)
        self.send_header("Content-Type", kind)
        self.send_header("Cache-Control", "no-store")
        self.send_header("Content-Security-Policy", _POLICY)
        self.send_header("X-Content-Type-Options", "nosniff")
        if length is not None:
            self.send_header("Content-Length", str(length))
        self.end_headers()

    def _events(self) -> None:
        number = 0
        while (state := self.server.board.after(number)) is not None:
            if state[0] == number:
                self.wfile.write(b"event: beat\ndata: \n\n")
            else:
                number = state[0]
                self.wfile.write(f"retry: 1000\ndata: {state[1]}\n\n".encode())
