"""Grammar documents laid over each other, and the faults found in them. Pure."""

from __future__ import annotations

import re
from typing import Any

from handsfree.errors import GrammarError
from handsfree.speech.expressions import normalise
from handsfree.speech.toml_document import Document

_WORD = re.compile(r"[^\W\d_]+(?:'[^\W\d_]+)*'?")


class Faults:
    """Collects every fault with its place, to show them all together."""

    def __init__(self) -> None:
        self.found: list[str] = []

    def add(self, where: str, what: str) -> None:
        """Note one fault."""
        text = f"{where}: {what}"
        if text not in self.found:
            self.found.append(text)

    def raise_if_any(self) -> None:
        """Raise all faults as one error.

        Raises:
            GrammarError: At least one fault was noted.
        """
        if not self.found:
            return
        head = (
            f"in {self.found[0]}"
            if len(self.found) == 1
            else f"{len(self.found)} faults in the grammar files"
        )
        rest = "" if len(self.found) == 1 else ":\n  " + "\n  ".join(self.found) + "\n"
        raise GrammarError(
            head + rest, next_step="correct the line named, then run `handsfree grammar check`"
        )


class Sheets:
    """The shipped document with the user's own laid over it."""

    def __init__(self, shipped: Document, own: Document | None, faults: Faults) -> None:
        self._layers = [shipped] if own is None else [shipped, own]
        self.faults = faults

    def fault(self, what: str, *path: str | int) -> None:
        """Note a fault at a path, where the user's own file has it, else the shipped one."""
        self.faults.add(self.where(*path), what)

    def where(self, *path: str | int) -> str:
        """The place of a path: in the layer that has most of it, the user's own when both do."""
        return max(reversed(self._layers), key=lambda layer: layer.depth(*path)).where(*path)

    def value(self, *path: str) -> Any:
        """The value at a path, the user's own first; None when there is none."""
        for layer in reversed(self._layers):
            found: Any = layer.data
            for key in path:
                found = found.get(key) if isinstance(found, dict) else None
            if found is not None:
                return found
        return None

    def names(self, *path: str) -> list[str]:
        """The keys of a table in all layers, shipped ones first."""
        keys: dict[str, None] = {}
        for layer in self._layers:
            found: Any = layer.data
            for key in path:
                found = found.get(key) if isinstance(found, dict) else None
            if isinstance(found, dict):
                keys |= dict.fromkeys(found)
            elif found is not None:
                self.fault(f"{'.'.join(path)} should be a table", *path)
        return list(keys)

    def texts(self, *path: str) -> list[str]:
        """The lists of words at a path in all layers, joined, as normal text; faults for other types."""
        joined: dict[str, None] = {}
        for layer in self._layers:
            found: Any = layer.data
            for key in path:
                found = found.get(key) if isinstance(found, dict) else None
            if found is None:
                continue
            if not isinstance(found, list) or not all(isinstance(text, str) for text in found):
                self.faults.add(layer.where(*path), f"{path[-1]!r} should be a list of texts")
                continue
            joined |= dict.fromkeys(self.phrase(text, *path) for text in found)
        return list(joined)

    def text(self, *path: str, default: str = "") -> str:
        """A text at a path."""
        found = self.value(*path)
        if found is None:
            return default
        if not isinstance(found, str):
            self.fault(f"{path[-1]!r} should be a text", *path)
            return default
        return found

    def number(self, *path: str, low: float, high: float) -> float | None:
        """A number above `low` and up to `high` at a path, None when there is none."""
        return self.checked_number(self.value(*path), path, low, high)

    def checked_number(
        self, found: Any, path: tuple[str | int, ...], low: float, high: float
    ) -> float | None:
        """The value as a number above `low` and up to `high`; None, with a fault if it is something else."""
        if found is None:
            return None
        if isinstance(found, bool) or not isinstance(found, int | float) or not low < found <= high:
            self.fault(f"{path[-1]!r} should be a number above {low:g} and up to {high:g}", *path)
            return None
        return float(found)

    def flag(self, *path: str) -> bool:
        """A yes or no at a path, no when there is none."""
        found = self.value(*path)
        if not isinstance(found, bool | None):
            self.fault(f"{path[-1]!r} should be true or false", *path)
            return False
        return bool(found)

    def phrase(self, text: str, *path: str | int) -> str:
        """Words as the grammars hold them; a fault when there are none or they are not words."""
        said = normalise(re.sub(r"<\w+>", "", text))
        for word in said:
            if not _WORD.fullmatch(word):
                self.fault(f"{word!r} in {text!r} is not a word: write it as it is said", *path)
        if not said and "<" not in text:
            self.fault(f"{text!r} holds no words", *path)
        return " ".join(normalise(text)) if "<" not in text else " ".join(text.lower().split())

    def only(self, known: set[str], *path: str) -> None:
        """Note every key of a table that is not one of these."""
        for key in self.names(*path):
            if key not in known:
                self.fault(f"{key!r} is not known here; known: {', '.join(sorted(known))}", *path, key)
