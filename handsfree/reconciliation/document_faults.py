"""Faults of a document to reconcile, each with its JSON path and in plain words."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterator
from decimal import Decimal
from functools import cache
from importlib.resources import files
from typing import Any

from jsonschema import Draft202012Validator
from jsonschema.exceptions import ValidationError

from handsfree.mass import MG_PER_G
from handsfree.reconciliation.losses import moment_of

#: More faults than this are counted, not told one by one.
TOLD = 12

_TYPES = {
    "array": "a list",
    "object": "an object",
    "string": "text",
    "integer": "a whole number",
    "number": "a number",
    "boolean": "true or false",
    "null": "nothing",
}


def grams_of(mass_mg: int) -> int | float:
    """Milligrams as grams for JSON: exact when written and read as decimal text."""
    return mass_mg // MG_PER_G if mass_mg % MG_PER_G == 0 else mass_mg / MG_PER_G


def schema() -> dict[str, Any]:
    """The JSON Schema (2020-12) of a document to reconcile."""
    text = files("handsfree.reconciliation").joinpath("reconcile.schema.json").read_text(encoding="utf-8")
    loaded: dict[str, Any] = json.loads(text)
    return loaded


def faults_of(parsed: Any) -> list[str]:
    """All faults of a parsed document, empty when it can be reconciled."""
    plain = _plain(parsed)
    faults = [_told(error) for error in _validator().iter_errors(plain)]
    if not faults:
        faults = list(_contradictions(plain))
    more = len(faults) - TOLD
    return faults if more <= 0 else [*faults[:TOLD], f"and {more} more faults"]


@cache
def _validator() -> Draft202012Validator:
    return Draft202012Validator(schema())


def _plain(value: Any) -> Any:
    """Decimals as floats, so that the schema's limits apply to them; what is no number as text."""
    if isinstance(value, dict):
        return {str(key): _plain(inner) for key, inner in value.items()}
    if isinstance(value, list):
        return [_plain(inner) for inner in value]
    number = float(value) if isinstance(value, Decimal) else value
    # NaN and Infinity are no JSON, though Python reads them; as text they fail the schema.
    if isinstance(number, float) and not abs(number) <= 1e300:
        return str(number)
    return number


def _told(error: ValidationError) -> str:
    path, seen, wanted = error.json_path, _seen(error.instance), error.validator_value
    known = ", ".join(sorted(error.schema.get("properties", {})))
    kinds = [wanted] if isinstance(wanted, str) else wanted
    told = {
        "type": lambda: f"{path} must be {' or '.join(_TYPES.get(kind, kind) for kind in kinds)}, not {seen}",
        "required": lambda: f"{path}: {error.message.replace(' is a required property', ' is missing')}",
        "additionalProperties": lambda: (
            f"{path}: {error.message[:1].lower()}{error.message[1:]}; known here are {known}"
        ),
        "enum": lambda: f"{path} must be one of {', '.join(map(repr, wanted))}, not {seen}",
        "const": lambda: f"{path} must be {wanted!r}, not {seen}",
        "anyOf": lambda: f"{path} must be a number (or decimal text) in range, not {seen}",
    }
    return told.get(error.validator, lambda: f"{path}: {seen} is out of range")()


def _seen(instance: Any) -> str:
    if isinstance(instance, (dict, list)):
        return _TYPES["object"] if isinstance(instance, dict) else _TYPES["array"]
    text = repr(instance)
    return text if len(text) <= 40 else text[:37] + "..."


def _contradictions(plain: dict[str, Any]) -> Iterator[str]:
    """Faults that no schema sees."""
    numbers = Counter(piece.get("entry", place) for place, piece in enumerate(plain["pieces"], 1))
    for place, piece in enumerate(plain["pieces"]):
        number = piece.get("entry", place + 1)
        if numbers[number] > 1:
            yield f"$.pieces[{place}].entry: the number {number} is there {numbers[number]} times"
        yield from _too_small(piece, f"$.pieces[{place}]")
    yield from _too_small(plain.get("dressed") or {}, "$.dressed")
    yield from _no_moment(plain.get("dressed") or {}, "$.dressed")
    for place, call in enumerate(plain.get("unweighed", ())):
        yield from _no_moment(call, f"$.unweighed[{place}]")
    for name, scale in plain.get("scales", {}).items():
        yield from _too_small(scale, f"$.scales[{name!r}]")
    process = plain.get("process", {})
    if process.get("cutting_percent", 0) + process.get("chill_percent", 0) >= 100:
        yield "$.process: cutting and chilling together take all of the carcass"


def _too_small(values: dict[str, Any], path: str) -> Iterator[str]:
    for key in ("net_g", "mass_g", "d_g"):
        if key in values and float(values[key]) < 0.001:
            yield f"{path}.{key} is less than a milligram"


def _no_moment(values: dict[str, Any], path: str) -> Iterator[str]:
    text = values.get("posted_at", "")
    if text and moment_of(text) is None:
        yield f"{path}.posted_at must be a moment such as 2026-11-25T08:00:00Z, not {_seen(text)}"
