"""Writes one scale into the settings file; comments, order and everything else stay as they are.

An edge: it writes the file, and is the only module that imports tomlkit.
"""

from __future__ import annotations

import os
import tempfile
from collections.abc import Mapping, MutableMapping
from contextlib import suppress
from datetime import date
from pathlib import Path

import tomlkit
from tomlkit.exceptions import TOMLKitError

from handsfree.config import load_config
from handsfree.errors import ConfigError

#: What a setting may be; None takes the key out, so that its default holds.
Value = str | int | float | bool | date | None


def scale_lines(name: str, values: Mapping[str, Value]) -> str:
    """The lines of `[scale.NAME]` as they would stand in a new file, to be shown before writing."""
    document = tomlkit.document()
    _put(document, name, values)
    return tomlkit.dumps(document).strip() + "\n"


def write_scale(file: Path, name: str, values: Mapping[str, Value]) -> None:
    """Set these keys of `[scale.NAME]`; the file, its folder and the section are made where missing.

    The new file is read as settings before it takes the place of the old one, in one step: a power cut
    leaves the old file or the new one, never half of one.

    Args:
        file: The settings file, TOML.
        name: Name of the scale: "bench", "rail".
        values: Keys of `handsfree.config.ScaleSettings` (but `name`) to set, or to take out with None.
            Keys not named here stay as they are.

    Raises:
        ConfigError: The file is no TOML, a value is not allowed there, or it cannot be written; the
            old file is untouched.
    """
    text = _read(file)
    try:
        document = tomlkit.parse(text)
        _put(document, name, values)
        changed = tomlkit.dumps(document)
    except (TOMLKitError, TypeError, ValueError) as error:
        raise ConfigError(
            f"{file} cannot be changed: {error}", kept="it is as it was", next_step="put that line right"
        ) from None
    _replace(file, changed)


def write_setting(file: Path, section: str, key: str, value: Value) -> None:
    """Set one key of a plain section such as `[speech]`, or take it out with None.

    Everything else stays as it is; see `write_scale` for how the file is replaced.

    Raises:
        ConfigError: The file is no TOML, the value is not allowed there, or it cannot be written; the
            old file is untouched.
    """
    text = _read(file)
    try:
        document = tomlkit.parse(text)
        if section not in document:
            document[section] = tomlkit.table()
        table = document[section]
        if not isinstance(table, MutableMapping):
            raise ConfigError(f"{section} is no section", next_step=f"write it as [{section}]")
        if value is None:
            table.pop(key, None)
        else:
            table[key] = value
        changed = tomlkit.dumps(document)
    except (TOMLKitError, TypeError, ValueError) as error:
        if isinstance(error, ConfigError):
            raise
        raise ConfigError(
            f"{file} cannot be changed: {error}", kept="it is as it was", next_step="put that line right"
        ) from None
    _replace(file, changed)


def _read(file: Path) -> str:
    try:
        return file.read_bytes().decode("utf-8")  # no translation: line ends stay as they are
    except FileNotFoundError:
        return ""
    except (OSError, UnicodeDecodeError) as error:
        raise ConfigError(f"the settings file {file} cannot be read: {error}") from None


def _put(document: tomlkit.TOMLDocument, name: str, values: Mapping[str, Value]) -> None:
    scales = document.get("scale")
    if scales is None:
        scales = tomlkit.table(is_super_table=True)
        if document.body:
            document.add(tomlkit.nl())
        document.add("scale", scales)
        scales = document["scale"]
    if not isinstance(scales, MutableMapping):
        raise ConfigError("scale is no section", next_step="write scales as [scale.NAME]")
    if name not in scales:
        scales[name] = tomlkit.table()
    section = scales[name]
    if not isinstance(section, MutableMapping):
        raise ConfigError(f"scale.{name} is no section", next_step=f"write it as [scale.{name}]")
    for key, value in values.items():
        if value is None:
            section.pop(key, None)
        else:
            section[key] = value


def _replace(file: Path, text: str) -> None:
    new: Path | None = None
    try:
        # A link (settings kept elsewhere) stays a link.
        file = file.resolve()
        file.parent.mkdir(parents=True, exist_ok=True)
        handle, made = tempfile.mkstemp(prefix=f".{file.name}.", suffix=".new", dir=file.parent)
        new = Path(made)
        with os.fdopen(handle, "wb") as out:
            out.write(text.encode("utf-8"))
            out.flush()
            os.fsync(out.fileno())
        new.chmod(file.stat().st_mode & 0o777 if file.exists() else 0o644)
        load_config(new)
        new.replace(file)
        new = None
    except OSError as error:
        if isinstance(error, ConfigError):
            raise
        raise ConfigError(
            f"the settings file {file} cannot be written ({error.strerror})",
            kept="it is as it was",
            next_step="check the folder's owner and the disk, or name another file with --config",
        ) from None
    except ConfigError as error:
        raise ConfigError(
            error.what.replace(str(new), str(file)), kept=f"{file} is as it was", next_step=error.next_step
        ) from None
    finally:
        if new is not None:
            with suppress(OSError):
                new.unlink()
