"""Carcass tags with a nought, by how the nought is said: "oh", "zero" or "nought".

Run: `python tests/benchmarks/hearing/tags.py [--half test] [--tags N] [--as-it-comes] [--second-ear FOLDER]`.
Synthetic voices, each read in beforehand unless `--as-it-comes`, tell N tags of three or four digits, one
nought at least among them, in quiet (40 dB), in the half's fan at 20 dB and in pink noise at 10 dB. The
digits and the noise are the same for all three words. A tag is right when its digits are, however they were
worded. "other way round" counts the wrong ones in which a nought stands for a four or a four for a nought.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Sequence

import material
from ear_material import TAG_CONDITIONS, drawn_tag
from engines import Row, rows
from halves import SEED, Half
from intervals import share
from reading_in import rows_of
from tally import options, show

from handsfree.speech.grammar import Grammar
from handsfree.speech.meaning import Command
from handsfree.testing.rehearsal.voices import Voice
from handsfree.testing.shipped_words import shipped_vocabulary

WORDS = ("oh", "zero", "nought")


def tags(half: Half, number: int, condition: int, count: int) -> list[str]:
    """What a voice tells under a condition, noughts as "oh"."""
    draw = random.Random(SEED[half] + 1000 * number + 100 * condition + 7)
    told: list[str] = []
    while len(told) < count:
        tag = drawn_tag(draw)
        if " oh" in tag:
            told.append(tag)
    return told


def digits_in(grammar: Grammar, text: str) -> str:
    """The digits a phrase tells; empty for one that is no tag."""
    meaning = next(iter(grammar.parse(text)), None)
    return meaning.digits if isinstance(meaning, Command) else ""


def exchanged(said: str, heard: str) -> bool:
    """Whether the two differ by noughts and fours only, taken for each other."""
    return said != heard and said.replace("4", "0") == heard.replace("4", "0")


def told(
    half: Half, number: int, voice: Voice, found: Sequence[Row], grammar: Grammar, count: int
) -> Counter[tuple[str, str, str]]:
    """(row, word, outcome) -> how many tags of this voice."""
    outcomes: Counter[tuple[str, str, str]] = Counter()
    noises = material.noises(half)
    for word in WORDS:
        for condition, (kind, snr_db) in enumerate(TAG_CONDITIONS):
            texts = [tag.replace(" oh", f" {word}") for tag in tags(half, number, condition, count)]
            track = material.phrases_track(texts, voice, noises[kind], snr_db, half=half, seed=condition)
            for clip in track.clips():
                said = digits_in(grammar, clip.text)
                for row in found:
                    readings = row.hear(clip).readings
                    heard = digits_in(grammar, readings[0]) if readings else ""
                    outcomes[row.name, word, "n"] += 1
                    outcomes[row.name, word, "right"] += heard == said
                    outcomes[row.name, word, "other way round"] += exchanged(said, heard)
    return outcomes


def main() -> None:
    """Print the table."""
    parser = options(__doc__)
    parser.add_argument("--tags", type=int, default=4, help="a voice and condition")
    parser.add_argument("--as-it-comes", action="store_true", help="no voice is read in")
    asked = parser.parse_args()
    grammar = shipped_vocabulary().listening()
    voices = material.voices(asked.half)
    plain, notes = rows(asked.second_ear, plain=False)
    own = {} if asked.as_it_comes else rows_of(voices, asked.second_ear)
    counted: Counter[tuple[str, str, str]] = Counter()
    for number, voice in enumerate(voices):
        found = own.get(voice, plain)
        for row in found:
            row.use(grammar)
        counted += told(asked.half, number, voice, found, grammar, asked.tags)
    lines = [f"{'row':28} {'nought as':10} {'n':>4} {'right':>15} {'other way round':>16}"]
    data = []
    for row_name, word in dict.fromkeys((name, word) for name, word, _ in counted):
        n, right, other = (counted[row_name, word, kind] for kind in ("n", "right", "other way round"))
        lines.append(f"{row_name:28} {word:10} {n:4d} {share(right, n):>15} {other:16d}")
        data.append({"row": row_name, "word": word, "n": n, "right": right, "other_way_round": other})
    show(asked, lines, data, notes)


if __name__ == "__main__":
    main()
