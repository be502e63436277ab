"""Writes confirmed pronunciations into the user's own words file; all else in it stays. An edge module."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Mapping, MutableMapping, Sequence
from contextlib import suppress
from pathlib import Path

import tomlkit
from tomlkit.exceptions import TOMLKitError

from handsfree.errors import GrammarError
from handsfree.speech.lexicon_file import layer_of_document
from handsfree.speech.toml_document import read_document


def add_pronunciations(file: Path, words: Mapping[str, Sequence[str]]) -> None:
    """Set these words in `[pronunciation]`; the file, its folder and the table are made where missing.

    The new text is read as pronunciations before it takes the place of the old one, in one step.

    Args:
        file: The user's own words file, TOML.
        words: For each word its ways to be said, as phones apart by spaces.

    Raises:
        GrammarError: The file is no TOML, a pronunciation is none, or it cannot be written; the old
            file is untouched.
    """
    try:
        old = file.read_bytes().decode("utf-8") if file.exists() else ""
        document = tomlkit.parse(old)
        table = document.setdefault("pronunciation", tomlkit.table())
        if not isinstance(table, MutableMapping):
            raise _untouched(file, "pronunciation is no table", "write it as [pronunciation]")
        for word, ways in words.items():
            table[word] = list(ways)
        text = tomlkit.dumps(document)
        layer_of_document(read_document(text, str(file)))
        _replace(file, text)
    except TOMLKitError as error:
        raise _untouched(file, str(error), "put that line right") from None
    except UnicodeDecodeError:
        raise _untouched(file, "it is not text in UTF-8", "save the file as UTF-8") from None
    except OSError as error:
        raise _untouched(file, str(error.strerror), "check the folder's owner and the disk") from None


def _untouched(file: Path, why: str, next_step: str) -> GrammarError:
    return GrammarError(
        f"the words file {file} cannot be changed: {why}", kept="it is as it was", next_step=next_step
    )


def _replace(file: Path, text: str) -> None:
    file = file.resolve()  # a link stays a link
    file.parent.mkdir(parents=True, exist_ok=True)
    handle, made = tempfile.mkstemp(prefix=f".{file.name}.", suffix=".new", dir=file.parent)
    new = Path(made)
    try:
        with os.fdopen(handle, "wb") as out:
            out.write(text.encode("utf-8"))
            out.flush()
            os.fsync(out.fileno())
        new.chmod(file.stat().st_mode & 0o777 if file.exists() else 0o644)
        new.replace(file)
    finally:
        with suppress(OSError):
            new.unlink()
