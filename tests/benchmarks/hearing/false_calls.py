"""How often real talk, with no scale beside it, is taken for a call or a command.

Run: `python tests/benchmarks/hearing/false_calls.py [EVERY]`. Data: HANDSFREE_REAL_DATA/speech, people
ordering drinks (every EVERYth file, default all); part of it trained the gate, so the figure is no
held-out one. Prints the utterances the engine was surest of, and the rate an hour.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path

from handsfree.config import Config
from handsfree.speech.audio_file import AudioFile
from handsfree.speech.hearing import Listener, Thresholds
from handsfree.speech.messages import Utterance
from handsfree.wiring import hearing, words

ROOT = Path(__file__).resolve().parents[3]
REAL = Path(os.environ.get("HANDSFREE_REAL_DATA", ROOT.parent / "shared" / "real"))


def heard(listener: Listener, file: Path, config: Config) -> tuple[float, list[Utterance]]:
    """Length in seconds and the utterances of one recording."""
    source, first_half = AudioFile(file), hearing.speech_parts(config)
    parts = [part for block in source.blocks() for part in first_half.feed(block)] + first_half.flush()
    return source.duration_s, [utterance for part in parts for utterance in listener.feed(part)]


def main() -> None:
    """Print the table."""
    config = Config()
    engine = hearing.recogniser(config, words.lexicon(config))
    listener = Listener(engine, words.vocabulary(config).listening())
    every = int(sys.argv[1]) if len(sys.argv) > 1 else 1
    seconds, found = 0.0, []
    for file in sorted((REAL / "speech").glob("*.wav"))[::every]:
        length, utterances = heard(listener, file, config)
        seconds += length
        found += utterances
    found.sort(key=lambda utterance: -utterance.confidence)
    taken = sum(utterance.accepted for utterance in found)
    limits = Thresholds()
    print(f"{REAL / 'speech'}: {seconds / 60:.1f} min of talk, {len(found)} utterances, engine {engine.name}")
    print(f"taken for a call or command: {taken} ({taken / seconds * 3600:.1f} an hour), thresholds {limits}")
    for title, some in (
        ("surest of all", found),
        ("surest commands", [u for u in found if u.text.startswith("ledger")]),
    ):
        print(title)
        for utterance in some[:8]:
            print(f"  {utterance.confidence:.3f}  {utterance.text}")


if __name__ == "__main__":
    main()
