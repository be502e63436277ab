"""Line shapes read from their files: packaged ones by name, a user's own by path. An edge: reads files.

A shape file is TOML; `shapes/status_comma.toml` shows every key. All faults of a file are told at
once, each with its line, and a shape whose own examples do not read as they say is refused.
"""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Any

from handsfree.errors import ShapeError
from handsfree.weighing.escapes import unescape
from handsfree.weighing.framings import Check, Framing, cutter
from handsfree.weighing.lines import UNITS, Shape, read_line
from handsfree.weighing.messages import Basis, Condition, Frame, Indication, Torn
from handsfree.weighing.ports import Chunk

_FOLDER = Path(__file__).resolve().parent / "shapes"
_FIELDS = frozenset({"number", "ounces", "sign", "unit", "status", "range", "basis", "id"})
_KEYS = frozenset(
    {"about", "request", "decimal", "thousands", "line", "line_defaults", "beside", "stable", "condition"}
    | {"basis", "unit", "example", "refuse", "frame", "check", "wire", "negative_zero", "decoder"}
    | {"zero_on_overload"}
)
_FRAME_KEYS = frozenset({"kind", "start", "end", "after_end", "length"})
_CHECK_KEYS = frozenset({"kind", "form", "covers"})
# What a column of a field may hold when the file gives only its width.
_COLUMN = {"number": "[ 0-9.,^_+-]", "unit": "[ A-Za-z]"}


def packaged_shapes() -> dict[str, Shape]:
    """Every packaged shape by name.

    Raises:
        ShapeError: A packaged file is damaged.
    """
    return {path.stem: read_shape(path) for path in sorted(_FOLDER.glob("*.toml"))}


def find_shapes(shape: str) -> tuple[Shape, ...]:
    """The shape of this name or file; for "auto" all packaged ones, to choose among.

    Raises:
        ShapeError: No such shape, or its file cannot be used.
    """
    if shape == "auto":
        return tuple(packaged_shapes().values())
    packaged = _FOLDER / f"{shape}.toml"
    if re.fullmatch(r"[a-z0-9_]+", shape) and packaged.is_file():
        return (read_shape(packaged),)
    if shape.endswith(".toml"):
        return (read_shape(Path(shape)),)
    names = ", ".join(path.stem for path in sorted(_FOLDER.glob("*.toml")))
    raise ShapeError(
        f"there is no line shape {shape!r}",
        next_step=f"use auto, a file ending in .toml, or one of: {names}",
    )


def read_shape(path: Path) -> Shape:
    """One shape from its file; its name is the file's name.

    Raises:
        ShapeError: The file is missing or has faults; names each with file and line.
    """
    try:
        text = path.read_text("utf-8")
        data = tomllib.loads(text)
    except OSError as error:
        raise ShapeError(f"the shape file {path} cannot be read ({error.strerror})") from None
    except UnicodeDecodeError:
        raise ShapeError(f"the shape file {path} is no text in UTF-8") from None
    except tomllib.TOMLDecodeError as error:
        raise ShapeError(f"{path}: {error}", next_step="correct the file") from None
    reader = _Reader(path, text)
    shape = reader.shape(data)
    if reader.faults:
        raise ShapeError("; ".join(reader.faults), next_step="correct the file")
    return shape


class _Reader:
    """Builds a shape and collects what is wrong on the way."""

    def __init__(self, path: Path, text: str) -> None:
        self.faults: list[str] = []
        self._path = path
        self._lines = text.splitlines()

    def fault(self, near: object, what: str) -> None:
        """Note a fault; its line is the first that holds `near`, an example before anything else."""
        wanted = str(near)
        at = [i for i, line in enumerate(self._lines, 1) if wanted and wanted in line]
        number = next((i for i in at if self._lines[i - 1].startswith("line =")), at[0] if at else 1)
        self.faults.append(f"{self._path}:{number}: {what}")

    def shape(self, data: dict[str, Any]) -> Shape:
        for key in sorted(data.keys() - _KEYS):
            self.fault(key, f"unknown key {key!r}")
        decimal, thousands = data.get("decimal", "."), data.get("thousands", "")
        if decimal not in {".", ","}:
            self.fault("decimal", "decimal is a point or a comma")
        if thousands not in {"", ",", ".", "'"} or thousands == decimal:
            self.fault(
                "thousands", "thousands is a comma, a point or an apostrophe, and not the decimal mark"
            )
            thousands = ""
        patterns = tuple(p for entry in self._tables(data, "line") if (p := self._pattern(entry)) is not None)
        if not patterns:
            self.fault("[[line]]", "no usable [[line]]")
            patterns = (re.compile("(?P<number>(?!))"),)
        defaults = self._table(data, "line_defaults")
        shape = Shape(
            name=self._path.stem,
            about=str(data.get("about", "")),
            patterns=patterns,
            beside=tuple(
                p for text in self._table(data, "beside").get("patterns", []) if (p := self._compiled(text))
            ),
            stable={key: bool(value) for key, value in self._table(data, "stable").items()},
            conditions=self._kinds(data, "condition", Condition),
            basis=self._kinds(data, "basis", Basis),
            default_basis=self._kind(defaults.get("basis", "gross"), Basis, Basis.GROSS),
            units=self._units(data),
            decimal=decimal if decimal in {".", ","} else ".",
            thousands=thousands,
            request=self._literal(data.get("request", "")),
            framing=self._framing(data),
            negative_zero=self._kind(data.get("negative_zero", "normal"), Condition, Condition.NORMAL),
            zero_on_overload=data.get("zero_on_overload") is True,
            decoder=self._one_of(data, "decoder", ("", "hid")),
        )
        self._prove(shape, data)
        return shape

    def _prove(self, shape: Shape, data: dict[str, Any]) -> None:
        """Read the file's own examples, and the lines it says must be refused."""
        examples = self._tables(data, "example")
        if not examples:
            self.fault("[[example]]", "no [[example]]: give at least one line with what it says")
        for entry in examples:
            line = self._literal(entry.get("line", ""))
            read = read_line(Frame(0, "", line), shape, str(entry.get("unit_set", "")))
            said = read if isinstance(read, Indication) else None
            normal = entry.get("condition", "normal") == "normal"
            wanted = (
                f"{entry.get('number', '')} {entry.get('unit', '')}" if normal else None,
                entry.get("unit", ""),
                entry.get("stable"),
                entry.get("basis", "gross"),
                entry.get("condition", "normal"),
            )
            got = said and (said.text if normal else None, said.unit, said.stable, said.basis, said.condition)
            if got != wanted:
                self.fault(entry.get("line", ""), f"the example {entry.get('line')!r} reads as {_said(read)}")
        for line in self._table(data, "refuse").get("lines", []):
            read = read_line(Frame(0, "", self._literal(line)), shape)
            if isinstance(read, Indication):
                self.fault(line, f"{line!r} should be refused and reads as {read.text}")
        self._prove_framing(shape.framing, data)

    def _prove_framing(self, framing: Framing, data: dict[str, Any]) -> None:
        """Cut the file's own bytes into frames."""
        for entry in self._tables(data, "wire"):
            frames = cutter("", framing).feed(Chunk(0, self._literal(entry.get("bytes", ""))))
            got = [each.data for each in frames if isinstance(each, Frame)]
            if got != [self._literal(line) for line in entry.get("lines", [])]:
                self.fault(entry.get("bytes", ""), f"{entry.get('bytes')!r} is cut into {got}")

    def _framing(self, data: dict[str, Any]) -> Framing:
        """How the frames are marked off; lines when the file does not say."""
        frame, code = self._table(data, "frame"), self._table(data, "check")
        for name, table, known in (("frame", frame, _FRAME_KEYS), ("check", code, _CHECK_KEYS)):
            for key in sorted(table.keys() - known):
                self.fault(key, f"unknown key {key!r} in [{name}]")
        start, end = self._literal(frame.get("start", "")), self._literal(frame.get("end", ""))
        kind = self._one_of(frame, "kind", ("line", "block", "fixed"))
        length, after = frame.get("length", 0), frame.get("after_end", 0)
        if not all(isinstance(n, int) and 0 <= n <= 255 for n in (length, after)):
            self.fault("[frame]", "length and after_end are whole numbers up to 255")
            length = after = 0
        if kind == "block" and not (len(start) == len(end) == 1 and start != end):
            self.fault("[frame]", "a block has a start and an end of one byte each, not the same")
            kind = "line"
        if kind == "fixed" and not (start and length >= 2):
            self.fault("[frame]", "a fixed width needs its length and the bytes it may start with")
            kind = "line"
        check = None
        if code:
            covers = code.get("covers", ["content", "end"])
            check = Check(
                self._one_of(code, "kind", ("xor", "sum")),
                self._one_of(code, "form", ("byte", "hex")),
                start if "start" in covers else b"",
                end if "end" in covers else b"",
            )
        return Framing(kind, start, end, after, length, check)

    def _one_of(self, table: dict[str, Any], key: str, known: tuple[str, ...]) -> Any:
        """One of a few words; the first when the key is not there."""
        value = table.get(key, known[0])
        if value in known:
            return value
        self.fault(key, f"{key} {value!r} is none of {', '.join(filter(None, known))}")
        return known[0]

    def _pattern(self, entry: dict[str, Any]) -> re.Pattern[str] | None:
        if "columns" in entry:
            return self._compiled("".join(self._column(column) for column in entry["columns"]))
        return self._compiled(entry.get("pattern", ""))

    def _column(self, column: dict[str, Any]) -> str:
        if "text" in column:
            text = str(column["text"])
            return re.escape(text) if column.get("literal", True) else text
        name = str(column.get("field", ""))
        if name not in _FIELDS:
            self.fault(name or "columns", f"unknown field {name!r}; fields are {', '.join(sorted(_FIELDS))}")
            return ""
        if "is" in column:
            return f"(?P<{name}>{column['is']})"
        if name in _COLUMN and isinstance(column.get("width"), int):
            return f"(?P<{name}>{_COLUMN[name]}{{{column['width']}}})"
        self.fault(name, f"the column {name} needs a width (number, unit) or what it is")
        return ""

    def _compiled(self, text: object) -> re.Pattern[str] | None:
        try:
            pattern = re.compile(str(text), re.ASCII)
        except re.error as error:
            self.fault(text, f"{text!r} is no regular expression ({error.msg})")
            return None
        for name in sorted(pattern.groupindex.keys() - _FIELDS):
            self.fault(name, f"unknown group {name!r}; groups are {', '.join(sorted(_FIELDS))}")
        return pattern

    def _tables(self, data: dict[str, Any], key: str) -> list[dict[str, Any]]:
        value = data.get(key, [])
        if isinstance(value, list) and all(isinstance(entry, dict) for entry in value):
            return value
        self.fault(key, f"{key} is written as [[{key}]]")
        return []

    def _table(self, data: dict[str, Any], key: str) -> dict[str, Any]:
        value = data.get(key, {})
        if isinstance(value, dict):
            return value
        self.fault(key, f"{key} is written as [{key}]")
        return {}

    def _kinds(self, data: dict[str, Any], key: str, kind: Any) -> dict[str, Any]:
        return {text: self._kind(value, kind, None) for text, value in self._table(data, key).items()}

    def _kind(self, value: object, kind: Any, default: Any) -> Any:
        try:
            return kind(value)
        except ValueError:
            self.fault(value, f"{value!r} is none of {', '.join(kind)}")
            return default or next(iter(kind))

    def _units(self, data: dict[str, Any]) -> dict[str, str]:
        units = {str(k): str(v) for k, v in self._table(data, "unit").items()}
        for unit in units.values():
            if unit not in UNITS:
                self.fault(unit, f"unknown unit {unit!r}")
        return units or dict(UNITS)

    def _literal(self, text: object) -> bytes:
        """A line written as in a Python string literal, without the quotes."""
        try:
            return unescape(str(text))
        except ValueError:
            self.fault(text, f"{text!r} is no line as in a Python string literal")
            return b""


def _said(read: object) -> str:
    if isinstance(read, Indication):
        stable = {True: "stable", False: "moving", None: "no flag"}[read.stable]
        return f"{read.text!r}, {stable}, {read.basis.value}, {read.condition.value}"
    return f"nothing ({read.reason})" if isinstance(read, Torn) else "a line without a weight"
