"""Real people's single words against a closed list of twenty, clean, in noise and in a room.

Run: `python tests/benchmarks/hearing/people.py [--half test] [--noises pink,fan] [--levels 20,10,5]
[--every N] [--json FILE] [--second-ear FOLDER]`. The list is the twenty core words of Speech Commands
(P. Warden, arXiv:1804.03209, 2018; recordings CC BY 4.0), many people and microphones; the recordings
carry their own rooms' noise besides. "off list" are words the list lacks: there, rejected is right.
"""

from __future__ import annotations

import sys

import material
from engines import in_use, rows
from evidence_seen import CORE
from halves import ROOMS
from sound_store import Clip
from tally import Tally, options, show

from handsfree.speech.grammar import Grammar


def main() -> None:
    """Print the table."""
    parser = options(__doc__)
    parser.add_argument("--noises", default="pink,fan")
    parser.add_argument("--levels", default="20,10,5", help="dB, with commas between")
    parser.add_argument("--every", type=int, default=1, help="only every Nth recording")
    asked = parser.parse_args()
    found, notes = rows(asked.second_ear)
    in_use(found, Grammar.from_phrases("core words", CORE))
    sources = material.noises(asked.half)
    clips: dict[str, list[Clip]] = {}
    alone = material.words(asked.half)[:: asked.every]
    clips["clean"] = [clip for clip in alone if clip.text in CORE]
    clips["off list"] = [clip for clip in alone if clip.text not in CORE]
    for kind in asked.noises.split(","):
        for snr in asked.levels.split(","):
            track = material.words_track(asked.half, sources[kind], float(snr), only=CORE)
            clips[f"{kind} {snr} dB"] = track.clips()[:: asked.every]
    room = material.words_track(asked.half, sources["pink"], 40, room=ROOMS[asked.half], only=CORE)
    clips["room, no noise"] = room.clips()[:: asked.every]
    tally, off = Tally("single words, closed list of 20"), Tally("words that the list lacks")
    for name, some in clips.items():
        for clip in some:
            for row in found:
                (off if name == "off list" else tally).add(row.name, name, clip.text, row.hear(clip))
        print(f"{name}: done", file=sys.stderr, flush=True)
    show(asked, [*tally.lines(), *off.lines()], tally.data() + off.data(), notes)


if __name__ == "__main__":
    main()
