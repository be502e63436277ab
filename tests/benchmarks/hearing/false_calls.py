"""How often real talk, with no scale beside it, is taken for a call or a command.

Run: `python tests/benchmarks/hearing/false_calls.py [--half test] [--json FILE] [--second-ear FOLDER]
[--talk FOLDER] [--only ROW]`.
Data: HANDSFREE_REAL_DATA/speech, people ordering drinks; the development half trained the gate, the
test half did not. With --talk the sound files of that folder instead, which nothing was chosen on.
The whole sound path but the scale: denoised, endpointed, recognised against the
shipped listening grammar, gated with the shipped thresholds. "Insisted" are commands the gate
refuses that are heard as the same twice running within the time in which the recorder believes them. The
bound is the one-sided 95 % upper limit of a Poisson rate.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import material
from backgrounds import recordings_in
from cuts import cuts
from engines import Heard, in_use, rows
from intervals import most_per_hour
from sound_store import Clip
from tally import options, show

from handsfree.pairing.insisting import Insisting
from handsfree.pairing.settings import PairingSettings
from handsfree.speech.meaning import Command
from handsfree.speech.messages import RATE_HZ, Refusal, Utterance
from handsfree.speech.parser import hypothesis
from handsfree.speech.timeline import NS_PER_SAMPLE
from handsfree.testing.shipped_words import shipped_vocabulary


def main() -> None:
    """Print the table."""
    parser = options(__doc__)
    parser.add_argument("--talk", metavar="FOLDER", help="other talk: sound files at 16 kHz")
    parser.add_argument("--only", metavar="ROW", default="", help="rows whose name holds this")
    asked = parser.parse_args()
    found, notes = rows(asked.second_ear)
    found = [row for row in found if asked.only in row.name]
    in_use(found, shipped_vocabulary().listening())
    other = recordings_in(Path(asked.talk)) if asked.talk else ()
    track = material.talk_track(asked.half, recordings=other)
    hours = len(track.clean) / RATE_HZ / 3600
    segments = [
        (said.first, cut) for said in track.said for cut in cuts(track.clean[said.first : said.after])
    ]
    short = [(start, cut) for start, cut in segments if not cut.too_long]
    long = len(segments) - len(short)
    lines = [f"{60 * hours:.1f} min of talk, {len(segments)} segments, {long} of them too long"]
    data = []
    for row in found:
        heard = [
            row.hear(Clip("", cut.samples, track.raw[start + cut.first : start + cut.after]))
            for start, cut in short
        ]
        calls = [one for one in heard if one.taken and not one.readings[0].startswith("ledger")]
        commands = [one for one in heard if one.taken and one.readings[0].startswith("ledger")]
        insisted = said_twice([(start + cut.first, start + cut.after) for start, cut in short], heard)
        for name, some in (("calls", calls), ("commands", commands), ("insisted", insisted)):
            lines.append(
                f"{row.name:20} {name:9} {len(some):3d}, {len(some) / hours:7.1f} an hour, "
                f"95 % upper bound {most_per_hour(len(some), hours):7.1f}"
            )
            data.append({"row": row.name, "kind": name, "taken": len(some), "hours": hours})
        surest = sorted(heard, key=lambda one: -one.confidence)[:3]
        lines += [f"    surest: {one.confidence:.3f} {one.readings[:1]}" for one in surest]
    show(asked, lines, data, notes)


def said_twice(places: Sequence[tuple[int, int]], heard: Sequence[Heard]) -> list[Command]:
    """The refused commands that pairing would carry out, being heard alike twice.

    Args:
        places: First sample of each segment, and the one after its last.
        heard: What was made of them.
    """
    grammar = shipped_vocabulary().listening()
    insisting = Insisting(PairingSettings())
    found = []
    for (first, after), one in zip(places, heard, strict=True):
        readings = tuple(hypothesis(grammar, text, 0.0) for text in one.readings if grammar.contains(text))
        start_ns, end_ns = first * NS_PER_SAMPLE, after * NS_PER_SAMPLE
        refusal = None if one.taken else Refusal.NOT_LIKE_SPEECH_WE_KNOW
        utterance = Utterance(start_ns, end_ns, end_ns, readings, one.confidence, refusal)
        if one.taken:
            insisting.forget()
        elif (command := insisting.again(utterance)) is not None:
            found.append(command)
    return found


if __name__ == "__main__":
    main()
