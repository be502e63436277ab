"""A line shape learned from examples: lines heard while a known mass was put on and taken off. Pure.

Lines with the same order of words, numbers and marks are one pattern. The number that stands at its first
value, and then off it by the known mass, is the weight, which gives the unit too. A word or
mark that goes with motion is the stable flag: lines just after the value moved are held against those
that had stood for 1.5 s. What was not seen (overload, net, a minus sign) is not guessed: such lines stay
torn, and it is said.
"""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

from handsfree.mass import MG_PER_UNIT
from handsfree.weighing.learning_flags import Flag, find_flag, motion
from handsfree.weighing.lines import UNITS

_TOKEN = re.compile(r"[+-]? *[0-9]+(?:[.,][0-9]+)?|[A-Za-z]+| +|.", re.DOTALL)
_NUMBER = re.compile(r"[+-]? *[0-9]+(?:[.,][0-9]+)?")
_NEAR = 0.02
_LEAST_OF_A_KIND = 3
"""Fewer lines of one kind than this may be pieces of lines that were cut."""
_FEW_MOVING = 20
"""A kind of line seen more often than this is not one that only comes while the load moves."""
_BASIS = {"GS": "gross", "G": "gross", "GROSS": "gross", "NT": "net", "N": "net", "NET": "net"}
LEAST_LINES = 12
"""Fewest lines to learn from, a few of them with the pan empty and a few with the mass."""


@dataclass(frozen=True, slots=True)
class Heard:
    """One line."""

    t_ns: int
    text: str


@dataclass(frozen=True, slots=True)
class LearnedShape:
    """A shape file, and what is known of it."""

    toml: str
    unit: str
    carries_unit: bool
    decimals: int
    flag: Flag | None
    lines: int
    """Lines that fit, of `of`."""
    of: int
    could_not_tell: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Line:
    t_ns: int
    text: str
    tokens: tuple[str, ...]
    """Without the spaces."""


def learn_shape(lines: Sequence[Heard], mass_mg: int) -> LearnedShape | str:
    """The shape of these lines, or why it cannot be told.

    Args:
        lines: What was heard, in order, from an empty pan to the mass and back.
        mass_mg: The mass that was put on.
    """
    if len(lines) < LEAST_LINES:
        return f"{len(lines)} lines are too few to learn from; {LEAST_LINES} are the least"
    groups: dict[tuple[str, ...], list[_Line]] = defaultdict(list)
    for each in lines:
        tokens = tuple(token for token in _TOKEN.findall(each.text) if token.strip(" "))
        groups[tuple(_kind(token) for token in tokens)].append(_Line(each.t_ns, each.text, tokens))
    found = _weight_field(groups, mass_mg)
    if found is None:
        return "no number in the lines stands at one value and at that plus the known mass in turn"
    index, unit, base = found
    used = {
        kinds: group
        for kinds, group in groups.items()
        if _tracks(group, _at(kinds, index), mass_mg, unit, base)
    }
    every = sorted((line for group in used.values() for line in group), key=lambda line: line.t_ns)
    numbers = [line.tokens[_at(_kinds(line), index) or 0] for line in every]
    moving = motion([(line.t_ns, _value(number)) for line, number in zip(every, numbers, strict=True)])
    flag = find_flag([line.tokens for line in every], moving)
    decimal = "," if any("," in number for number in numbers) else "."
    places = Counter(
        len(re.split("[.,]", number)[1]) if re.search("[.,]", number) else 0 for number in numbers
    )
    carries = False
    patterns = []
    for kinds, group in used.items():
        pattern, has_unit = _pattern(group, _at(kinds, index) or 0, flag, decimal, unit)
        carries = carries or has_unit
        patterns.append(pattern)
    return LearnedShape(
        _toml(patterns, flag, decimal, every, numbers, unit, carries),
        unit,
        carries,
        places.most_common(1)[0][0],
        flag,
        len(every),
        len(lines),
        _doubts(every, numbers, flag, carries=carries, unit=unit),
    )


def _kind(token: str) -> str:
    return "9" if _NUMBER.fullmatch(token) else "A" if token.isalpha() else token


def _kinds(line: _Line) -> tuple[str, ...]:
    return tuple(_kind(token) for token in line.tokens)


def _at(kinds: Sequence[str], index: int) -> int | None:
    """Place of the number with this index among the tokens."""
    places = [i for i, kind in enumerate(kinds) if kind == "9"]
    return places[index] if index < len(places) else None


def _value(number: str) -> float:
    return float(number.replace(" ", "").replace(",", "."))


def _weight_field(groups: dict[tuple[str, ...], list[_Line]], mass_mg: int) -> tuple[int, str, float] | None:
    """Index of the weight among a line's numbers, its unit, and what it shows for the empty pan."""
    best: tuple[int, int, str, float] | None = None
    for index in range(max(kinds.count("9") for kinds in groups)):
        timed = sorted(
            (line.t_ns, _value(line.tokens[at]))
            for kinds, group in groups.items()
            if (at := _at(kinds, index)) is not None
            for line in group
        )
        base = median(value for _, value in timed[:3])
        for unit in ("kg", "g", "lb", "oz"):
            levels = [_level(value - base, mass_mg, unit) for _, value in timed]
            both = min(levels.count(0), levels.count(1))
            if both >= 3 and (best is None or both > best[0]):
                best = both, index, unit, base
    return None if best is None else best[1:]


def _level(value: float, mass_mg: int, unit: str) -> int | None:
    """0 for empty, 1 for the mass, None for anything else."""
    mass = float(mass_mg / MG_PER_UNIT[unit])
    return 0 if abs(value) <= _NEAR * mass else 1 if abs(abs(value) - mass) <= _NEAR * mass else None


def _tracks(group: Sequence[_Line], at: int | None, mass_mg: int, unit: str, base: float) -> bool:
    """Whether the number of this pattern may be the weight: never far above the mass, and once at a level."""
    if at is None or len(group) < _LEAST_OF_A_KIND:
        return False
    mass = float(mass_mg / MG_PER_UNIT[unit])
    values = [_value(line.tokens[at]) - base for line in group]
    levels = [_level(value, mass_mg, unit) for value in values]
    if not {0, 1} <= set(levels) and len(values) > _FEW_MOVING:
        return False  # many lines and never both empty and loaded: a date, a number of the ticket
    return all(abs(value) <= 1.6 * mass for value in values)


def _pattern(
    group: Sequence[_Line], weight_at: int, flag: Flag | None, decimal: str, unit: str
) -> tuple[str, bool]:
    """The regular expression of one kind of line, and whether it carries the unit."""
    parts: list[str] = []
    has_unit = has_flag = False
    for place in range(len(group[0].tokens)):
        seen = sorted({line.tokens[place] for line in group})
        if place == weight_at:
            parts.append(rf"(?P<number>[+-]? *[0-9]+(?:\{decimal}[0-9]+)?)")
        elif flag is not None and flag.is_in(group[0].tokens, place) and not has_flag:
            has_flag = True
            words = "|".join(re.escape(word) for word in sorted(flag.stable))
            parts.append(
                f"(?P<status>{words})" if flag.mark is None else f"(?P<status>{re.escape(flag.mark)})"
            )
        elif not has_unit and all(UNITS.get(word) == unit for word in seen):
            has_unit = True
            parts.append(f"(?P<unit>{'|'.join(seen)})")
        elif _kind(seen[0]) == "9" and len(seen) > 1:
            parts.append(r"[+-]? *[0-9]+(?:[.,][0-9]+)?")
        elif len(seen) > 1 and all(word.upper() in _BASIS for word in seen):
            parts.append(f"(?P<basis>{'|'.join(seen)})")
        else:
            parts.append(
                "|".join(re.escape(word) for word in seen) if len(seen) == 1 else f"(?:{'|'.join(seen)})"
            )
    if flag is not None and flag.mark is not None and not has_flag:
        parts.append("(?P<status>)")
    return " *" + " *".join(parts) + " *", has_unit


def _toml(
    patterns: Sequence[str],
    flag: Flag | None,
    decimal: str,
    every: Sequence[_Line],
    numbers: Sequence[str],
    unit: str,
    carries: bool,
) -> str:
    """The shape file, with some of the lines as its examples."""
    out = [
        "# Learned from a scale's own lines.",
        f"about = {_quoted(every[0].text)}",
        f'decimal = "{decimal}"',
        "",
    ]
    out += [f"[[line]]\npattern = {_quoted(pattern)}\n" for pattern in dict.fromkeys(patterns)]
    if flag is not None:
        out.append("[stable]")
        out += [f"{_quoted(word)} = {str(still).lower()}" for word, still in sorted(flag.stable.items())]
        out.append("")
    if any("(?P<basis>" in pattern for pattern in patterns):
        words = sorted({word for line in every for word in line.tokens if word.upper() in _BASIS})
        out += ["[basis]", *(f'{_quoted(word)} = "{_BASIS[word.upper()]}"' for word in words), ""]
    shown: set[object] = set()
    for line, number in zip(every, numbers, strict=True):
        stable = None if flag is None else flag.says(line.tokens)
        value = number.replace(" ", "").replace(",", ".").lstrip("+")
        basis = _basis(line, patterns)
        key = (_kinds(line), stable, basis)
        if key in shown or re.match(r"-?0[0-9]|-0(?:\.0*)?$", value):
            continue
        shown.add(key)
        out += [
            "[[example]]",
            f"line = {_quoted(_escaped(line.text))}",
            f'number = "{value}"',
            f'unit = "{unit}"',
        ]
        out += [] if carries else [f'unit_set = "{unit}"']
        out += [] if basis is None else [f'basis = "{basis}"']
        out += [] if stable is None else [f"stable = {str(stable).lower()}"]
        out.append("")
    return "\n".join(out)


def _basis(line: _Line, patterns: Sequence[str]) -> str | None:
    """What a line's own word says of gross and net, where the pattern reads it."""
    for pattern in patterns:
        match = re.fullmatch(pattern, line.text)
        if match is not None and "basis" in match.groupdict():
            return _BASIS[match["basis"].upper()]
    return None


def _escaped(text: str) -> str:
    return text.replace("\\", "\\\\")


def _quoted(text: str) -> str:
    """TOML string: as it is where it can be."""
    printable = "'" not in text and all(" " <= c <= "~" for c in text)
    if printable:
        return f"'{text}'"
    return '"' + "".join(c if " " <= c <= "~" and c not in '"\\' else f"\\u{ord(c):04x}" for c in text) + '"'


def _doubts(
    every: Sequence[_Line], numbers: Sequence[str], flag: Flag | None, *, carries: bool, unit: str
) -> tuple[str, ...]:
    doubts = ["how it shows overload was not seen; such lines will be refused, not weighed"]
    if not any("-" in number for number in numbers):
        doubts.append("no value below zero was seen; a minus sign before the number is taken for one")
    if flag is None:
        doubts.append("nothing in the lines goes with motion: the recorder judges rest by the values alone")
    elif flag.confidence < 0.95:
        doubts.append(f"the stable flag is a guess ({flag.confidence:.0%})")
    if not carries:
        doubts.append(f"the lines carry no unit known here: {unit} is what fits the mass")
    words = {word.upper() for line in every for word in line.tokens}
    if words & {"NT", "NET"} or not words & set(_BASIS):
        doubts.append("whether net and gross are told apart was not seen")
    return tuple(doubts)
