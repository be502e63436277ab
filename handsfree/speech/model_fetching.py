"""Gets one file over HTTP, resuming an earlier try, and unpacks a zip without trusting it. An edge module."""

from __future__ import annotations

import hashlib
import shutil
import zipfile
from collections.abc import Callable
from http import HTTPStatus
from pathlib import Path, PurePosixPath

import requests

from handsfree.errors import ModelError

Progress = Callable[[int, int], None]
"""Takes bytes had so far and bytes in all (0 when not known)."""

_CHUNK_BYTES = 1 << 16
_TIMEOUT_S = 30
_MOST_UNPACKED_BYTES = 8_000_000_000
"""The largest models published unpack to about 4 GB; more is a zip made to fill the disk."""


def download(url: str, part: Path, progress: Progress | None = None) -> None:
    """Fetch the address into the file, going on after the bytes it already has.

    Raises:
        ModelError: No connection, refused, cut off, or the disk is full; what came is kept in the file.
    """
    had = part.stat().st_size if part.exists() else 0
    headers = {"Range": f"bytes={had}-"} if had else {}
    try:
        with requests.get(url, headers=headers, stream=True, timeout=_TIMEOUT_S) as answer:
            if had and answer.status_code == HTTPStatus.REQUESTED_RANGE_NOT_SATISFIABLE:
                if _total(answer) == had:
                    return
                part.unlink()
                download(url, part, progress)
                return
            answer.raise_for_status()
            # A server that does not resume sends the whole file again, with another status.
            had = had if answer.status_code == HTTPStatus.PARTIAL_CONTENT else 0
            total = had + int(answer.headers.get("Content-Length") or 0)
            with part.open("ab" if had else "wb") as file:
                for chunk in answer.iter_content(_CHUNK_BYTES):
                    file.write(chunk)
                    had += len(chunk)
                    if progress:
                        progress(had, max(had, total))
    except requests.RequestException as error:
        raise _not_fetched(url, part, _reason(error)) from error
    except OSError as error:
        raise _not_fetched(url, part, error.strerror or str(error)) from error
    if total > had:
        raise _not_fetched(url, part, f"the connection ended after {had} of {total} bytes")


def digest_of(file: Path) -> str:
    """SHA-256 of a file, hexadecimal."""
    with file.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def unpack(archive: Path, target: Path, name: str) -> None:
    """Unpack a model's zip into the folder; the folder appears only when all of it is there.

    Raises:
        ModelError: No zip, damaged, entries that point outside, no model inside, or the disk is full.
    """
    scratch = target.with_name(f"{target.name}.unpacking")
    shutil.rmtree(scratch, ignore_errors=True)
    try:
        with zipfile.ZipFile(archive) as bundle:
            _refuse_bad_entries(bundle, name)
            bundle.extractall(scratch)
        inner = _model_inside(scratch)
        if inner is None:
            raise ModelError(
                f"the download of {name} holds no speech model",
                kept="It was thrown away",
                next_step="check the url in the model catalogue",
            )
        inner.replace(target)
    except (zipfile.BadZipFile, EOFError, NotImplementedError, RuntimeError) as error:
        archive.unlink(missing_ok=True)
        if isinstance(error, ModelError):
            raise
        raise ModelError(
            f"the download of {name} is no whole zip file ({error})",
            kept="It was thrown away; installed models are untouched",
            next_step="fetch it again",
        ) from error
    except OSError as error:
        raise ModelError(
            f"{name} cannot be unpacked into {target.parent}: {error.strerror or error}",
            kept=f"The download is kept in {archive}",
            next_step="make room or check the folder's rights, then fetch it again",
        ) from error
    finally:
        shutil.rmtree(scratch, ignore_errors=True)


def _refuse_bad_entries(bundle: zipfile.ZipFile, name: str) -> None:
    for entry in bundle.infolist():
        path = PurePosixPath(entry.filename.replace("\\", "/"))
        is_link = (entry.external_attr >> 16) & 0o170000 == 0o120000
        if path.is_absolute() or ".." in path.parts or ":" in path.parts[0] or is_link:
            raise ModelError(
                f"the download of {name} has an entry that points outside its folder: {entry.filename!r}",
                kept="Nothing was unpacked and the download was thrown away",
                next_step="do not use this source",
            )
    if sum(entry.file_size for entry in bundle.infolist()) > _MOST_UNPACKED_BYTES:
        raise ModelError(
            f"the download of {name} would unpack to more than {_MOST_UNPACKED_BYTES // 10**9} GB",
            kept="Nothing was unpacked and the download was thrown away",
            next_step="do not use this source",
        )


def _model_inside(folder: Path) -> Path | None:
    for candidate in (folder, *sorted(path for path in folder.iterdir() if path.is_dir())):
        if (candidate / "am").is_dir() or (candidate / "final.mdl").is_file():
            return candidate
    return None


def _total(answer: requests.Response) -> int:
    total = answer.headers.get("Content-Range", "").rpartition("/")[2]
    return int(total) if total.isdigit() else -1


def _reason(error: requests.RequestException) -> str:
    if isinstance(error, requests.HTTPError) and error.response is not None:
        return f"the server answered {error.response.status_code} {error.response.reason}"
    if isinstance(error, requests.Timeout):
        return f"no answer within {_TIMEOUT_S} s"
    if isinstance(error, requests.exceptions.ChunkedEncodingError):
        return "the connection was cut"
    if isinstance(error, requests.ConnectionError):
        return "no connection"
    return str(error)


def _not_fetched(url: str, part: Path, reason: str) -> ModelError:
    had = part.stat().st_size if part.exists() else 0
    return ModelError(
        f"{url} could not be fetched: {reason}",
        kept=f"The {had} bytes that came are kept in {part}" if had else "Nothing was changed",
        next_step="connect to the network and give the same command again"
        + ("; it goes on where it stopped" if had else "; the embedded engine works without"),
    )
