"""Carries out typed words through the typed-words engine: the keyboard in place of the microphone."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

from handsfree.clock import NS_PER_S
from handsfree.config import Config
from handsfree.ledger.sqlite_store import open_ledger
from handsfree.merging import SoundStep
from handsfree.speech.hearing import Listener
from handsfree.speech.inspection import Trial, try_phrase
from handsfree.speech.messages import RATE_HZ, SpeechPart
from handsfree.speech.typed import TypedRecogniser, encode
from handsfree.wiring import words
from handsfree.wiring.replaying import Watch
from handsfree.wiring.workplace import Occasion, workplace

#: Typed phrases follow each other at the pace of speech.
_PACE_NS = 2 * NS_PER_S


def say(phrases: list[str], config: Config, ledger: Path | None, watch: Watch) -> list[Trial]:
    """What each phrase means; with a ledger, the phrases are carried out in it.

    Raises:
        GrammarError: A grammar file has faults.
        LedgerError: The ledger cannot be used.
    """
    vocabulary = words.vocabulary(config)
    trials = [try_phrase(vocabulary, phrase) for phrase in phrases]
    if ledger is None:
        return trials
    store = open_ledger(ledger)
    try:
        listener = Listener(TypedRecogniser(), vocabulary.listening())
        occasion = Occasion("typed", datetime.now(UTC), "typed words")
        place = workplace(
            config,
            store,
            vocabulary,
            occasion,
            scales=config.scales,
            listener=listener,
            overheard=watch.utterance,
        )
        for number, trial in enumerate(trials):
            for outcome in place.recorder.take(_spoken(trial.text, number)):
                watch.outcome(outcome, place.replies.to(outcome))
        for outcome in place.recorder.finish("end of the typed words"):
            watch.outcome(outcome, place.replies.to(outcome))
    finally:
        store.close()
    return trials


def _spoken(text: str, number: int) -> SoundStep:
    samples = encode(text)
    start_ns = (number + 1) * _PACE_NS
    end_ns = start_ns + len(samples) * NS_PER_S // RATE_HZ
    part = SpeechPart(start_ns, samples, first=True, last=True, end_ns=end_ns)
    return SoundStep(end_ns, (part,))
