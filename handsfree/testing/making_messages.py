"""Short ways to make messages in tests: utterances from meanings, load changes from grams."""

from __future__ import annotations

from dataclasses import replace

from handsfree.clock import from_seconds
from handsfree.mass import MG_PER_G
from handsfree.speech.meaning import Answer, Call, Command, Meaning, Side, Verb
from handsfree.speech.messages import Hypothesis, Refusal, Utterance
from handsfree.weighing.messages import LoadChange, Plateau

D_MG = 5 * MG_PER_G


def call(cut: str, side: str = "", count: int = 1, destination: str | None = None) -> Call:
    """A call of a piece."""
    return Call(cut, Side(side) if side else None, count, destination)


def text_of(meaning: Meaning) -> str:
    """Words that stand for a meaning in a test."""
    match meaning:
        case Call():
            return meaning.words()
        case Command():
            return f"ledger {meaning.verb.value}"
        case Answer():
            return meaning.value


def utterance(
    end_s: float,
    meaning: Meaning,
    *rivals: Meaning,
    seconds_long: float = 0.8,
    confidence: float = 0.98,
    refusal: Refusal | None = None,
) -> Utterance:
    """An utterance that ended at `end_s`; heard 0.3 s later. Rivals score 0.01 a frame less each."""
    hypotheses = tuple(
        Hypothesis(text_of(each), each, -1.0 - 0.01 * rank) for rank, each in enumerate((meaning, *rivals))
    )
    return Utterance(
        start_ns=from_seconds(end_s - seconds_long),
        end_ns=from_seconds(end_s),
        heard_ns=from_seconds(end_s + 0.3),
        hypotheses=hypotheses,
        confidence=confidence,
        refusal=refusal,
    )


def refused(end_s: float, *readings: tuple[Meaning, float]) -> Utterance:
    """An utterance the gate refused, with each reading and its probability, likeliest first."""
    said = utterance(
        end_s, readings[0][0], confidence=readings[0][1], refusal=Refusal.NOT_LIKE_SPEECH_WE_KNOW
    )
    found = tuple(Hypothesis(text_of(meaning), meaning, 0.0, chance) for meaning, chance in readings)
    return replace(said, hypotheses=found)


def command(end_s: float, verb: Verb, **arguments: object) -> Utterance:
    """A spoken command that ended at `end_s`."""
    return utterance(end_s, Command(verb, **arguments))  # type: ignore[arg-type]


def plateau(t_s: float, grams: float, scale: str = "bench", d_mg: int = D_MG) -> Plateau:
    """A settled load; `t_s` is when it was reported."""
    value_mg = round(grams * MG_PER_G)
    return Plateau(
        scale=scale,
        start_ns=from_seconds(t_s - 0.5),
        end_ns=from_seconds(t_s),
        value_mg=value_mg,
        text=f"{grams / 1000:.3f} kg",
        spread_mg=0,
        count=5,
        u_mg=d_mg / 12**0.5,
        d_mg=d_mg,
    )


def load(
    t_s: float, before_g: float, after_g: float, scale: str = "bench", onset_s: float | None = None
) -> LoadChange:
    """A load change reported at `t_s`, a second after it began unless said otherwise."""
    before, after = plateau(t_s - 2, before_g, scale), plateau(t_s, after_g, scale)
    return LoadChange(
        scale=scale,
        onset_ns=from_seconds(t_s - 1 if onset_s is None else onset_s),
        t_ns=from_seconds(t_s),
        before=before,
        after=after,
        delta_mg=after.value_mg - before.value_mg,
        u_mg=(before.u_mg**2 + after.u_mg**2) ** 0.5,
    )
