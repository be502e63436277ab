"""A grammar as JSGF text (Java Speech Grammar Format 1.0, W3C Note of 5 June 2000), or as phrases."""

from __future__ import annotations

import re
from itertools import count

from handsfree.speech.expressions import (
    Alternatives,
    Expression,
    Optional,
    Repeated,
    Rule,
    Sequence,
    Words,
    children,
)
from handsfree.speech.grammar import Grammar


def to_jsgf(grammar: Grammar, *, chances: bool = True) -> str:
    """The grammar as JSGF; sub-rules that are shared are written once.

    Args:
        grammar: What may be said.
        chances: Write how likely its parts are, in proportion to an engine's likelihoods of sound unscaled.
            An engine that scales them up makes too much of it.
    """
    name = rule_name(grammar.name)
    writer = _Writer(name, chances=chances)
    body = writer.text(grammar.root)
    rules = [f"<{rule}> = {text};" for rule, text in writer.rules.items()]
    lines = ["#JSGF V1.0 UTF-8 en;", f"grammar {name};", f"public <{name}> = {body};", *rules]
    return "\n".join(lines) + "\n"


def to_phrases(grammar: Grammar, limit: int) -> list[str]:
    """Up to `limit` phrases as plain text, for engines that take a list instead of a grammar."""
    return grammar.phrases(limit)


def rule_name(text: str) -> str:
    """A name that JSGF takes for a rule or grammar."""
    name = re.sub(r"\W+", "_", text.strip()).strip("_")
    return name if name and not name[0].isdigit() else f"g_{name}"


class _Writer:
    def __init__(self, taken: str, *, chances: bool) -> None:
        self._chances = chances
        self.rules: dict[str, str] = {}
        self._taken = taken
        self._names: dict[Expression, str] = {}

    def text(self, part: Expression) -> str:
        """The JSGF of an expression; empty for one that takes no words."""
        if isinstance(part, Words):
            return " ".join(_token(word) for word in part.words)
        if isinstance(part, Rule):
            return self._reference(part)
        if isinstance(part, Sequence):
            return " ".join(filter(None, (self._grouped(inner) for inner in part.parts)))
        if isinstance(part, Alternatives):
            return self._alternatives(part)
        return self._around(part, self.text(children(part)[0]))

    def _around(self, part: Expression, inner: str) -> str:
        if isinstance(part, Optional) and inner and part.chance is not None and self._chances:
            # JSGF weighs alternatives only, so the silence is written out as one.
            return f"(/{1 - part.chance:.4f}/ <NULL> | /{part.chance:.4f}/ ({inner}))"
        if isinstance(part, Optional):
            return f"[{inner}]" if inner else ""
        if isinstance(part, Repeated) and inner and part.chance is not None and self._chances:
            return self._repeated(inner, part.chance)
        return f"({inner})+" if isinstance(part, Repeated) else inner

    def _repeated(self, inner: str, chance: float) -> str:
        # "+" cannot be weighed: a rule that may go on with itself can. The library reads no exponents.
        name = self._free_name("again")
        self.rules[name] = f"({inner}) (/{1 - chance:.9f}/ <NULL> | /{chance:.9f}/ <{name}>)"
        return f"<{name}>"

    def _grouped(self, part: Expression) -> str:
        text = self.text(part)
        bare = isinstance(part, Words | Rule | Optional | Repeated)
        return f"({text})" if " | " in text and not bare else text

    def _alternatives(self, part: Alternatives) -> str:
        texts = list(dict.fromkeys(self.text(option) for option in part.options))
        given = " | ".join(text for text in texts if text)
        return f"[{given}]" if "" in texts else given

    def _reference(self, rule: Rule) -> str:
        if rule not in self._names:
            text = self.text(rule.part)
            if not text:
                return ""
            self._names[rule] = self._free_name(rule.name)
            self.rules[self._names[rule]] = text
        return f"<{self._names[rule]}>"

    def _free_name(self, wanted: str) -> str:
        # The same rule with a branch taken out in one place is another rule.
        base = rule_name(wanted)
        names = (base if n == 1 else f"{base}_{n}" for n in count(1))
        return next(name for name in names if name not in self.rules and name != self._taken)


def _token(word: str) -> str:
    return word if re.fullmatch(r"[\w']+", word) else '"' + word.replace('"', "") + '"'
