"""The errors of the recorder: one base, each also a standard type.

Every message is plain sentences a butcher can act on: what happened, what was kept, what to do
next. The command line prints the message alone; no traceback reaches the block.
"""

from __future__ import annotations


class HandsfreeError(Exception):
    """Base of every error the recorder raises on purpose.

    Args:
        what: What happened, with the file, line or port it happened at.
        kept: What was kept or is safe, empty when nothing was at stake.
        next_step: What to do next.
    """

    def __init__(self, what: str, *, kept: str = "", next_step: str = "") -> None:
        super().__init__(what)  # one argument only: OSError would take more for an errno
        self.what = what
        self.kept = kept
        self.next_step = next_step

    def __str__(self) -> str:
        return " ".join(_sentence(part) for part in (self.what, self.kept, self.next_step) if part)

    def __reduce__(self) -> tuple[object, ...]:
        # Keyword-only parts do not survive the default pickling of exceptions.
        return (_rebuild, (type(self), self.what, self.kept, self.next_step))


def _sentence(text: str) -> str:
    text = text.strip()
    first = text.split(maxsplit=1)[0] if text else ""
    if first.rstrip(",;:").isalpha():  # a path, an address or a name in quotes stays as it is
        text = text[:1].upper() + text[1:]
    return text if text.endswith((".", "!", "?", ":")) else text + "."


def _rebuild(kind: type[HandsfreeError], what: str, kept: str, next_step: str) -> HandsfreeError:
    return kind(what, kept=kept, next_step=next_step)


class ConfigError(HandsfreeError, ValueError):
    """A setting, option or configuration file that cannot be used."""


class GrammarError(HandsfreeError, ValueError):
    """A cut list, command list or pronunciation file that cannot be used; names file and line."""


class UnknownWordError(GrammarError):
    """A word that the engine cannot pronounce: a phrase with it could never be heard."""


class AudioFileError(HandsfreeError, ValueError):
    """A sound file that is missing, empty, truncated or no sound file."""


class SessionError(HandsfreeError, ValueError):
    """A session folder that is missing a part or has a part that cannot be read."""


class DeviceError(HandsfreeError, OSError):
    """A device that is missing, busy, refused or has gone away."""


class MicrophoneError(DeviceError):
    """The microphone, or the sound system under it, cannot be used."""


class ScaleError(DeviceError):
    """A scale's port cannot be opened or has gone away."""


class ShapeError(HandsfreeError, ValueError):
    """A line shape file that cannot be used, or a stream that fits no known shape."""


class EngineUnavailableError(HandsfreeError, ImportError):
    """A recogniser whose library or model is not installed here."""


class ModelError(HandsfreeError, RuntimeError):
    """A speech model that is missing, damaged, or could not be fetched."""


class LedgerError(HandsfreeError, RuntimeError):
    """The ledger cannot be read or written."""


class NotALedgerError(LedgerError):
    """The file is not a ledger of this recorder."""


class LedgerNewerError(LedgerError):
    """The ledger was written by a newer version of the recorder."""


class LedgerTamperedError(LedgerError):
    """The digest chain is broken: an entry was changed, removed or put in by another program."""


class LedgerLockedError(LedgerError):
    """Another recorder is writing this ledger."""


class LedgerFullError(LedgerError, OSError):
    """The disk is full or the ledger cannot be written to; the last entry was not kept."""


class EntryError(HandsfreeError, ValueError):
    """An entry or correction that does not make sense in the ledger as it stands."""


class BalanceError(HandsfreeError, ValueError):
    """Figures that cannot be reconciled: missing dressed weight, negative mass, bad JSON."""


class ReportError(HandsfreeError, OSError):
    """A sheet or export that could not be written where it was asked for."""
