"""How well and how fast the front end works: endpoint hits in real noise, real-time factor a stage.

Run: `python tests/benchmarks/hearing/front_end.py`. Real words (people saying single words, both
ends of the clip quiet) in real noise from HANDSFREE_REAL_DATA. A hit is a word that lies whole in
one segment; a false segment touches no word. The real-time factor is processor time over sound
time of each stage alone, on one thread, so that other work on the machine does not count.
"""

import random
import time
from dataclasses import dataclass

from handsfree.speech.denoise_deepfilter import DeepFilterDenoiser
from handsfree.speech.denoise_none import NoDenoiser
from handsfree.speech.denoise_spectral import SpectralDenoiser
from handsfree.speech.endpointing import Endpointer
from handsfree.speech.energy_activity import EnergyActivity
from handsfree.speech.messages import AudioBlock, SpeechPart
from handsfree.speech.ports import Denoiser, VoiceActivityDetector
from handsfree.speech.voice_activity import SileroVoiceActivity
from handsfree.testing.making_sound import in_blocks
from handsfree.testing.words_in_noise import WordsInNoise, place, real_data, whole_words

NOISES = (
    "running_tap",
    "doing_the_dishes",
    "exercise_bike",
    "home_vacuuming_0",
    "home_dishwasher_0",
    "pink_noise",
)
WORDS = 40


@dataclass
class Score:
    hits: int
    false: int
    words: int
    lateness_s: float
    """Median time from a word's end to the sample at which its segment is over."""


def score(sound: WordsInNoise, parts: list[SpeechPart]) -> Score:
    segments: list[tuple[int, int]] = []
    samples = 0
    for part in parts:
        samples = len(part.samples) if part.first else samples + len(part.samples)
        if part.last and not part.too_long:
            segments.append((part.start_ns, part.start_ns + samples * 62_500))
    late = sorted(
        (end - word.end_ns) / 1e9
        for word in sound.words
        for start, end in segments
        if start <= word.start_ns and end >= word.end_ns
    )
    false = sum(
        not any(start < word.end_ns and end > word.start_ns for word in sound.words)
        for start, end in segments
    )
    return Score(len(late), false, len(sound.words), late[len(late) // 2] if late else float("nan"))


def run(
    blocks: list[AudioBlock], denoiser: Denoiser, detector: VoiceActivityDetector
) -> tuple[list[SpeechPart], float, float]:
    """Parts of speech, seconds spent denoising, seconds spent endpointing."""
    begun = time.thread_time()
    clean = [out for block in blocks for out in denoiser.feed(block)] + denoiser.flush()
    denoised = time.thread_time()
    endpointer = Endpointer(detector)
    parts = [part for block in clean for part in endpointer.feed(block)] + endpointer.flush()
    return parts, denoised - begun, time.thread_time() - denoised


def main() -> None:
    data = real_data()
    clips = whole_words(data / "words")
    random.Random(4).shuffle(clips)
    print(f"{WORDS} of {len(clips)} whole words of {data}/words, seed 4")
    for snr_db in (20, 10, 5):
        for noise in NOISES:
            sound = place(clips[:WORDS], data / "noise" / f"{noise}.wav", snr_db)
            blocks = in_blocks(sound.samples)
            length_s = len(sound.samples) / 16_000
            for denoiser in (NoDenoiser(), SpectralDenoiser(), DeepFilterDenoiser()):
                for detector in (SileroVoiceActivity(), EnergyActivity()):
                    parts, denoise_s, endpoint_s = run(blocks, denoiser, detector)
                    found = score(sound, parts)
                    print(
                        f"{snr_db:3} dB {noise:18} {denoiser.name:10} {type(detector).__name__:20}"
                        f" hits {found.hits:3}/{found.words} false {found.false:3}"
                        f" over after {found.lateness_s:.2f} s"
                        f" rtf denoise {denoise_s / length_s:.3f} endpoint {endpoint_s / length_s:.3f}",
                        flush=True,
                    )


if __name__ == "__main__":
    main()
