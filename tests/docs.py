"""Keeps the generated parts of the documents true: `python -m tests.docs [--write]`.

A generated part stands between `<!-- generated: NAME -->` and `<!-- end: NAME -->`. Without
`--write` it is only compared; exit 1 when a part is stale.
"""

from __future__ import annotations

import inspect
import re
import sys
from collections.abc import Callable, Iterator
from dataclasses import fields
from pathlib import Path

import click

from handsfree import config, errors
from handsfree.cli.group import group

ROOT = Path(__file__).resolve().parents[1]
_PART = re.compile(r"(<!-- generated: (\w+) -->\n)(.*?)(<!-- end: \2 -->)", re.DOTALL)


def verbs(command: click.Command = group, path: tuple[str, ...] = ()) -> Iterator[tuple[str, click.Command]]:
    """Every verb with its full name: "grammar list"."""
    if not isinstance(command, click.Group) or path:
        yield " ".join(path), command
    if isinstance(command, click.Group):
        for name, sub in command.commands.items():
            yield from verbs(sub, (*path, name))


def first_sentence(text: str | None) -> str:
    """The first line of a docstring."""
    return inspect.cleandoc(text or "").split("\n\n", maxsplit=1)[0].replace("\n", " ")


def verb_table() -> str:
    """All verbs with what they do and an example."""
    rows = ["| verb | what it does | example |", "|---|---|---|"]
    for name, command in verbs():
        shown = (command.epilog or "").removeprefix("\b\nExample: ")
        rows.append(f"| `{name}` | {first_sentence(command.help)} | `{shown}` |")
    return "\n".join(rows) + "\n"


def settings_table() -> str:
    """All settings with their defaults and meaning."""
    rows = ["| setting | default | meaning |", "|---|---|---|"]
    sections = {
        "larder": config.LarderSettings,
        "speech": config.SpeechSettings,
        "answers": config.AnswerSettings,
        "scale.NAME": config.ScaleSettings,
        "season": config.SeasonSettings,
    }
    for title, kind in sections.items():
        meanings = _field_docs(kind)
        for each in fields(kind):
            if each.name == "name" and title.startswith("scale"):
                continue
            default = "" if each.default in (None, "") else str(each.default)
            rows.append(f"| `{title}.{each.name}` | {default} | {meanings.get(each.name, '')} |")
    rows.append(f"| `butchers.NUMBER` |  | {_field_docs(config.Config)['butchers']} |")
    return "\n".join(rows) + "\n"


def _field_docs(kind: type) -> dict[str, str]:
    """The one-line strings below the fields of a dataclass."""
    found = re.findall(
        r'^    (\w+): [^\n]*\n    """(.*?)"""', inspect.getsource(kind), re.DOTALL | re.MULTILINE
    )
    return {name: re.sub(r"\s+", " ", text) for name, text in found}


def error_table() -> str:
    """All errors with what they mean."""
    rows = ["| error | also a | meaning |", "|---|---|---|"]
    for name, kind in vars(errors).items():
        if isinstance(kind, type) and issubclass(kind, errors.HandsfreeError):
            also = [base.__name__ for base in kind.__bases__ if not issubclass(base, errors.HandsfreeError)]
            rows.append(
                f"| `{name}` | {', '.join(f'`{a}`' for a in also)} | {first_sentence(kind.__doc__)} |"
            )
    return "\n".join(rows) + "\n"


PARTS: dict[str, Callable[[], str]] = {"verbs": verb_table, "settings": settings_table, "errors": error_table}


def renewed(text: str) -> str:
    """A document with its generated parts as they should be."""
    return _PART.sub(lambda match: match[1] + PARTS[match[2]]() + match[4], text)


def main(*, write: bool) -> int:
    """Compare, or write, the generated parts of all documents."""
    stale = []
    for name in ("README.md", "DEVELOPERS.md"):
        file = ROOT / name
        text = file.read_text(encoding="utf-8")
        if renewed(text) != text:
            stale.append(name)
            if write:
                file.write_text(renewed(text), encoding="utf-8")
    if stale:
        sys.stdout.write(f"{'renewed' if write else 'stale (run make docs)'}: {', '.join(stale)}\n")
    return int(bool(stale) and not write)


if __name__ == "__main__":
    sys.exit(main(write="--write" in sys.argv))
