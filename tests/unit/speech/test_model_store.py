"""Fetching a model from a real server on this machine: whole, cut off, wrong, hostile, offline."""

from __future__ import annotations

import hashlib
import io
import socket
import threading
import zipfile
from collections.abc import Iterator
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

import pytest

from handsfree.errors import ModelError
from handsfree.speech.model_store import EMBEDDED, ModelStore
from handsfree.speech.models import KnownModel

NAME = "vosk-model-tiny-en-us-0.1"


def bundle(entries: dict[str, bytes] | None = None) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as made:
        for path, data in (entries or {f"{NAME}/am/final.mdl": bytes(range(256)) * 4_000}).items():
            made.writestr(path, data)
    return out.getvalue()


class Server(ThreadingHTTPServer):
    """Serves one body; can cut answers short, refuse ranges, or fail."""

    daemon_threads = True

    def __init__(self) -> None:
        super().__init__(("127.0.0.1", 0), Handler)
        self.body = bundle()
        self.cut_after: int | None = None
        self.ranges = True
        self.status = 0
        self.asked: list[str | None] = []

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.server_port}/{NAME}.zip"


class Handler(BaseHTTPRequestHandler):
    server: Server

    def do_GET(self) -> None:
        server = self.server
        wanted = self.headers.get("Range")
        server.asked.append(wanted)
        if server.status:
            self.send_error(server.status)
            return
        start = int(wanted.removeprefix("bytes=").rstrip("-")) if wanted and server.ranges else 0
        if start >= len(server.body):
            self.send_response(416)
            self.send_header("Content-Range", f"bytes */{len(server.body)}")
            self.send_header("Content-Length", "0")
            self.end_headers()
            return
        rest = server.body[start:]
        self.send_response(206 if wanted and server.ranges else 200)
        self.send_header("Content-Length", str(len(rest)))
        self.end_headers()
        self.wfile.write(rest if server.cut_after is None else rest[: server.cut_after])

    def log_message(self, *_: object) -> None:
        """Nothing is printed."""


@pytest.fixture
def server() -> Iterator[Server]:
    with Server() as made:
        thread = threading.Thread(target=made.serve_forever, kwargs={"poll_interval": 0.01})
        thread.start()
        yield made
        made.shutdown()
        thread.join()


def store(tmp_path: Path, url: str, sha256: str = "") -> ModelStore:
    return ModelStore(tmp_path / "models", {NAME: KnownModel(NAME, "en-us", 1, url, sha256)})


def test_a_fetched_model_is_listed_with_language_and_digest(tmp_path: Path, server: Server) -> None:
    models = store(tmp_path, server.url)
    seen: list[tuple[int, int]] = []
    told: list[str] = []
    folder = models.fetch(NAME, lambda had, total: seen.append((had, total)), told.append)
    assert (folder / "am" / "final.mdl").stat().st_size == 1_024_000
    assert seen[-1] == (len(server.body), len(server.body))
    digest = hashlib.sha256(server.body).hexdigest()
    assert digest in told[0]
    fetched = next(model for model in models.installed() if model.name == NAME)
    assert (fetched.language, fetched.size_mb, fetched.sha256) == ("en-us", 1, digest)
    assert not list(models.folder.glob("*.part"))


def test_a_transfer_cut_in_the_middle_goes_on_where_it_stopped(tmp_path: Path, server: Server) -> None:
    models = store(tmp_path, server.url, hashlib.sha256(server.body).hexdigest())
    server.cut_after = 300_000
    with pytest.raises(ModelError, match=r"bytes that came are kept.*goes on where it stopped"):
        models.fetch(NAME)
    kept = (models.folder / f"{NAME}.zip.part").stat().st_size
    assert 200_000 < kept <= 300_000
    server.cut_after = None
    assert (models.fetch(NAME) / "am" / "final.mdl").is_file()
    assert server.asked == [None, f"bytes={kept}-"]


def test_a_server_that_cannot_resume_sends_it_all_again(tmp_path: Path, server: Server) -> None:
    models = store(tmp_path, server.url, hashlib.sha256(server.body).hexdigest())
    server.cut_after, server.ranges = 300_000, False
    with pytest.raises(ModelError):
        models.fetch(NAME)
    server.cut_after = None
    assert (models.fetch(NAME) / "am" / "final.mdl").is_file()


def test_a_download_that_was_whole_already_is_not_fetched_again(tmp_path: Path, server: Server) -> None:
    models = store(tmp_path, server.url)
    models.folder.mkdir(parents=True)
    (models.folder / f"{NAME}.zip.part").write_bytes(server.body)
    assert (models.fetch(NAME) / "am").is_dir()


def test_a_wrong_digest_throws_the_download_away(tmp_path: Path, server: Server) -> None:
    models = store(tmp_path, server.url, "0" * 64)
    with pytest.raises(ModelError, match="the catalogue says 0000"):
        models.fetch(NAME)
    assert [path.name for path in models.folder.iterdir()] == []


def test_without_a_published_digest_the_first_one_seen_is_held_against_the_next(
    tmp_path: Path, server: Server
) -> None:
    models = store(tmp_path, server.url)
    folder = models.fetch(NAME)
    folder.rename(tmp_path / "removed")
    server.body = bundle({f"{NAME}/am/final.mdl": b"another"})
    with pytest.raises(ModelError, match="an earlier download says"):
        models.fetch(NAME)
    assert NAME not in {model.name for model in models.installed()}


def test_offline_the_error_says_that_nothing_was_changed(tmp_path: Path) -> None:
    with socket.socket() as taken:
        # Bound but not listening: a connection is refused at once.
        taken.bind(("127.0.0.1", 0))
        models = store(tmp_path, f"http://127.0.0.1:{taken.getsockname()[1]}/x.zip")
        with pytest.raises(ModelError, match=r"no connection\. Nothing was changed\. Connect"):
            models.fetch(NAME)


def test_a_server_that_refuses_is_quoted(tmp_path: Path, server: Server) -> None:
    server.status = 404
    with pytest.raises(ModelError, match="the server answered 404"):
        store(tmp_path, server.url).fetch(NAME)


@pytest.mark.parametrize("path", ["../escaped.txt", "/escaped.txt", "..\\escaped.txt", "C:/escaped.txt"])
def test_an_entry_that_points_outside_is_refused_and_nothing_unpacked(
    tmp_path: Path, server: Server, path: str
) -> None:
    server.body = bundle({f"{NAME}/am/final.mdl": b"x", path: b"y"})
    models = store(tmp_path, server.url)
    with pytest.raises(ModelError, match="points outside"):
        models.fetch(NAME)
    assert not list(models.folder.iterdir())
    assert not list(tmp_path.rglob("escaped.txt"))


def test_a_page_instead_of_a_zip_is_said_and_thrown_away(tmp_path: Path, server: Server) -> None:
    server.body = b"<html>not here</html>"
    models = store(tmp_path, server.url)
    with pytest.raises(ModelError, match="no whole zip file"):
        models.fetch(NAME)
    assert not list(models.folder.glob("*.part"))


def test_a_page_instead_of_a_zip_does_not_spoil_the_next_try(tmp_path: Path, server: Server) -> None:
    body, server.body = server.body, b"<html>log in to this network</html>"
    models = store(tmp_path, server.url)
    with pytest.raises(ModelError):
        models.fetch(NAME)
    server.body = body
    assert (models.fetch(NAME) / "am").is_dir()


def test_a_zip_without_a_model_is_said(tmp_path: Path, server: Server) -> None:
    server.body = bundle({"readme.txt": b"hello"})
    with pytest.raises(ModelError, match="holds no speech model"):
        store(tmp_path, server.url).fetch(NAME)


def test_a_folder_that_cannot_be_made_is_named(tmp_path: Path, server: Server) -> None:
    (tmp_path / "models").write_text("a file in the way")
    with pytest.raises(ModelError, match="models cannot be made"):
        store(tmp_path, server.url).fetch(NAME)


def test_the_choice_of_a_model_is_remembered(tmp_path: Path, server: Server) -> None:
    models = store(tmp_path, server.url)
    with pytest.raises(ModelError, match="not installed"):
        models.select(NAME)
    models.fetch(NAME)
    models.select(NAME)
    assert [model.name for model in store(tmp_path, "http://x").installed() if model.selected] == [NAME]
    models.select(EMBEDDED)
    assert [model.name for model in models.installed() if model.selected] == [EMBEDDED]
