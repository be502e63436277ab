"""A TOML text with the line of every table and key, so that each fault can name its line. Pure."""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass, field
from typing import Any

from handsfree.errors import GrammarError

Path = tuple[str | int, ...]

_HEADER = re.compile(r"^\s*\[\[?(?P<name>.+?)\]\]?\s*(#.*)?$")
_KEY = re.compile(r"^\s*(?P<key>[A-Za-z0-9_-]+|\"[^\"]+\"|'[^']+')\s*=")
_ROW = re.compile(r"^\s*\{")


@dataclass(frozen=True)
class Document:
    """What a TOML file says and where it says it."""

    file: str
    data: dict[str, Any]
    lines: dict[Path, int] = field(repr=False)

    def depth(self, *path: str | int) -> int:
        """How much of the path stands in the file: 0 for nothing, its length for all of it."""
        return next((length for length in range(len(path), 0, -1) if path[:length] in self.lines), 0)

    def where(self, *path: str | int) -> str:
        """The place (file:line) of a table, key or row; of the nearest thing above it that has a line."""
        depth = self.depth(*path)
        return f"{self.file}:{self.lines[path[:depth]] if depth else 1}"


def read_document(text: str, file: str) -> Document:
    """The document of a TOML text.

    Raises:
        GrammarError: The text is no TOML; names the line.
    """
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        line = re.search(r"line (\d+)", str(error))
        number = int(line[1]) if line else text.count("\n") + 1
        reason = re.sub(r" \(at .*\)$", "", str(error))
        raise GrammarError(
            f"in {file}:{number}: no grammar file that can be read: {reason}",
            next_step="correct that line, or take the file out to go on with the shipped words",
        ) from error
    return Document(file, data, _line_numbers(text))


def _line_numbers(text: str) -> dict[Path, int]:
    lines: dict[Path, int] = {}
    table: Path = ()
    last_key: Path = ()
    rows = 0
    for number, line in enumerate(text.splitlines(), 1):
        header = _HEADER.match(line)
        key = _KEY.match(line)
        if header and not _ROW.match(line) and (path := _header_path(header["name"])) is not None:
            table = path
            lines.setdefault(table, number)
        elif key:
            last_key, rows = (*table, key["key"].strip("\"'")), 0
            lines.setdefault(last_key, number)
        elif _ROW.match(line):
            lines.setdefault((*last_key, rows), number)
            rows += 1
    return lines


def _header_path(name: str) -> Path | None:
    try:
        inner: Any = tomllib.loads(f"[{name}]")
    except tomllib.TOMLDecodeError:
        return None  # a row of a multi-line array that looks like a header
    path: list[str] = []
    while inner:
        key, inner = next(iter(inner.items()))
        path.append(key)
    return tuple(path)
