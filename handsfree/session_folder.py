"""The session folder: what a live session keeps and a replay takes. An edge: reads and writes files.

`session.toml` says when it was and what was known, `audio.wav` (or `audio.flac`) is the sound,
`scale.csv` the lines of the scales, `answers.csv` when the recorder itself was speaking.
"""

from __future__ import annotations

import csv
import tomllib
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import UTC, datetime
from decimal import Decimal, InvalidOperation
from pathlib import Path
from typing import Any, TextIO

import tomli_w

from handsfree.carcass_in_hand import CarcassFacts
from handsfree.clock import from_seconds, seconds
from handsfree.config import ScaleSettings, scale_settings
from handsfree.errors import SessionError

FORMAT = 1

#: Settings of a scale that a replay needs to read it as the live session did.
_KEPT = (
    "d_g",
    "max_kg",
    "shape",
    "address",
    "unit",
    "least_change_g",
    "silence_s",
    "only_on_key",
    "silent_at_rest",
    "repeatability_g",
    "repeatability_readings",
    "span",
    "eccentricity",
    "carcass",
)


@dataclass(frozen=True, slots=True)
class SessionDescription:
    """`session.toml` as read."""

    start: datetime
    carcass: CarcassFacts | None = None
    scales: Mapping[str, ScaleSettings] = field(default_factory=dict)
    plan: str = ""
    butcher: str = ""
    """Name of who was at the bench when it began; empty where nobody was named."""


@dataclass(frozen=True, slots=True)
class SessionFolder:
    """A folder fit for replay."""

    folder: Path
    description: SessionDescription
    sound: Path | None
    """None when the session has no sound."""
    scale_lines: Path | None
    """None when the session has no scale."""
    own_voice: tuple[tuple[int, int], ...] = ()
    """Spans (from, to) in ns in which the recorder itself was speaking."""


def open_session(folder: Path) -> SessionFolder:
    """Read a session folder.

    Raises:
        SessionError: The folder is missing, has no readable `session.toml`, or neither sound nor
            scale lines.
    """
    if not folder.is_dir():
        raise SessionError(f"there is no session folder {folder}", next_step="check the path")
    description = _description(folder / "session.toml")
    sound = next((p for p in (folder / "audio.wav", folder / "audio.flac") if p.exists()), None)
    scale_lines = folder / "scale.csv"
    if sound is None and not scale_lines.exists():
        raise SessionError(
            f"{folder} has neither audio.wav nor scale.csv", next_step="nothing can be replayed from it"
        )
    return SessionFolder(
        folder,
        description,
        sound,
        scale_lines if scale_lines.exists() else None,
        _own_voice(folder / "answers.csv"),
    )


def _description(file: Path) -> SessionDescription:
    try:
        text = file.read_text(encoding="utf-8")
        table = tomllib.loads(text, parse_float=Decimal)
    except FileNotFoundError:
        raise SessionError(
            f"{file.parent} has no session.toml",
            next_step="a session folder needs one (format = 1, start = ...)",
        ) from None
    except (OSError, UnicodeDecodeError) as error:
        raise SessionError(f"{file} cannot be read: {error}") from error
    except tomllib.TOMLDecodeError as error:
        raise SessionError(f"{file} is not valid TOML: {error}") from error
    if table.get("format") != FORMAT:
        raise SessionError(
            f"{file} has format {table.get('format')!r}; this version reads format {FORMAT}",
            next_step="use a version of handsfree that knows it",
        )
    scales = {
        name: scale_settings(name, _plain(values), file, text)
        for name, values in table.get("scale", {}).items()
    }
    return SessionDescription(
        start=_start(table.get("start"), file),
        carcass=_carcass(table["carcass"], file) if "carcass" in table else None,
        scales=scales,
        plan=str(table.get("plan", "")),
        butcher=str(table.get("butcher", "")),
    )


def _plain(values: Any) -> Any:
    if not isinstance(values, Mapping):
        return values
    return {key: float(value) if isinstance(value, Decimal) else value for key, value in values.items()}


def _start(value: Any, file: Path) -> datetime:
    if isinstance(value, str):
        try:
            value = datetime.fromisoformat(value)
        except ValueError:
            value = None
    if not isinstance(value, datetime):
        raise SessionError(f"{file}: start must be an RFC 3339 time such as 2026-11-02T09:30:00Z")
    return value.astimezone(UTC) if value.tzinfo else value.replace(tzinfo=UTC)


def _carcass(table: Any, file: Path) -> CarcassFacts:
    known = set(CarcassFacts.__dataclass_fields__)
    if not isinstance(table, Mapping) or not set(table) <= known:
        raise SessionError(f"{file}: [carcass] takes only {', '.join(sorted(known))}")
    values = {key: str(value) for key, value in table.items() if key != "dressed_kg"}
    dressed: Decimal | None = None
    if "dressed_kg" in table:
        try:
            dressed = Decimal(str(table["dressed_kg"]))
        except InvalidOperation:
            dressed = None
        if dressed is None or not dressed.is_finite() or dressed <= 0:
            raise SessionError(
                f"{file}: dressed_kg must be a weight in kilograms, not {table['dressed_kg']!r}"
            )
    for key, allowed in (("skin", ("on", "off")), ("hot_or_cold", ("hot", "cold"))):
        if values.get(key, allowed[0]) not in allowed:
            raise SessionError(f"{file}: {key} must be {' or '.join(allowed)}, not {values[key]!r}")
    return CarcassFacts(**values, dressed_kg=dressed)


def _own_voice(file: Path) -> tuple[tuple[int, int], ...]:
    if not file.exists():
        return ()
    try:
        with file.open(encoding="utf-8", newline="") as lines:
            return tuple(
                (from_seconds(float(row["from_seconds"])), from_seconds(float(row["to_seconds"])))
                for row in csv.DictReader(lines)
            )
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise SessionError(f"{file} cannot be read: {error}") from error


def write_description(folder: Path, description: SessionDescription) -> None:
    """Write `session.toml`; the folder is made when it is not there.

    Raises:
        SessionError: The folder cannot be written.
    """
    table: dict[str, Any] = {"format": FORMAT, "start": description.start.isoformat()}
    if description.plan:
        table["plan"] = description.plan
    if description.butcher:
        table["butcher"] = description.butcher
    scales = {
        name: {key: value for key in _KEPT if (value := getattr(settings, key)) not in (None, "")}
        for name, settings in description.scales.items()
    }
    if scales:
        table["scale"] = scales
    try:
        folder.mkdir(parents=True, exist_ok=True)
        (folder / "session.toml").write_text(tomli_w.dumps(table), encoding="utf-8")
    except OSError as error:
        raise SessionError(
            f"the session folder {folder} cannot be written: {error.strerror}",
            next_step="choose another folder with --keep, or record without it",
        ) from error


class AnswerLog:
    """Writes `answers.csv`: when the recorder spoke, so that a replay is as deaf then as it was.

    Raises:
        SessionError: The file cannot be made.
    """

    def __init__(self, folder: Path) -> None:
        self._path = folder / "answers.csv"
        try:
            self._file: TextIO = self._path.open("w", encoding="utf-8", newline="")
        except OSError as error:
            raise self._failed(error) from error
        self._writer = csv.writer(self._file)
        self._write(["from_seconds", "to_seconds", "text"])

    def spoke(self, from_ns: int, to_ns: int, text: str) -> None:
        """One answer, kept at once.

        Raises:
            SessionError: The disk is full or the file cannot be written.
        """
        self._write([f"{seconds(from_ns):.9f}", f"{seconds(to_ns):.9f}", text])

    def close(self) -> None:
        """Finish the file."""
        self._file.close()

    def _write(self, cells: list[str]) -> None:
        try:
            self._writer.writerow(cells)
            self._file.flush()
        except OSError as error:
            with suppress(OSError):  # closing writes what is left, and fails the same way
                self._file.close()
            raise self._failed(error) from error

    def _failed(self, error: OSError) -> SessionError:
        return SessionError(
            f"{self._path} cannot be written ({error.strerror})",
            kept="the ledger is not touched by this",
            next_step="make room, or record without --keep",
        )
