"""The whole sound path on a run of phrases: missed by the endpointer, right, wrong, rejected, and how late.

Run: `python tests/benchmarks/hearing/end_to_end.py [--half test] [--phrases N] [--levels 40,20,10,5]
[--noises pink,water] [--json FILE]`. Voices of the half speak N phrases 0.8 s apart in noise; denoised,
endpointed, recognised, gated. A phrase is missed when no segment holds it whole (0.05 s of slack);
"no phrase" counts segments that touch none. "over after" is the median time from the phrase's last
sample to the sample at which its segment ends; the processor time after that is the engine's.
"""

from __future__ import annotations

import sys
from collections import Counter
from statistics import median, quantiles

import material
from cuts import cuts
from engines import in_use, rows
from halves import SEED
from intervals import share
from sound_store import Clip
from tally import options, show

from handsfree.speech.messages import RATE_HZ
from handsfree.testing.shipped_words import shipped_vocabulary

_SLACK = RATE_HZ // 20


def main() -> None:
    """Print the table."""
    parser = options(__doc__)
    parser.add_argument("--phrases", type=int, default=6)
    parser.add_argument("--levels", default="40,20,10,5")
    parser.add_argument("--noises", default="pink,water,saw")
    asked = parser.parse_args()
    grammar = shipped_vocabulary().listening()
    found, notes = rows(asked.second_ear, plain=False)
    in_use(found, grammar)
    lines, data = [], []
    for kind in asked.noises.split(","):
        for snr in asked.levels.split(","):
            counts: dict[str, Counter[str]] = {row.name: Counter() for row in found}
            late_s: list[float] = []
            after_s: dict[str, list[float]] = {row.name: [] for row in found}
            for number, voice in enumerate(material.voices(asked.half)):
                texts = material.phrases(grammar, asked.phrases, seed=SEED[asked.half] + 700 + number)
                source = material.noises(asked.half)[kind]
                track = material.phrases_track(texts, voice, source, float(snr), half=asked.half, seed=number)
                segments = cuts(track.clean)
                for said in track.said:
                    whole = [
                        cut
                        for cut in segments
                        if cut.first <= said.first + _SLACK and cut.after >= said.after - _SLACK
                    ]
                    for row in found:
                        count = counts[row.name]
                        count["n"] += 1
                        if not whole or whole[0].too_long:
                            count["missed"] += 1
                            continue
                        cut = whole[0]
                        heard = row.hear(Clip(said.text, cut.samples, track.raw[cut.first : cut.after]))
                        right = heard.readings[:1] == (said.text,)
                        count["rejected" if not heard.taken else "right" if right else "wrong"] += 1
                        after_s[row.name].append(heard.after_s)
                    late_s += [(whole[0].after - said.after) / RATE_HZ] if whole else []
                touched = [
                    any(cut.first < s.after and cut.after > s.first for s in track.said) for cut in segments
                ]
                for row in found:
                    counts[row.name]["no phrase"] += touched.count(False)
            for name, count in counts.items():
                figures = "  ".join(
                    f"{what} {share(count[what], count['n'])}"
                    for what in ("missed", "right", "wrong", "rejected")
                )
                times = after_s[name]
                p95 = quantiles(times, n=20)[-1] if len(times) > 1 else float("nan")
                lines.append(
                    f"{name:15} {kind:7} {snr:>3} dB n {count['n']:3d}  {figures}  "
                    f"no phrase {count['no phrase']}  over after {median(late_s):.2f} s, "
                    f"engine {median(times):.2f} s (p95 {p95:.2f})"
                )
                data.append({"row": name, "noise": kind, "snr_db": float(snr), **count})
            print(f"{kind} {snr} dB: done", file=sys.stderr, flush=True)
    show(asked, lines, data, notes)


if __name__ == "__main__":
    main()
