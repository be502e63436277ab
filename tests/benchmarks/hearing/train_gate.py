"""Trains the rejection gate and writes its coefficients, with held-out figures. Minutes of work.

Run: `python tests/benchmarks/hearing/train_gate.py [--again] [--write]`. Right readings of phrases by
the development voices in noise, and of real people's words with half of the words listed, count as
right. Wrong readings, real talk, real words against the shipped grammar, and real words against the
list that lacks them ("unlisted") count as wrong. Held out: other voices, other noises, other
people. HANDSFREE_REAL_DATA gives noise, talk and words.
"""

from __future__ import annotations

import pickle
import sys
import tempfile
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path

import material
import numpy as np
from scipy.optimize import minimize
from scipy.special import expit

import handsfree.speech
from handsfree.speech.evidence import FIGURES
from handsfree.speech.gate import GATE_FILE, Gate
from handsfree.speech.grammar import Grammar
from handsfree.speech.messages import Samples
from handsfree.speech.pocketsphinx_decoders import base_dictionary
from handsfree.speech.pocketsphinx_engine import PocketSphinxRecogniser
from handsfree.testing.shipped_words import shipped_lexicon, shipped_vocabulary

#: What was gathered, so that `--again` fits without listening for minutes.
_KEPT = Path(tempfile.gettempdir(), "handsfree-gate-evidence.pickle")

SNRS_DB = (40, 20, 10, 5)
PHRASES = 36
_PENALTY = 0.02
"""Weight of the squared coefficients: enough to keep seven correlated figures from fighting."""
_BLANK = Gate(0.0, *((0.0,) * len(FIGURES) for _ in range(2)), (1.0,) * len(FIGURES),
              *((0.0,) * len(FIGURES) for _ in range(2)))  # fmt: skip


@dataclass
class Seen:
    """Evidence and whether the reading was right, by condition."""

    figures: list[tuple[float, ...]]
    right: list[bool]
    condition: list[str]
    empty: dict[str, int]

    def add(self, engine: PocketSphinxRecogniser, sound: Samples, text: str, condition: str) -> None:
        engine.begin()
        engine.feed(sound)
        recognition = engine.finish(1)
        if engine.evidence is None or not recognition.hypotheses:
            self.empty[condition] = self.empty.get(condition, 0) + 1
            return
        self.figures.append(engine.evidence.figures())
        self.right.append(recognition.hypotheses[0].text == text)
        self.condition.append(condition)


def gather(half: int) -> Seen:
    grammar = shipped_vocabulary().listening()
    side = material.HALVES[half]
    voices, noises = material.voices(side), list(material.noises(side).values())
    seen = Seen([], [], [], {})
    lexicon = shipped_lexicon(base_dictionary())
    for number, voice in enumerate(voices):
        for step, snr_db in enumerate(SNRS_DB):
            engine = PocketSphinxRecogniser(lexicon, _BLANK)
            engine.use(grammar)
            texts = material.phrases(grammar, PHRASES, seed=100 * half + 10 * number + step)
            noise = noises[(number + step) % len(noises)]
            for clip in material.phrases_track(
                texts, voice, noise, snr_db, half=side, seed=number * 7 + step
            ).clips():
                seen.add(engine, clip.clean, clip.text, f"{snr_db} dB")
            print(f"{voice} {snr_db} dB {noise}: done", file=sys.stderr)
    engine = PocketSphinxRecogniser(lexicon, _BLANK)
    engine.use(grammar)
    for sound in material.talk(side):
        seen.add(engine, sound, "", "talk")
    clips = material.words(side)
    for clip in clips:
        # "seven" and the other numbers are no calls by themselves; "right" and "no" are none either.
        seen.add(engine, clip.clean, "", "words")
    listed = sorted({clip.text for clip in clips})[::2]
    engine.use(Grammar.from_phrases("half of the words", listed))
    for clip in clips:
        seen.add(engine, clip.clean, clip.text, "listed" if clip.text in listed else "unlisted")
    return seen


def train(seen: Seen) -> Gate:
    figures, right = np.array(seen.figures), np.array(seen.right)
    lowest, highest = np.quantile(figures, [0.01, 0.99], axis=0)
    held = np.clip(figures, lowest, highest)
    centres, scales = held.mean(axis=0), held.std(axis=0) + 1e-9
    scaled = (held - centres) / scales
    weight = _weights(seen)

    def cost(at: np.ndarray) -> float:
        chance = np.clip(expit(at[0] + scaled @ at[1:]), 1e-9, 1 - 1e-9)
        lost = -np.sum(weight * np.where(right, np.log(chance), np.log(1 - chance)))
        return float(lost + _PENALTY * np.mean(at[1:] ** 2))

    found = minimize(cost, np.zeros(1 + len(FIGURES)), method="BFGS").x
    return Gate(
        float(found[0]), *(tuple(map(float, row)) for row in (found[1:], centres, scales, lowest, highest))
    )


def _weights(seen: Seen) -> np.ndarray:
    """Right and wrong readings weigh the same in sum; so does each source of sound within them."""
    source = np.array(["voices" if name.endswith("dB") else name for name in seen.condition])
    right = np.array(seen.right)
    weight = np.zeros(len(right))
    for outcome in (True, False):
        sources = set(source[right == outcome])
        for name in sources:
            here = (right == outcome) & (source == name)
            weight[here] = 0.5 / len(sources) / here.sum()
    return weight


def chances(gate: Gate, seen: Seen) -> np.ndarray:
    held = np.clip(np.array(seen.figures), gate.lowest, gate.highest)
    return expit(gate.intercept + (held - gate.centres) / gate.scales @ np.array(gate.weights))


def table(gate: Gate, seen: Seen, threshold: float = 0.5) -> list[str]:
    """Right kept, wrong passed and refused, by condition, in percent of all clips."""
    chance, right, condition = chances(gate, seen), np.array(seen.right), np.array(seen.condition)
    rows = []
    for name in dict.fromkeys([*seen.condition, *seen.empty]):
        here = condition == name
        clips = int(here.sum()) + seen.empty.get(name, 0)
        kept = 100 * float((right & here & (chance >= threshold)).sum()) / clips
        passed = 100 * float((~right & here & (chance >= threshold)).sum()) / clips
        ungated = 100 * float((right & here).sum()) / clips
        rows.append(
            f"{name:>8}: n {clips:4d}  right {kept:5.1f}  wrong {passed:5.1f}  "
            f"refused {100 - kept - passed:5.1f}  (without gate: right {ungated:5.1f}, "
            f"some phrase {100 * here.sum() / clips:5.1f})"
        )
    return rows


def text_of(gate: Gate, notes: list[str]) -> str:
    lines = [
        "# The rejection gate of the embedded engine: a logistic weighing of what speaks for a reading.",
        "# Written by tests/benchmarks/hearing/train_gate.py --write; not by hand.",
        *(f"# {note}" for note in notes),
        "",
        f"intercept = {gate.intercept:.5f}",
    ]
    for row in zip(FIGURES, gate.weights, gate.centres, gate.scales, gate.lowest, gate.highest, strict=True):
        names = ("weight", "centre", "scale", "lowest", "highest")
        lines += [
            "",
            f"[{row[0]}]",
            *(f"{name} = {value:.5f}" for name, value in zip(names, row[1:], strict=True)),
        ]
    return "\n".join(lines) + "\n"


def main() -> None:
    if _KEPT.exists() and "--again" in sys.argv:
        development, held_out = pickle.loads(_KEPT.read_bytes())  # noqa: S301 - written below
    else:
        with ProcessPoolExecutor(2) as pool:
            development, held_out = pool.map(gather, (0, 1))
        _KEPT.write_bytes(pickle.dumps((development, held_out)))
    gate = train(development)
    notes = ["Development, threshold 0.5, percent of clips:", *table(gate, development)]
    notes += ["Held out (other voices, noises, recordings), threshold 0.5:", *table(gate, held_out)]
    text = text_of(gate, notes)
    print(text)
    for threshold in (0.3, 0.7, 0.9):
        print(f"held out at {threshold}", *table(gate, held_out, threshold), sep="\n")
    if "--write" in sys.argv:
        Path(handsfree.speech.__file__).with_name(GATE_FILE).write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
