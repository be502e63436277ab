"""The two small files beside a ledger: the writer's lock and the anchor.

`<ledger>.lock` is locked by the one recorder that writes; `<ledger>.writer` tells its process id.
`<ledger>.anchor` holds number and digest of the newest entry, so that an end that was cut off (an
older copy put back, a file half synchronised) is noticed. It is no secret: whoever rewrites the
ledger on purpose can rewrite it too. A digest printed on paper cannot be rewritten.
"""

from __future__ import annotations

import os
import re
from contextlib import suppress
from pathlib import Path

from filelock import FileLock, Timeout

from handsfree.errors import LedgerError, LedgerFullError, LedgerLockedError

_ANCHOR = re.compile(r"(\d{1,19}) ([0-9a-f]{64})\n")


class WriterLock:
    """Held by the one recorder that may write; freed by the system when its process dies.

    Args:
        ledger: The ledger's path.

    Raises:
        LedgerLockedError: Another recorder holds it; its process id is told.
        LedgerError: The lock file may not be made.
    """

    def __init__(self, ledger: Path) -> None:
        self._pid_file = beside(ledger, ".writer")
        self._lock = FileLock(beside(ledger, ".lock"), timeout=0)
        try:
            self._lock.acquire()
        except Timeout:
            raise LedgerLockedError(
                f"another recorder{self._holder()} is writing the ledger {ledger}",
                kept="Nothing was changed",
                next_step="stop the other recorder, or give this one another ledger",
            ) from None
        except OSError as error:
            raise not_writable(ledger, error) from error
        try:
            self._pid_file.write_text(f"{os.getpid()}\n", encoding="ascii")
        except OSError as error:
            self._lock.release()
            raise not_writable(ledger, error) from error

    def release(self) -> None:
        """Let another recorder in. Safe to call twice."""
        if self._lock.is_locked:
            with suppress(OSError):
                self._pid_file.unlink()
            self._lock.release()

    def _holder(self) -> str:
        try:
            pid = self._pid_file.read_text(encoding="ascii").strip()
        except (OSError, ValueError):
            return ""
        return f" (process {pid})" if pid.isdecimal() else ""


class Anchor:
    """Writes down the newest entry outside the ledger. A failure here never stops the recorder.

    Args:
        ledger: The ledger's path.
    """

    def __init__(self, ledger: Path) -> None:
        self._file: int | None = None
        with suppress(OSError):
            self._file = os.open(beside(ledger, ".anchor"), os.O_WRONLY | os.O_CREAT | os.O_CLOEXEC, 0o644)

    def write(self, seq: int, digest: str) -> None:
        """Note entry `seq`; it must be on disk in the ledger already."""
        if self._file is None:
            return
        # One write in place, in one disk sector; the number's width is fixed so nothing of an older
        # note is left behind. It may lag behind the ledger after a crash, never run ahead of it.
        with suppress(OSError):
            os.pwrite(self._file, f"{seq:019d} {digest}\n".encode(), 0)

    def close(self) -> None:
        """Bring it to the disk and close it."""
        if self._file is not None:
            with suppress(OSError):
                os.fsync(self._file)
            os.close(self._file)
            self._file = None


def read_anchor(ledger: Path) -> tuple[int, str] | None:
    """Number and digest noted beside the ledger; None when there is no note that can be read."""
    try:
        match = _ANCHOR.fullmatch(beside(ledger, ".anchor").read_text(encoding="ascii"))
    except (OSError, ValueError):
        return None
    return (int(match[1]), match[2]) if match else None


def beside(ledger: Path, suffix: str) -> Path:
    """The path of a small file beside the ledger."""
    return ledger.with_name(ledger.name + suffix)


def not_writable(ledger: Path, error: OSError) -> LedgerError:
    """The error for a folder or file that refuses to be written."""
    kind = LedgerError if isinstance(error, PermissionError | NotADirectoryError) else LedgerFullError
    return kind(
        f"the ledger {ledger} cannot be written to ({error.strerror or error})",
        kept="Nothing was changed",
        next_step="check that this user may write in its folder and that the disk has room, "
        "or give another place for the ledger",
    )
