"""Writes a report to disk whole or not at all."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

from handsfree.errors import ReportError


def write_text(path: Path, text: str) -> Path:
    """Write UTF-8 text to a file beside itself, then rename: a reader sees the old or the new one.

    Line ends are written as they are in the text. The folder is made when it is not there.

    Returns:
        The absolute path written.

    Raises:
        ReportError: The folder cannot be made or written to, or the disk is full. What was there
            before is untouched.
    """
    path = path.expanduser().absolute()
    temporary: str | None = None
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        if path.is_dir():
            raise IsADirectoryError(None, "it is a folder")
        handle, temporary = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name[:40]}.")
        with os.fdopen(handle, "w", encoding="utf-8", newline="") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        # mkstemp gives 0600; a report is made to be read by whoever may read the folder.
        Path(temporary).chmod(_mode(path))
        Path(temporary).replace(path)
    except OSError as error:
        if temporary is not None:
            Path(temporary).unlink(missing_ok=True)
        raise ReportError(
            f"{path} could not be written: {error.strerror or error}",
            kept="the ledger is untouched and any older file is still there",
            next_step="choose another folder or make room, then ask again",
        ) from error
    return path


def _mode(path: Path) -> int:
    """The mode of the file there is, else what a plain `open` would have given."""
    if path.exists():
        return path.stat().st_mode & 0o777
    mask = os.umask(0)
    os.umask(mask)
    return 0o666 & ~mask
