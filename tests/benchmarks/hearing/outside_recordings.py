"""An outside check on recordings published with PocketSphinx: playing cards, and a novel read aloud.

Run: `python tests/benchmarks/hearing/outside_recordings.py`, after `apt-get install
pocketsphinx-testdata` (Debian; LibriVox is in the public domain). Five real people's clips of cards are
heard against some two thousand phrases of their grammar, clean and in the development half's noises;
five sentences of a novel must not be taken for a call. So few clips only show gross faults.
"""

from __future__ import annotations

import sys
from itertools import product
from pathlib import Path

import material
import numpy as np
import soundfile
from backgrounds import active_rms, noise
from cuts import cuts
from engines import in_use, rows
from sound_store import Clip
from tally import Tally, options, show

from handsfree.speech.grammar import Grammar
from handsfree.testing.shipped_words import shipped_vocabulary

DATA = Path("/usr/share/pocketsphinx/test/data")
RANKS = "ace two three four five six seven eight nine ten jack queen king lady"
SUITS = "clubs hearts diamonds spades"


def card_phrases() -> list[str]:
    """One card, two ranks, a rank and a card; and the one phrase of three cards that is said."""
    ranks, suits = RANKS.split(), SUITS.split()
    cards = [f"{rank}{of} {suit}" for rank, of, suit in product(ranks, (" of", ""), suits)]
    two = [f"{rank} {other}" for rank, other in product(ranks, [*ranks, *cards])]
    return [*cards, *two, "eight of spades four of clubs seven of hearts"]


def spoken(folder: str, files: str, texts: str) -> list[tuple[str, np.ndarray]]:
    """(text, sound) of a folder of the package."""
    names = (DATA / folder / files).read_text().split()
    lines = (DATA / folder / texts).read_text().splitlines()
    said = [line.split("<s>")[1].split("</s>")[0].strip() for line in lines]
    return [
        (text, soundfile.read(DATA / folder / f"{name}.wav", dtype="float64")[0])
        for name, text in zip(names, said, strict=True)
    ]


def main() -> None:
    """Print the figures."""
    asked = options(__doc__).parse_args()
    if not DATA.is_dir():
        print(f"no recordings in {DATA}: apt-get install pocketsphinx-testdata", file=sys.stderr)
        return
    found, notes = rows(asked.second_ear)
    in_use(found, Grammar.from_phrases("cards", card_phrases()))
    tally = Tally("cards, five clips")
    for kind, snr_db in (("pink", 40), ("pink", 10), ("fan", 10)):
        for text, sound in spoken("cards", "cards.fileids", "cards.transcription"):
            quiet = np.concatenate([np.zeros(16_000), sound * (0.08 / active_rms(sound)), np.zeros(8_000)])
            source = material.noises("development")[kind]
            mixed = quiet + noise(source, len(quiet), 1, "development") * 0.08 * 10 ** (-snr_db / 20)
            track = material.sounds_track([(text, (np.clip(mixed, -1, 1) * 32767).astype(np.int16))])
            clip = track.clips()[0]
            at = slice(12_000, len(clip.clean) - 4_000)
            for row in found:
                heard = row.hear(Clip(text, clip.clean[at], clip.raw[at]))
                tally.add(row.name, f"{kind} {snr_db} dB", text, heard)
    in_use(found, shipped_vocabulary().listening())
    novel = material.sounds_track(
        [
            (text[:20], (np.clip(sound, -1, 1) * 32767).astype(np.int16))
            for text, sound in spoken("librivox", "fileids", "transcription")
        ]
    )
    segments = [cut for cut in cuts(novel.clean) if not cut.too_long]
    lines = tally.lines()
    for row in found:
        heard_all = [row.hear(Clip("", cut.samples, novel.raw[cut.first : cut.after])) for cut in segments]
        taken = sum(one.taken for one in heard_all)
        lines.append(f"{row.name:20} novel: {taken} of {len(segments)} segments taken for a call or command")
    show(asked, lines, tally.data(), notes)


if __name__ == "__main__":
    main()
