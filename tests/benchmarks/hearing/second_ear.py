"""Trains the second ear's weights, and measures what the ear adds and costs. Minutes of work.

Run: `python tests/benchmarks/hearing/second_ear.py MODEL [--after MODEL] [--read-in]
[--train | --write | --test] [--kept] [CONDITION ...]`. MODEL is the folder of a Whisper model converted
for CTranslate2, or of a Moonshine model, which as a third ear comes `--after` the model of the second.
Without an option the development half is measured; `--train` fits the weights on that half and shows
them, `--write` also stores them; `--test` measures the half that nothing was chosen on. Real people's
single words are heard against a closed list of 20 (Speech Commands); phrases are the listening grammar's
by synthetic voices in real and made noise, cut at their true places; talk and words that are on no list
should be refused. With `--read-in` the voices that say the phrases were read in, which has weights of its
own. What was gathered is kept beside the tracks, so that fitting again takes seconds; `--kept` listens to
nothing new, and CONDITION limits it to conditions that begin so.
"""

from __future__ import annotations

import pickle
import sys
import time
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path

import numpy as np
from ear_material import units
from halves import Half
from reading_in import own_store, read_in
from scipy.optimize import minimize, minimize_scalar
from scipy.special import expit, logit, logsumexp
from sound_store import folder

sys.path.insert(0, str(Path(__file__).parents[1] / "reconciliation"))

from calibration import expected_calibration_error, reliability

import handsfree.speech
from handsfree.config import Config
from handsfree.speech.fusion import (
    BELIEF_FIGURES,
    RANK_FIGURES,
    Column,
    Fusion,
    Reading,
    fusion_file,
    packaged_fusion,
)
from handsfree.speech.messages import RATE_HZ, Samples
from handsfree.speech.pocketsphinx_decoders import base_dictionary
from handsfree.speech.pocketsphinx_engine import PocketSphinxRecogniser
from handsfree.speech.ports import Recogniser, Recognition
from handsfree.speech.token_model import Ear
from handsfree.speech.two_ears import FIRST_READINGS, READINGS, TwoEars
from handsfree.testing.rehearsal.voices import Voice
from handsfree.testing.shipped_words import shipped_lexicon
from handsfree.wiring.hearing import ear_of, with_ears
from handsfree.wiring.voices import of_voice

THRESHOLD = 0.5
_PENALTY = 0.02
"""Weight of the squared coefficients, as in train_gate.py."""
_BLANK = Fusion((1.0, *(0.0,) * (len(RANK_FIGURES) - 1)), 0.0, (Column(0.0, 0.0, 0.0),) * len(BELIEF_FIGURES))


@dataclass
class Heard:
    """One clip as both engines see it."""

    condition: str
    text: str
    """What was said; empty when it was none of the phrases."""
    first: tuple[str, ...]
    first_confidence: float
    readings: tuple[Reading, ...]
    freely: float
    first_ms: float
    """Processor time after the end of the sound."""
    ear_ms: float


class Kept:
    """An engine with its last result kept for the table, and no result settled: the ear is always asked."""

    def __init__(self, engine: Recogniser) -> None:
        self._engine = engine
        self.name, self.missing_words = engine.name, engine.missing_words
        self.use, self.begin, self.feed = engine.use, engine.begin, engine.feed
        self.last = Recognition((), 0.0)
        self.spent_ms = 0.0

    def finish(self, alternatives: int = 3) -> Recognition:
        began = time.thread_time()  # the ears work meanwhile, in threads of their own
        self.last = replace(self._engine.finish(alternatives), settled=False)
        self.spent_ms = 1000 * (time.thread_time() - began)
        return self.last


def gather(
    half: Half, ear: Ear, after: Sequence[Ear], only: Sequence[str], *, kept: bool, own: bool = False
) -> list[Heard]:
    """The half as both engines hear it; each unit is kept on disk when it is done.

    Args:
        half: Which half.
        ear: The ear that is measured.
        after: The ear before it, if it is a third.
        only: Conditions that begin with one of these; all when empty.
        kept: Leave out what is not on disk yet.
        own: With the voices read in.
    """
    folder().mkdir(parents=True, exist_ok=True)
    lexicon = shipped_lexicon(base_dictionary())

    @lru_cache(1)
    def engine(voice: Voice | None) -> tuple[TwoEars, Kept]:
        embedded = PocketSphinxRecogniser(lexicon)
        if voice:
            embedded = of_voice(
                own_store().voice(read_in(Voice(voice.program, voice.name), Config())), lexicon
            )
        first = Kept(with_ears(Kept(embedded), *after) if after else embedded)
        readings = READINGS if after else FIRST_READINGS
        return TwoEars(first, ear, _BLANK, first_readings=readings), first

    found: list[Heard] = []
    for unit in sorted(units(half, own=own), key=lambda unit: str(unit.voice or "")):
        names = "-".join(each.name for each in (*after, ear))
        name = f"{half}-{names}-{unit.condition}-{unit.who}".replace(" ", "_").replace("/", "_")
        file = folder() / f"second-ear-{'own-' if own else ''}{name}.pickle"
        if only and not unit.condition.startswith(tuple(only)):
            continue
        if not file.exists():
            if kept:
                continue
            both, first = engine(unit.voice)
            both.use(unit.grammar)
            heard = [_heard(both, first, unit.condition, *clip) for clip in unit.clips()]
            file.write_bytes(pickle.dumps(heard))
        found += pickle.loads(file.read_bytes())  # noqa: S301 - written above
    return found


def _heard(both: TwoEars, first: Kept, condition: str, text: str, clean: Samples, captured: Samples) -> Heard:
    both.begin()
    both.feed(clean, captured)
    began = time.process_time()
    both.finish(3)
    spent_ms = 1000 * (time.process_time() - began)
    weighed = both.weighed
    return Heard(
        condition,
        text,
        tuple(reading.text for reading in first.last.hypotheses),
        first.last.confidence,
        weighed.readings if weighed else (),
        weighed.freely if weighed else 0.0,
        first.spent_ms,
        spent_ms - first.spent_ms,
    )


def train(heard: list[Heard]) -> Fusion:
    """Rank weights by conditional logit, then the confidence by a logistic on what the ranks chose.

    Tags teach the order, as phrases among others: digits may be repeated, and without them a long reading
    comes to be worth too much. They do not teach the confidence.
    """
    rank = _rank_weights(heard)
    ranked = Fusion(rank, 0.0, _BLANK.belief)
    figures, right, source = [], [], []
    for clip in heard:
        if clip.readings and not clip.condition.startswith("tags "):
            ordered = ranked.ordered(clip.readings)
            figures.append(ranked.belief_in(ordered, clip.first_confidence, clip.freely).figures())
            right.append(ordered[0].text == clip.text)
            source.append(clip.condition.split()[0] if clip.text else clip.condition)
    intercept, columns = _belief_weights(np.array(figures), np.array(right), np.array(source))
    return Fusion(rank, intercept, columns)


def trained(heard: list[Heard], packaged: Fusion, *, own: bool) -> Fusion:
    """The weights by what was heard: all of them, or what a voice that was read in adds to the intercept."""
    if not own:
        return replace(train(heard), own_voice=packaged.own_voice)
    return replace(packaged, own_voice=_own_voice(heard, packaged))


def _own_voice(heard: list[Heard], packaged: Fusion) -> float:
    """What the log odds gain where the voice was read in, by maximum likelihood over all clips but tags.

    Weights of their own were worse: fitted to four of the five voices of the development half, with the
    second ear, the log probability of what the fifth said was -0.38, with the packaged ones -0.33, with
    those and this one figure more -0.26.
    """
    odds, right = [], []
    for clip in heard:
        if clip.readings and not clip.condition.startswith("tags "):
            ordered = packaged.ordered(clip.readings)
            belief = packaged.belief_in(ordered, clip.first_confidence, clip.freely)
            odds.append(logit(packaged.confidence(belief)))
            right.append(ordered[0].text == clip.text)
    at, was = np.array(odds), np.array(right)

    def cost(gain: float) -> float:
        return float(np.sum(np.logaddexp(0, at + gain) - was * (at + gain)))

    return float(minimize_scalar(cost, bounds=(-3, 3), method="bounded").x)


def _rank_weights(heard: list[Heard]) -> tuple[float, ...]:
    clips = [clip for clip in heard if clip.text in [reading.text for reading in clip.readings]]
    tables = [np.array([reading.figures() for reading in clip.readings]) for clip in clips]
    places = [[reading.text for reading in clip.readings].index(clip.text) for clip in clips]
    scales = np.concatenate(tables).std(axis=0) + 1e-9
    kinds = [clip.condition.split()[0].replace("tags", "phrases") for clip in clips]
    share = [1.0 / kinds.count(kind) for kind in kinds]

    def cost(at: np.ndarray) -> float:
        lost = 0.0
        for table, place, weight in zip(tables, places, share, strict=True):
            worth = table / scales @ at
            lost += weight * (logsumexp(worth) - worth[place])
        return float(lost + _PENALTY * np.mean(at**2))

    found = minimize(cost, np.zeros(len(RANK_FIGURES)), method="BFGS").x
    return tuple(float(weight) for weight in found / scales)


def _belief_weights(
    figures: np.ndarray, right: np.ndarray, source: np.ndarray
) -> tuple[float, tuple[Column, ...]]:
    """Right and wrong readings weigh the same in sum; so does each source of sound within them."""
    weight = np.zeros(len(right))
    for outcome in (True, False):
        names = sorted(set(source[right == outcome]))
        for name in names:
            here = (right == outcome) & (source == name)
            weight[here] = 0.5 / len(names) / here.sum()
    lowest, highest = np.quantile(figures, [0.01, 0.99], axis=0)
    held = np.clip(figures, lowest, highest)
    scales = held.std(axis=0) + 1e-9

    def cost(at: np.ndarray) -> float:
        chance = np.clip(expit(at[0] + held / scales @ at[1:]), 1e-9, 1 - 1e-9)
        lost = -np.sum(weight * np.where(right, np.log(chance), np.log(1 - chance)))
        return float(lost + _PENALTY * np.mean(at[1:] ** 2))

    found = minimize(cost, np.zeros(1 + figures.shape[1]), method="BFGS").x
    columns = zip(found[1:] / scales, lowest, highest, strict=True)
    return float(found[0]), tuple(Column(*map(float, column)) for column in columns)


def table(heard: list[Heard], fusion: Fusion) -> list[str]:
    """Right, wrong and refused at a confidence of 0.5, percent of the clips, first engine and both."""
    rows = ["                            n    first engine            ear alone   both"]
    rows.append(
        "                                right wrong refused best  best        right wrong refused best"
    )
    names = list(dict.fromkeys(clip.condition for clip in heard))
    groups = {"all words in noise": "words ", "all phrases": "phrases ", "all tags": "tags "}
    for name in [*names, *groups]:
        start = groups.get(name)
        clips = [
            c for c in heard if (c.condition == name if start is None else c.condition.startswith(start))
        ]
        clips = [c for c in clips if start is None or "dB" in c.condition]
        one = [_outcome(c.first[:1], c.first_confidence, c.text) for c in clips]
        both = [_outcome(*_fused(c, fusion), c.text) for c in clips]
        share = 100 / max(1, len(clips))
        ear = sum(bool(c.readings) and max(c.readings, key=lambda r: r.ear).text == c.text for c in clips)
        first_best = sum(c.first[:1] == (c.text,) for c in clips)
        both_best = sum(_fused(c, fusion)[0] == (c.text,) for c in clips)
        columns = [share * side.count(kind) for side in (one, both) for kind in ("right", "wrong", "refused")]
        rows.append(
            f"{name:>24} {len(clips):5d}   {columns[0]:6.1f}{columns[1]:6.1f}{columns[2]:7.1f}"
            f"{share * first_best:7.1f} {share * ear:5.1f}        {columns[3]:6.1f}{columns[4]:6.1f}"
            f"{columns[5]:7.1f}{share * both_best:6.1f}"
        )
    spent = np.array([(clip.first_ms, clip.ear_ms) for clip in heard])
    middle, late = np.quantile(spent, [0.5, 0.95], axis=0)
    rows.append(
        f"processor time after the word, median and 95 %: first engine {middle[0]:.0f} and {late[0]:.0f} ms, "
        f"the ears {middle[1]:.0f} and {late[1]:.0f} ms more"
    )
    return rows


def calibration(heard: list[Heard], fusion: Fusion) -> str:
    """How far the confidence in phrases is from how often they are right, over ten bins of equal width."""
    sure, right = [], []
    for clip in heard:
        if clip.condition.startswith("phrases "):
            texts, confidence = _fused(clip, fusion)
            sure.append(confidence)
            right.append(texts == (clip.text,))
    if not sure:
        return "no phrase"
    off = expected_calibration_error(reliability(sure, right, [1.0] * len(sure), np.linspace(0, 1, 11)))
    return (
        f"of {len(sure)} phrases the confidence was {100 * np.mean(sure):.1f} % on average, "
        f"{100 * np.mean(right):.1f} % right, expected calibration error {100 * off:.1f} %"
    )


def off_list(heard: list[Heard], fusion: Fusion) -> list[str]:
    """How sure the best readings of what was no phrase got: what a threshold must lie above."""
    off = [_fused(clip, fusion) for clip in heard if not clip.text]
    commands = [sure for texts, sure in off if texts and texts[0].startswith("ledger")]
    calls = [sure for texts, sure in off if texts and not texts[0].startswith("ledger")]
    call, command = max(calls, default=0.0), max(commands, default=0.0)
    return [f"of {len(off)} that were no phrase the surest call reached {call:.3f}, command {command:.3f}"]


def _fused(clip: Heard, fusion: Fusion) -> tuple[tuple[str, ...], float]:
    if not clip.readings:
        return (), 0.0
    ordered = fusion.ordered(clip.readings)
    belief = fusion.belief_in(ordered, clip.first_confidence, clip.freely)
    return (ordered[0].text,), fusion.confidence(belief)


def _outcome(found: tuple[str, ...], confidence: float, text: str) -> str:
    if not found or confidence < THRESHOLD:
        return "refused"
    return "right" if found == (text,) else "wrong"


def notes_of(text: str) -> list[list[str]]:
    """The two lists of notes in a data file: beside the model as it comes, and beside the speaker's own."""
    blocks = text.split("\n\n")
    remarks = [[line[2:] for line in block.splitlines() if line.startswith("# ")] for block in blocks]
    found = [lines for lines in remarks if lines]
    return [found[0][2:], found[1] if len(found) > 1 else []]


def text_of(fusion: Fusion, notes: list[str], own_notes: list[str]) -> str:
    """The data file."""
    lines = [
        "# Weights of the second ear beside the embedded engine: an order of readings, and a confidence.",
        "# Written by tests/benchmarks/hearing/second_ear.py --write; not by hand.",
        *(f"# {note}" for note in notes),
        "",
        "[rank]",
        *(f"{name} = {value:.5f}" for name, value in zip(RANK_FIGURES, fusion.rank, strict=True)),
        "",
        "[belief]",
        f"intercept = {fusion.intercept:.5f}",
        "",
        *(f"# {note}" for note in own_notes),
        f"own_voice = {fusion.own_voice:.5f}",
    ]
    for name, column in zip(BELIEF_FIGURES, fusion.belief, strict=True):
        lines += [
            "",
            f"[belief.{name}]",
            f"weight = {column.weight:.5f}",
            f"lowest = {column.lowest:.5f}",
            f"highest = {column.highest:.5f}",
        ]
    return "\n".join(lines) + "\n"


def main() -> None:
    began_s, before = time.perf_counter(), _resident_mb()
    ear = ear_of(Path(sys.argv[1]))
    load_s = time.perf_counter() - began_s
    ear.listen(np.zeros(3 * RATE_HZ, np.int16))
    print(f"{ear.name}: loaded in {load_s:.2f} s, {_resident_mb() - before:.0f} MB with its library")
    half: Half = "test" if "--test" in sys.argv else "development"
    only = [argument for argument in sys.argv[2:] if not argument.startswith("--")]
    after = [ear_of(Path(folder)) for folder in _option("--after")]
    only = [each for each in only if each not in _option("--after")]
    own = "--read-in" in sys.argv
    heard = gather(half, ear, after, only, kept="--kept" in sys.argv, own=own)
    kinds = (ear.kind, after[0].kind if after else "")
    training = bool({"--train", "--write"} & set(sys.argv))
    packaged = packaged_fusion(*kinds)
    fusion = trained(heard, packaged, own=own) if training else packaged
    weighed = fusion.beside_own_voice() if own else fusion
    rows = [*table(heard, weighed), *off_list(heard, weighed), calibration(heard, weighed)]
    print(f"{half} half, threshold {THRESHOLD}, percent of clips", *rows, sep="\n")
    if training:
        file = Path(handsfree.speech.__file__).with_name(fusion_file(*kinds))
        notes = notes_of(file.read_text(encoding="utf-8"))
        notes[own] = ["Development half, threshold 0.5, percent of clips:", *rows]
        text = text_of(fusion, *notes)
        print(text)
        if "--write" in sys.argv:
            file.write_text(text, encoding="utf-8")


def _option(name: str) -> list[str]:
    """The value after this option, in a list; an empty list without it."""
    return [sys.argv[sys.argv.index(name) + 1]] if name in sys.argv else []


def _resident_mb() -> float:
    pages = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[1])
    return pages * 4096 / 1e6


if __name__ == "__main__":
    # What is kept is read again by name: the name must not depend on how this was started.
    sys.modules["second_ear"] = sys.modules["__main__"]
    Heard.__module__ = "second_ear"
    main()
