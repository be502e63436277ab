"""Phrases of the shipped grammar by synthetic voices in noise: right, wrong, rejected.

Run: `python tests/benchmarks/hearing/phrases.py [--half test] [--phrases N] [--noises pink,fan]
[--json FILE] [--second-ear FOLDER]`. Each voice of the half says N other phrases in every condition.
Phrases are cut out at their true place, so endpointing is not in these figures (endpoints.py has it).
WER is jiwer's word error of the best reading, rejected or not. Synthetic voices guide choices; they
are no field accuracy.
"""

from __future__ import annotations

import sys

import material
from engines import in_use, rows
from halves import ROOMS, SEED
from tally import Tally, options, show

from handsfree.testing.shipped_words import shipped_vocabulary


def main() -> None:
    """Print the tables."""
    parser = options(__doc__)
    parser.add_argument("--phrases", type=int, default=6, help="a voice and condition")
    parser.add_argument("--noises", default="", help="only these, with commas between")
    asked = parser.parse_args()
    grammar = shipped_vocabulary().listening()
    found, notes = rows(asked.second_ear)
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
        for number, voice in enumerate(material.voices(asked.half)):
            texts = material.phrases(grammar, asked.phrases, seed=SEED[asked.half] + 900 + 20 * step + number)
            track = material.phrases_track(
                texts, voice, source, snr_db, half=asked.half, seed=100 * step + number, room=room
            )
            for clip in track.clips():
                for row in found:
                    heard = row.hear(clip)
                    by_noise.add(row.name, name, clip.text, heard)
                    by_voice.add(row.name, clip.speaker, clip.text, heard)
        print(f"{name}: done", file=sys.stderr, flush=True)
    show(asked, [*by_noise.lines(), *by_voice.lines()], by_noise.data() + by_voice.data(), notes)


if __name__ == "__main__":
    main()
