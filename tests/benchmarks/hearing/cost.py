"""What hearing costs: start, memory, and processor time of each stage over the length of the sound.

Run: `python tests/benchmarks/hearing/cost.py [--json FILE]`. One development voice says 20 phrases in
fan noise at 10 dB; nothing is asserted, processor time is what one core spends whatever else runs.
"""

from __future__ import annotations

import resource
import time
from collections.abc import Callable

import material
import numpy as np
from cuts import cuts
from tally import options, show

from handsfree.speech.denoise_deepfilter import DeepFilterDenoiser
from handsfree.speech.denoise_spectral import SpectralDenoiser
from handsfree.speech.messages import RATE_HZ, Samples
from handsfree.speech.pocketsphinx_decoders import (
    INITIAL_CMN,
    MeanListener,
    PhoneDecoder,
    PhraseDecoder,
    SphinxDecoder,
    base_dictionary,
)
from handsfree.speech.pocketsphinx_engine import PocketSphinxRecogniser
from handsfree.speech.ports import Denoiser
from handsfree.testing.making_sound import in_blocks
from handsfree.testing.shipped_words import shipped_lexicon, shipped_vocabulary


def _took(work: Callable[[], object]) -> float:
    began = time.process_time()
    work()
    return time.process_time() - began


def _through(denoiser: Denoiser, raw: Samples) -> None:
    for block in in_blocks(raw):
        denoiser.feed(block)


def _decode(decoder: SphinxDecoder, sound: Samples) -> None:
    decoder.begin(INITIAL_CMN)
    decoder.feed(sound)
    decoder.end()


def _memory_mb() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def main() -> None:
    """Print the table."""
    asked = options(__doc__).parse_args()
    grammar = shipped_vocabulary().listening()
    voice = material.voices("development")[0]
    track = material.phrases_track(
        material.phrases(grammar, 20, seed=3), voice, "made fridge fan", 10, half="development"
    )
    length_s = len(track.raw) / RATE_HZ
    before_mb = _memory_mb()
    strong: list[Denoiser] = []
    start = {"denoiser": _took(lambda: strong.append(DeepFilterDenoiser()))}
    lexicon = shipped_lexicon(base_dictionary())
    engines: list[PocketSphinxRecogniser] = []

    def make() -> None:
        engines.append(PocketSphinxRecogniser(lexicon))
        engines[0].use(grammar)

    start["engine"] = _took(make)
    stages = {
        "denoise, strong": _took(lambda: _through(strong[0], track.raw)),
        "denoise, gentle": _took(lambda: _through(SpectralDenoiser(), track.raw)),
    }
    segments = [cut.samples for cut in cuts(track.clean)]
    stages["endpoint"] = _took(lambda: cuts(track.clean))
    words = {word: lexicon.pronunciations(word) for word in grammar.words()}
    mean, phrases, phones = MeanListener(), PhraseDecoder(), PhoneDecoder()
    phrases.learn(words)
    phrases.use(grammar)
    for name, decoder in (("mean", mean), ("best reading", phrases), ("phones", phones)):
        stages[name] = sum(_took(lambda d=decoder, s=sound: _decode(d, s)) for sound in segments)  # type: ignore[misc]
    after_s = []
    for sound in segments:
        engines[0].begin()
        engines[0].feed(sound)
        after_s.append(_took(lambda: engines[0].finish(3)))
    stages["rivals and gate"] = max(0.0, sum(after_s) - stages["best reading"] - stages["phones"])
    total = sum(stages.values())
    speech_s = sum(map(len, segments)) / RATE_HZ
    lines = [f"{length_s:.0f} s of sound, {speech_s:.0f} s of it in {len(segments)} segments"]
    lines += [f"start of the {name}: {seconds:.2f} s" for name, seconds in start.items()]
    lines.append(f"memory at its highest: {_memory_mb():.0f} MB, of it {before_mb:.0f} before any engine")
    lines += [
        f"{name:16} {seconds / length_s:.4f} of the sound, {100 * seconds / total:4.1f} % of all"
        for name, seconds in stages.items()
    ]
    lines.append(f"{'together':16} {total / length_s:.4f}")
    median, p95 = np.quantile(after_s, [0.5, 0.95])
    lines.append(f"after the end of a segment: median {median:.2f} s, p95 {p95:.2f} s")
    show(asked, lines, {"stages_s": stages, "length_s": length_s, "start_s": start}, [])


if __name__ == "__main__":
    main()
