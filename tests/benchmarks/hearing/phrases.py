"""Phrases of the shipped grammar by synthetic voices in noise: right, wrong, rejected.

Run: `python tests/benchmarks/hearing/phrases.py [--half test] [--phrases N] [--noises pink,fan]
[--json FILE] [--second-ear FOLDER] [--read-in]`. Each voice of the half says N other phrases in every
condition. With --read-in the engine has each voice's own model, as `handsfree voice add` makes it from
phrases read in quiet, and none of those is asked.
Phrases are cut out at their true place, so endpointing is not in these figures (endpoints.py has it).
WER is jiwer's word error of the best reading, rejected or not. Synthetic voices guide choices; they
are no field accuracy.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence

import material
import reading_in
from engines import Row, in_use, rows
from halves import ROOMS, SEED
from tally import Tally, options, show

from handsfree.config import Config
from handsfree.testing.rehearsal.voices import Voice
from handsfree.testing.shipped_words import shipped_vocabulary


def main() -> None:
    """Print the tables."""
    parser = options(__doc__)
    parser.add_argument("--phrases", type=int, default=6, help="a voice and condition")
    parser.add_argument("--noises", default="", help="only these, with commas between")
    parser.add_argument("--read-in", action="store_true", help="each voice has a model of its own")
    asked = parser.parse_args()
    grammar = shipped_vocabulary().listening()
    spoken_by = material.voices(asked.half)
    read, notes, by_speaker = _rows(asked, spoken_by)
    for found in by_speaker.values():
        in_use(found, grammar)
    sources = material.noises(asked.half)
    kinds = asked.noises.split(",") if asked.noises else list(sources)
    conditions = [("clean", sources["pink"], 40.0, "")]
    conditions += [
        (f"{kind} {snr} dB", sources[kind], float(snr), "") for kind in kinds for snr in (20, 10, 5)
    ]
    if not asked.noises:
        conditions.append(("room, no noise", sources["pink"], 40.0, ROOMS[asked.half]))
    by_noise = Tally("by noise and level of speech over noise")
    by_voice = Tally("by voice, all conditions together")
    for step, (name, source, snr_db, room) in enumerate(conditions):
        for number, voice in enumerate(spoken_by):
            seed = SEED[asked.half] + 900 + 20 * step + number
            drawn = material.phrases(grammar, asked.phrases + len(read), seed=seed)
            texts = [text for text in drawn if text not in read][: asked.phrases]
            track = material.phrases_track(
                texts, voice, source, snr_db, half=asked.half, seed=100 * step + number, room=room
            )
            for clip in track.clips():
                for row in by_speaker[voice]:
                    heard = row.hear(clip)
                    by_noise.add(row.name, name, clip.text, heard)
                    by_voice.add(row.name, clip.speaker, clip.text, heard)
        print(f"{name}: done", file=sys.stderr, flush=True)
    show(asked, [*by_noise.lines(), *by_voice.lines()], by_noise.data() + by_voice.data(), notes)


def _rows(
    asked: argparse.Namespace, spoken_by: Sequence[Voice]
) -> tuple[list[str], list[str], dict[Voice, Sequence[Row]]]:
    """The phrases that were read in, notes, and who is heard by what."""
    if not asked.read_in:
        found, notes = rows(asked.second_ear)
        return [], notes, dict.fromkeys(spoken_by, found)
    read = reading_in.phrases_read(Config())
    notes = [f"each voice has read {len(read)} phrases in, in quiet; none of them is asked here"]
    return read, notes, dict(reading_in.rows_of(spoken_by, asked.second_ear))


if __name__ == "__main__":
    main()
