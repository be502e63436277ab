"""Right, wrong and refused phrases in noise: the whole chain here against the library as it comes.

Run: `python tests/benchmarks/hearing/recognition.py [phrases a voice]`. Held-out synthetic voices say
phrases of the shipped listening grammar in real noise (HANDSFREE_REAL_DATA); every phrase is cut out
at its true place, so endpointing is not measured. "ours": DeepFilterNet denoiser, our settings, gate
at 0.5. "plain": the noisy sound into PocketSphinx with its defaults, the same grammar and
pronunciations, no gate; a result that is no whole phrase counts as refused. Percent of all phrases;
"in 3" is how often the phrase is among the three readings, refused or not. Synthetic voices guide
choices; they are no field accuracy.
"""

from __future__ import annotations

import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

import material
from pocketsphinx import Decoder

from handsfree.speech.grammar import Grammar
from handsfree.speech.jsgf import to_jsgf
from handsfree.speech.messages import RATE_HZ
from handsfree.speech.pocketsphinx_decoders import base_dictionary
from handsfree.speech.pocketsphinx_engine import PocketSphinxRecogniser
from handsfree.testing.shipped_words import shipped_lexicon, shipped_vocabulary

SNRS_DB = (40, 20, 10, 5)
THRESHOLD = 0.5


class Plain:
    """PocketSphinx as its guide sets it up for a grammar."""

    def __init__(self, grammar: Grammar) -> None:
        with tempfile.TemporaryDirectory() as folder:
            words, rules = Path(folder, "words.dict"), Path(folder, "rules.jsgf")
            words.write_text(shipped_lexicon(base_dictionary()).dictionary_text(grammar.words()))
            rules.write_text(to_jsgf(grammar))
            self._decoder = Decoder(dict=str(words), jsgf=str(rules), loglevel="FATAL")

    def hear(self, clip: material.Clip) -> str:
        self._decoder.start_utt()
        self._decoder.process_raw(clip.raw.tobytes(), full_utt=True)
        self._decoder.end_utt()
        best = self._decoder.hyp()
        return best.hypstr if best else ""


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 24
    grammar = shipped_vocabulary().listening()
    lexicon = shipped_lexicon(base_dictionary())
    plain = Plain(grammar)
    voices = material.voices("test")
    print(
        f"{count} phrases by each of {', '.join(map(str, voices))}; noises "
        f"{list(material.noises('test').values())}"
    )
    print("                               ours                          plain")
    print("   noise               SNR     right wrong refused   in 3    right wrong refused")
    spent_s = after_s = sound_s = 0.0
    clips_heard = 0
    for noise in material.noises("test").values():
        for snr_db in SNRS_DB:
            ours: Counter[str] = Counter()
            theirs: Counter[str] = Counter()
            clips_here = 0
            for number, voice in enumerate(voices):
                engine = PocketSphinxRecogniser(lexicon)
                engine.use(grammar)
                texts = material.phrases(grammar, count, seed=1_000 + number)
                for clip in material.phrases_track(
                    texts, voice, noise, snr_db, half="test", seed=number
                ).clips():
                    began = time.process_time()
                    engine.begin()
                    engine.feed(clip.clean)
                    fed = time.process_time()
                    heard = engine.finish(3)
                    spent_s += fed - began
                    after_s += time.process_time() - fed
                    sound_s += len(clip.clean) / RATE_HZ
                    found = [reading.text for reading in heard.hypotheses]
                    taken = bool(found) and heard.confidence >= THRESHOLD
                    outcome = "right" if found[:1] == [clip.text] else "wrong"
                    ours[outcome if taken else "refused"] += 1
                    ours["in 3"] += clip.text in found
                    text = plain.hear(clip)
                    whole = grammar.contains(text)
                    said = "right" if text == clip.text else "wrong"
                    theirs[said if whole else "refused"] += 1
                    clips_here += 1
            share = 100 / clips_here
            clips_heard += clips_here
            print(
                f"{noise:>20} {snr_db:4d} dB  "
                f"{ours['right'] * share:6.1f} {ours['wrong'] * share:5.1f} "
                f"{ours['refused'] * share:7.1f} "
                f"{ours['in 3'] * share:6.1f}   "
                f"{theirs['right'] * share:6.1f} {theirs['wrong'] * share:5.1f} "
                f"{theirs['refused'] * share:7.1f}",
                flush=True,
            )
    print(
        f"processor time of the engine: {spent_s / sound_s:.3f} of the sound while it is spoken, "
        f"{1000 * after_s / clips_heard:.0f} ms a phrase after it (three readings)"
    )


if __name__ == "__main__":
    main()
