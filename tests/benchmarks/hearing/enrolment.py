"""What reading a voice in is worth, and what it costs when somebody else speaks.

Run: `python tests/benchmarks/hearing/enrolment.py [development|test] [phrases to test, 20]`.

Every installed synthetic voice of the half reads the phrases of `handsfree voice add`, in quiet and a tenth
slower than it calls, and its model is worked out as it is for a user; then other phrases of the shipped
grammar, none of them taught, are heard by the model as it comes and by the voice's own, in quiet, in pink
noise at 10 dB and in the half's fan at 5 dB; and by the model moved to the next voice of the half (another
person at the microphone). "unseen": phrases with a word that was not taught. Brackets hold the 95 %
interval (Wilson 1927). No gate: the best reading is right or wrong. The last table takes the first two
quiet phrases of each voice and asks which of the half's voices speaks.

Synthetic voices say the same word the same way every time, so the gain is what a person would get at
best. Recordings of real people hold too few words of one speaker to teach a model.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass, replace
from math import sqrt
from pathlib import Path

import material
from halves import Half
from reading_in import own_store, read_in

from handsfree.config import Config
from handsfree.speech.acoustic_files import MEANS_FILE, read_acoustic_model, read_means
from handsfree.speech.acoustic_model import AcousticModel, log_likelihood
from handsfree.speech.choosing_voice import choice
from handsfree.speech.enrolment_phrases import phrases_to_read, split
from handsfree.speech.messages import Samples
from handsfree.speech.pocketsphinx_alignment import Aligner
from handsfree.speech.pocketsphinx_decoders import MeanListener, PhraseDecoder, base_dictionary, model_folder
from handsfree.testing.rehearsal.voices import Voice
from handsfree.testing.shipped_words import shipped_lexicon, shipped_vocabulary

Z = 1.96


@dataclass(frozen=True)
class Said:
    text: str
    sound: Samples


class Ear:
    """The engine's best reading with a model: the pass that decides, without rivals and gate."""

    def __init__(self, adapted: Path | None) -> None:
        grammar = shipped_vocabulary().listening()
        lexicon = shipped_lexicon(base_dictionary())
        self._decoder = PhraseDecoder(adapted)
        self._decoder.learn({word: lexicon.pronunciations(word) for word in grammar.words()})
        self._decoder.use(grammar)
        self._mean = MeanListener(adapted)

    def right(self, said: Said) -> bool:
        self._mean.begin()
        self._mean.feed(said.sound)
        self._mean.end()
        self._decoder.begin(self._mean.mean())
        self._decoder.feed(said.sound)
        self._decoder.end()
        return self._decoder.text() == said.text


def wilson(right: int, of: int) -> str:
    if not of:
        return "   -            "
    share, spread = right / of, Z * Z / of
    middle = (share + spread / 2) / (1 + spread)
    half = Z * sqrt(share * (1 - share) / of + spread / (4 * of)) / (1 + spread)
    return f"{100 * share:5.1f} [{100 * (middle - half):3.0f},{100 * (middle + half):4.0f}]"


def said(texts: list[str], voice: Voice, source: str, snr_db: float, half: Half, seed: int) -> list[Said]:
    track = material.phrases_track(texts, voice, source, snr_db, half=half, seed=seed)
    return [Said(clip.text, clip.clean) for clip in track.clips()]


def who_speaks(
    quiet: dict[Voice, list[Said]], models: dict[Voice, AcousticModel], base: AcousticModel
) -> None:
    print(
        "\nWho speaks, from two quiet phrases, marks in log likelihood per frame over the model as it comes:"
    )
    aligner = Aligner(shipped_lexicon(base_dictionary()), base.phones)
    for voice in quiet:
        pair = [each for each in (aligner.align(s.sound, s.text) for s in quiet[voice][:2]) if each]
        found = {
            str(other): sum(
                (log_likelihood(model, each.alignment) - log_likelihood(base, each.alignment))
                / len(each.alignment.states)
                for each in pair
            )
            / max(1, len(pair))
            for other, model in models.items()
        }
        others = {name: mark for name, mark in found.items() if name != str(voice)}
        text = ", ".join(f"{name} {mark:+.2f}" for name, mark in found.items())
        print(f"  {voice!s:28} chosen: {choice(found)}; when not read in: {choice(others)}   ({text})")
    aligner.close()


def main() -> None:
    half: Half = "development" if sys.argv[1:2] == ["development"] else "test"
    count = int(sys.argv[2]) if len(sys.argv) > 2 else 20
    grammar = shipped_vocabulary().listening()
    base = read_acoustic_model(model_folder() / "en-us")
    reading = phrases_to_read(shipped_vocabulary())
    teaching = [reading[place] for place in split(reading).teaching]
    taught = {word for text in teaching for word in text.split()}
    tested = [p for p in material.phrases(grammar, count + 40, seed=7_000) if p not in teaching][:count]
    voices = material.voices(half)
    fan = material.noises(half)["fan"]
    conditions = {"quiet": ("pink", 40.0), "pink 10 dB": ("pink", 10.0), f"{fan} 5 dB": (fan, 5.0)}
    unseen = sum(not set(text.split()) <= taught for text in tested)
    print(
        f"{half} half: {', '.join(map(str, voices))}; {len(teaching)} phrases taught, "
        f"{len(tested)} others tested ({unseen} with a word not taught)"
    )
    ours: dict[Voice, Path | None] = {}
    models: dict[Voice, AcousticModel] = {}
    quiet: dict[Voice, list[Said]] = {}
    for voice in voices:
        ours[voice] = own_store().voice(read_in(voice, Config())).adapted
        own = ours[voice]
        models[voice] = replace(base, means=read_means(own / MEANS_FILE)) if own is not None else base
    totals: dict[tuple[str, str], list[int]] = {}
    head = "".join(f"{each:>20}" for each in ("as it comes", "own", "own, unseen", "another's"))
    print(f"\n{'':44}{head}")
    for number, voice in enumerate(voices):
        ears = {
            "as it comes": Ear(None),
            "own": Ear(ours[voice]),
            "another's": Ear(ours[voices[(number + 1) % len(voices)]]),
        }
        for condition, (source, snr_db) in conditions.items():
            clips = said(tested, voice, source, snr_db, half, 400 + number)
            if condition == "quiet":
                quiet[voice] = clips
            line = ""
            marks = {name: [ear.right(each) for each in clips] for name, ear in ears.items()}
            new = [not set(each.text.split()) <= taught for each in clips]
            marks["own, unseen"] = [ok for ok, is_new in zip(marks["own"], new, strict=True) if is_new]
            for name in ("as it comes", "own", "own, unseen", "another's"):
                right, of = sum(marks[name]), len(marks[name])
                total = totals.setdefault((condition, name), [0, 0])
                total[0] += right
                total[1] += of
                line += f"{wilson(right, of):>20}"
            print(f"{voice!s:28}{condition:16}{line}", flush=True)
    for condition in conditions:
        line = "".join(
            f"{wilson(*totals[condition, name]):>20}"
            for name in ("as it comes", "own", "own, unseen", "another's")
        )
        print(f"{'all, n = ' + str(totals[condition, 'own'][1]):28}{condition:16}{line}")
    who_speaks(quiet, models, base)


if __name__ == "__main__":
    main()
