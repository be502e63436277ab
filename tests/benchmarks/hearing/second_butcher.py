"""How a second butcher is heard who comes to the bench while another's voice is listened through.

Run: `python tests/benchmarks/hearing/second_butcher.py [development|test]`.

Every installed synthetic voice of the half is a butcher with a number, and a model is taught for it as
`handsfree voice add` would. Each says its own number ("ledger butcher two", "ledger butcher number two")
and four numbers nobody has, in pink noise at 40 and 10 dB, while the model as it comes or another's listens.
Told are the numbers right and taken (at or over the threshold of a command) and those taken for another
butcher, who would then be listened to. "alone": by the voice at the bench alone, only the numbers there are
allowed; "figures": the single figures too, so that a number nobody has is heard and answered; "vouched for":
as shipped, what it is not sure of also by the model as it comes and by the voice of whoever was called
(`handsfree/speech/bench_voices.py`). Brackets hold the 95 % interval (Wilson 1927). Then what a change of
voice takes.
"""

from __future__ import annotations

import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import material
from enrolment import said, taught_model, wilson
from halves import Half

from handsfree.speech.acoustic_files import MEANS_FILE, means_file, read_acoustic_model
from handsfree.speech.bench_voices import BenchRecogniser
from handsfree.speech.enrolment_phrases import phrases_to_read, split
from handsfree.speech.hearing import Thresholds
from handsfree.speech.meaning import Command, Verb
from handsfree.speech.messages import Samples
from handsfree.speech.numbers import words_for
from handsfree.speech.pocketsphinx_decoders import base_dictionary, model_folder
from handsfree.speech.pocketsphinx_engine import PocketSphinxRecogniser
from handsfree.speech.ports import Recogniser
from handsfree.testing.rehearsal.voices import Voice
from handsfree.testing.shipped_words import shipped_lexicon, shipped_vocabulary

NOISES_DB = (40.0, 10.0)
WAYS = ("alone", "figures", "vouched for")
PLAIN = "as it comes"
NOBODY = (6, 7, 8, 9)
"""Numbers nobody has: a half has five voices at most."""


def texts_of(number: int) -> dict[str, int]:
    """What a butcher says: the own number in two ways, and numbers nobody has."""
    own = words_for(Decimal(number))
    others = {f"ledger butcher {words_for(Decimal(each))}": each for each in NOBODY}
    return {f"ledger butcher {own}": number, f"ledger butcher number {own}": number} | others


def taken(engine: Recogniser, sound: Samples) -> int:
    """The number taken, 0 for none."""
    engine.begin()
    engine.feed(sound)
    recognition = engine.finish(3)
    meant = recognition.hypotheses[0].meaning if recognition.hypotheses else None
    if not isinstance(meant, Command) or meant.verb is not Verb.BUTCHER:
        return 0
    return meant.butcher if recognition.confidence >= Thresholds().least(meant) else 0


class Benches:
    """An engine for each voice at the bench."""

    def __init__(self, voices: list[Voice], half: Half, scratch: Path) -> None:
        self.numbers = {number: str(voice) for number, voice in enumerate(voices, 1)}
        shipped = shipped_vocabulary()
        commands = replace(shipped.commands, butchers=tuple(self.numbers))
        self.figures = replace(shipped, commands=commands).listening()
        closed = self.figures.without([f"command:butcher:{n}" for n in range(1, 10) if n not in self.numbers])
        assert closed is not None
        self.closed = closed
        lexicon = shipped_lexicon(base_dictionary())
        base = read_acoustic_model(model_folder() / "en-us")
        reading = phrases_to_read(shipped)
        teaching = [reading[place] for place in split(reading).teaching]
        self.engines: dict[str, Recogniser] = {PLAIN: PocketSphinxRecogniser(lexicon)}
        for number, voice in enumerate(voices, 1):
            folder = scratch / str(number)
            folder.mkdir()
            model = taught_model(voice, said(teaching, voice, "pink", 40.0, half, 300 + number), base)
            (folder / MEANS_FILE).write_bytes(means_file(model_folder() / "en-us", model.means))
            self.engines[str(voice)] = PocketSphinxRecogniser(lexicon, adapted=folder)
        plain = self.engines[PLAIN]
        self.bench = BenchRecogniser(plain, plain, self.engines.get, self.numbers)
        self.bench.use(self.figures)

    def heard(self, sound: Samples, way: str, speaker: str) -> Iterator[tuple[str, int]]:
        """Whose model listens, never the speaker's own, and the number taken."""
        for name, engine in self.engines.items():
            if name == speaker:
                continue
            whose = name if name == PLAIN else "another's"
            if way == "vouched for":
                self.bench.listen_to("" if name == PLAIN else name)
                yield whose, taken(self.bench, sound)
            else:
                engine.use(self.closed if way == "alone" else self.figures)
                yield whose, taken(engine, sound)

    def time_changes(self) -> float:
        """Milliseconds that a change of voice takes, once the voices are ready."""
        began, names = time.perf_counter(), list(self.numbers.values())
        for name in names * 5:
            self.bench.listen_to(name)
        return 1000 * (time.perf_counter() - began) / len(names * 5)


def main() -> None:
    half: Half = "test" if sys.argv[1:2] == ["test"] else "development"
    voices = material.voices(half)
    counts: Counter[tuple[str, ...]] = Counter()
    with tempfile.TemporaryDirectory() as scratch:
        benches = Benches(voices, half, Path(scratch))
        for number, voice in enumerate(voices, 1):
            texts = texts_of(number)
            for noise_db in NOISES_DB:
                for clip in said(list(texts), voice, "pink", noise_db, half, 500 + number):
                    meant = texts[clip.text]
                    for way in WAYS:
                        for whose, what in benches.heard(clip.sound, way, str(voice)):
                            key = (f"{noise_db:g} dB", way, whose)
                            counts[*key, "own"] += meant == number
                            counts[*key, "right"] += meant == number and what == number
                            counts[*key, "said"] += 1
                            counts[*key, "wrong"] += what != meant and what in benches.numbers
            print(f"  {voice}, butcher {number}, is heard", flush=True)
        print(f"a change of voice takes {benches.time_changes():.0f} ms")
    print(f"\n{half} half, {len(voices)} voices")
    print(f"{'noise':8}{'heard':14}{'model at the bench':20}{'right and taken':>22}{'for another':>22}")
    for noise, way, whose in dict.fromkeys(each[:3] for each in counts):
        key = (noise, way, whose)
        right = wilson(counts[*key, "right"], counts[*key, "own"])
        wrong = wilson(counts[*key, "wrong"], counts[*key, "said"])
        print(f"{noise:8}{way:14}{whose:20}{right:>22}{wrong:>22}")


if __name__ == "__main__":
    main()
