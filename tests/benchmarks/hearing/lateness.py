"""How long after the word its reading is there, on a machine that works as the sound comes in.

Run: `python tests/benchmarks/hearing/lateness.py [--half test] [--phrases N] [--second-ear FOLDER]
[--read-in] [--cores]`.
Voices of the half say N phrases each 0.8 s apart in fan noise at 10 dB. Each block of 20 ms is worked
through by denoiser, endpointer and engine for as much processor time as it takes, as on one core, or with
--cores for as long as it takes on this machine, whose cores the ears share (nothing else should run), with
the phones decoded in a process of their own, as live; a block that is not done when the next arrives keeps
it waiting. With --read-in each voice has a model of its own, and the ears wait until they are asked.
"Asked in the quiet" is as shipped: the engine begins after 0.15 s of quiet. "Asked at the end" waits until
the segment is known to be over. The answer's tone and the sound cards are not in it.
"""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Iterator

import material
import numpy as np
from engines import Ported, Row, rows
from halves import SEED
from reading_in import rows_of
from tally import options, show

from handsfree.clock import from_seconds
from handsfree.config import Config
from handsfree.speech.endpointing import Endpointer, EndpointSettings
from handsfree.speech.hearing import Listener, SpeechParts
from handsfree.speech.messages import RATE_HZ, Samples
from handsfree.speech.phones_apart import beside
from handsfree.speech.pocketsphinx_decoders import INITIAL_CMN, PhoneDecoder
from handsfree.speech.ports import Phones, Recogniser
from handsfree.speech.voice_activity import SileroVoiceActivity
from handsfree.testing.making_sound import in_blocks, tone
from handsfree.testing.shipped_words import shipped_vocabulary
from handsfree.wiring.hearing import denoiser

WAYS = {
    "asked in the quiet": EndpointSettings(),
    "asked at the end": EndpointSettings(pause_ns=from_seconds(10.0)),
}


def late_s(
    raw: Samples,
    engine: Recogniser,
    settings: EndpointSettings,
    clock_s: Callable[[], float],
    spent: list[float],
) -> Iterator[float]:
    """Seconds from the last voiced sample of each utterance to its reading; adds seconds spent."""
    parts = SpeechParts(denoiser(Config()), Endpointer(SileroVoiceActivity(), settings))
    listener = Listener(engine, shipped_vocabulary().listening())
    free_at_s = 0.0
    for block in in_blocks(raw):
        began = clock_s()
        found = [utterance for part in parts.feed(block) for utterance in listener.feed(part)]
        took_s = clock_s() - began
        free_at_s = max(free_at_s, block.end_ns / 1e9) + took_s
        spent.append(took_s)
        yield from (free_at_s - utterance.end_ns / 1e9 for utterance in found)


def _engine(row: Row) -> Recogniser:
    assert isinstance(row, Ported)
    return row.engine


def _until_loaded(phones: Phones) -> None:
    """Wait until the process has done all it was asked: live it has long loaded its models by then."""
    phones.listen(tone(0.5), INITIAL_CMN)
    phones.segments()


def main() -> None:
    """Print the table."""
    parser = options(__doc__)
    parser.add_argument("--phrases", type=int, default=6)
    parser.add_argument("--read-in", action="store_true", help="each voice with a model of its own")
    parser.add_argument("--cores", action="store_true", help="by the clock, on this machine's cores")
    asked = parser.parse_args()
    clock_s = time.perf_counter if asked.cores else time.process_time
    grammar = shipped_vocabulary().listening()
    voices = material.voices(asked.half)
    tracks = {
        voice: material.phrases_track(
            material.phrases(grammar, asked.phrases, seed=SEED[asked.half] + 900 + number),
            voice,
            material.noises(asked.half)["fan"],
            10,
            half=asked.half,
            seed=number,
        ).raw
        for number, voice in enumerate(voices)
    }
    length_s = sum(map(len, tracks.values())) / RATE_HZ
    process = beside() if asked.cores else None
    phones = process.phones if process else PhoneDecoder
    if asked.read_in:
        by_voice, notes = rows_of(voices, asked.second_ear, phones), []
    else:
        found, notes = rows(asked.second_ear, plain=False, phones=phones)
        by_voice = dict.fromkeys(voices, found)
    if process:
        _until_loaded(process.phones())
    lines, data = [], []
    for place, row in enumerate(by_voice[voices[0]]):
        for name, settings in WAYS.items():
            spent: list[float] = []
            late = [
                after
                for voice, raw in tracks.items()
                for after in late_s(raw, _engine(by_voice[voice][place]), settings, clock_s, spent)
            ]
            median, p95 = np.quantile(late, [0.5, 0.95])
            lines.append(
                f"{row.name:20} {name:20} n {len(late):3d}  median {median:.2f} s  p95 {p95:.2f} s  "
                f"longest {max(late):.2f} s  busy {sum(spent) / length_s:.3f} of the time"
            )
            data.append({"row": row.name, "way": name, "median_s": median, "p95_s": p95, "n": len(late)})
    if process:
        process.close()
    cores = f"the {os.cpu_count()} cores of this machine" if asked.cores else "one core"
    show(asked, [f"{length_s:.0f} s of sound, {cores}", *lines], data, notes)


if __name__ == "__main__":
    main()
