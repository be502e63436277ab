"""Pieces called twice in other moments of the noise: how many readings hold the right name, and what two
sayings make of it together (`handsfree.pairing.sayings`).

Run: `python tests/benchmarks/hearing/said_twice.py --second-ear FOLDER [--half test] [--phrases N]
[--noises fan,water] [--levels 10,5] [--json FILE]`. Each voice has read its phrases in, in quiet, and then
calls N pieces twice in every condition. "both doubtful" are those that the gate refused both times: there
the second saying is needed. Synthetic voices say a word the same way each time, so two sayings tell less
than two of a person's.
"""

from __future__ import annotations

import argparse
import sys
from collections import Counter
from dataclasses import dataclass
from math import log

import material
import reading_in
from engines import Ported
from halves import SEED
from intervals import share
from sound_store import Clip
from tally import options, show

from handsfree.pairing.sayings import together
from handsfree.pairing.settings import PairingSettings
from handsfree.speech.grammar import Grammar
from handsfree.speech.hearing import READINGS_WITH_SECOND_EAR, WITH_SECOND_EAR
from handsfree.speech.meaning import Call, Meaning
from handsfree.speech.messages import Utterance
from handsfree.testing.shipped_words import shipped_vocabulary

_EARLIER = (0.0, 0.3, 0.5, 0.7, 0.85, 1.0)
"""Shares of the earlier saying that are compared."""


@dataclass(frozen=True, slots=True)
class Twice:
    """One piece, called twice."""

    text: str
    first: Utterance
    second: Utterance

    @property
    def both_doubtful(self) -> bool:
        """Whether the gate refused it both times."""
        return max(self.first.confidence, self.second.confidence) < WITH_SECOND_EAR.call


def main() -> None:
    """Print the tables."""
    asked = _options()
    grammar = shipped_vocabulary().listening()
    spoken_by = material.voices(asked.half)
    rows = reading_in.rows_of(spoken_by, asked.second_ear)
    sources = material.noises(asked.half)
    kinds = asked.noises.split(",") if asked.noises else list(sources)
    said: dict[str, list[Twice]] = {}
    conditions = [(level, kind) for level in asked.levels.split(",") for kind in kinds]
    for step, (level, kind) in enumerate(conditions):
        for number, voice in enumerate(spoken_by):
            row = rows[voice][-1]
            assert isinstance(row, Ported)
            row.use(grammar)
            seed = SEED[asked.half] + 7_000 + 20 * step + number
            texts = _pieces(grammar, asked.phrases, seed)
            tracks = [
                material.phrases_track(
                    texts, voice, sources[kind], float(level), half=asked.half, seed=seed + again
                )
                for again in (0, 500)
            ]
            said.setdefault(f"{level} dB", []).extend(
                Twice(one.text, _heard(row, one), _heard(row, two))
                for one, two in zip(tracks[0].clips(), tracks[1].clips(), strict=True)
            )
        print(f"{kind} {level} dB: done", file=sys.stderr, flush=True)
    lines, data = _tables(said, grammar)
    show(asked, lines, data, [])


def meaning_of(grammar: Grammar, text: str) -> Meaning | None:
    """The one meaning of a phrase of the grammar."""
    return next(iter(grammar.parse(text)), None)


def _options() -> argparse.Namespace:
    parser = options(__doc__)
    parser.add_argument("--phrases", type=int, default=6, help="a voice and condition")
    parser.add_argument("--noises", default="", help="only these, with commas between")
    parser.add_argument("--levels", default="10,5", help="dB, with commas between")
    asked = parser.parse_args()
    if not asked.second_ear:
        parser.error("--second-ear is needed: the embedded engine alone gives three readings")
    return asked


def _pieces(grammar: Grammar, count: int, seed: int) -> list[str]:
    """Calls of the grammar, other phrases left out."""
    drawn = material.phrases(grammar, 20 * count, seed=seed)
    return [text for text in drawn if isinstance(meaning_of(grammar, text), Call)][:count]


def _heard(row: Ported, clip: Clip) -> Utterance:
    row.engine.begin()
    row.engine.feed(clip.clean, clip.raw)
    result = row.engine.finish(READINGS_WITH_SECOND_EAR)
    return Utterance(0, 1, 1, result.hypotheses, result.confidence)


def _tables(said: dict[str, list[Twice]], grammar: Grammar) -> tuple[list[str], list[dict[str, object]]]:
    lines = ["the right name among the readings of one saying, percent [95 %]"]
    lines.append(f"{'condition':14} {'n':>4} {'first':>15} {'in 3':>15} {'in 8':>15}")
    data: list[dict[str, object]] = []
    for name, some in said.items():
        ranks = Counter(_rank(each.second, meaning_of(grammar, each.text)) for each in some)
        n = len(some)
        counts = [sum(ranks[place] for place in range(most)) for most in (1, 3, 8)]
        lines.append(f"{name:14} {n:4d} " + " ".join(f"{share(count, n):>15}" for count in counts))
        data.append({"condition": name, "n": n, **dict(zip(("first", "in_3", "in_8"), counts, strict=True))})
    lines.append("both doubtful, by how much the earlier saying counts")
    lines.append(f"{'earlier':14} {'n':>4} {'first':>15} {'in 3':>15}  mean log p of the right name")
    doubtful = [each for some in said.values() for each in some if each.both_doubtful]
    for earlier in _EARLIER:
        settings = PairingSettings(earlier_saying=earlier)
        weighed = [(each, together(each.first, each.second, settings)) for each in doubtful]
        places = [_rank(both, meaning_of(grammar, each.text)) for each, both in weighed]
        first, in_3 = sum(place < 1 for place in places), sum(place < 3 for place in places)
        n, surprise = len(places), _mean_log(weighed, grammar)
        lines.append(f"{earlier:<14} {n:4d} {share(first, n):>15} {share(in_3, n):>15}  {surprise:.2f}")
        data.append({"earlier": earlier, "n": n, "first": first, "in_3": in_3, "mean_log": surprise})
    return lines, data


def _rank(heard: Utterance, meant: object) -> int:
    """The place of the right reading, 0 the best; past the last when it is not there."""
    places = [place for place, each in enumerate(heard.hypotheses) if each.meaning == meant]
    return places[0] if places else READINGS_WITH_SECOND_EAR


def _mean_log(weighed: list[tuple[Twice, Utterance]], grammar: Grammar) -> float:
    """Mean natural log of the probability given to what was said; a reading not there counts 0.001."""
    total = 0.0
    for each, both in weighed:
        meant = meaning_of(grammar, each.text)
        given = [reading.probability or 0.0 for reading in both.hypotheses if reading.meaning == meant]
        total += log(max([0.001, *given]))
    return total / max(1, len(weighed))


if __name__ == "__main__":
    main()
