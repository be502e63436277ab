"""Our measure of speech level against the active speech level of ITU-T P.56 (method B).

Run: `python tests/benchmarks/hearing/speech_level.py`. The benchmark sets its signal-to-noise ratios by
RMS where the speech is within 30 dB of its loudest 20 ms; this prints how far that is from P.56 on
the development half's voices and real people's words, so that the ratios can be read in P.56 terms.
"""

from __future__ import annotations

import material
import numpy as np
from backgrounds import active_rms

from handsfree.speech.active_level import ActiveLevel
from handsfree.speech.messages import Samples
from handsfree.testing.rehearsal.voices import speak
from handsfree.testing.shipped_words import shipped_vocabulary


def apart_db(sound: Samples) -> float | None:
    """Our level minus that of P.56, decibels."""
    meter = ActiveLevel()
    meter.feed(sound)
    active = meter.active_db
    ours = 20 * np.log10(active_rms(sound.astype(np.float64) / 32768))
    return None if active is None else float(ours - active)


def main() -> None:
    """Print the differences."""
    grammar = shipped_vocabulary().listening()
    texts = material.phrases(grammar, 10, seed=1)
    sounds = {
        str(voice): [np.tile(speak(text, voice), 2) for text in texts]
        for voice in material.voices("development")
    }
    sounds["real people's words"] = [clip.raw for clip in material.words("development")[::10]]
    for name, some in sounds.items():
        found = [apart for sound in some if (apart := apart_db(sound)) is not None]
        print(f"{name:36} ours - P.56: mean {np.mean(found):+.2f} dB, SD {np.std(found):.2f}, n {len(found)}")


if __name__ == "__main__":
    main()
