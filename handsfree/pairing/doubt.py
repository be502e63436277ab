"""What the gate refused and may have been meant all the same, beside a weight that waits. Pure.

The scale is the second gate: speech that alone is too doubtful to act on is likelier a call when a
weight has just been laid down for which no clear call has come.
"""

from __future__ import annotations

from handsfree.pairing.messages import Question
from handsfree.pairing.settings import PairingSettings
from handsfree.speech.meaning import Answer, Call, Command, Verb
from handsfree.speech.messages import Refusal, Utterance


def doubtful_call(utterance: Utterance, settings: PairingSettings) -> Call | None:
    """The call a refused utterance may have been, None when it is too unlikely to remember."""
    meaning = _meaning(utterance, settings.doubtful_least)
    return meaning if isinstance(meaning, Call) else None


def is_unsure(utterance: Utterance, settings: PairingSettings) -> bool:
    """Whether what the gate let through as a call may be a noise all the same: short, and none too sure."""
    short = utterance.end_ns - utterance.start_ns < settings.thud_longest_ns
    return short and utterance.accepted and utterance.confidence < settings.short_call_clear


def doubtful_tray(utterance: Utterance, settings: PairingSettings) -> Command | None:
    """The command that the load on the pan is the tray, when a refused utterance may have been that.

    It begins with the attention word, which talk has not, and "put that back" undoes it.
    """
    meaning = _meaning(utterance, settings.doubtful_tray)
    return meaning if isinstance(meaning, Command) and meaning.verb is Verb.TRAY else None


def possible_tray(utterance: Utterance, settings: PairingSettings) -> bool:
    """Whether a refused utterance was likelier the command for a tray than any other phrase: worth asking."""
    meaning = _meaning(utterance, settings.doubtful_least)
    return isinstance(meaning, Command) and meaning.verb is Verb.TRAY


def tray_among(utterance: Utterance, settings: PairingSettings) -> bool:
    """Whether "tray" is among the readings of what may have been a call.

    Of a load on a bare pan that is likelier than the sound alone says.
    """
    return any(
        isinstance(each.meaning, Command)
        and each.meaning.verb is Verb.TRAY
        and (each.probability or 0.0) >= settings.tray_among
        for each in utterance.hypotheses
    )


def doubtful_command(utterance: Utterance, settings: PairingSettings) -> Command | None:
    """The command a refused utterance may have been, None when it is too unlikely to remember."""
    meaning = _meaning(utterance, settings.doubtful_command)
    return meaning if isinstance(meaning, Command) else None


def doubtful_tag(utterance: Utterance, settings: PairingSettings) -> Command | None:
    """The tag that a refused utterance was likeliest to tell: worth asking of a carcass that has none.

    That it was a tag is as likely as all readings together that tell one.
    """
    best = _meaning(utterance, 0.0)
    if not isinstance(best, Command) or best.verb is not Verb.TAG or not best.digits:
        return None
    return best if _likely(Verb.TAG, utterance) >= settings.doubtful_tag else None


def doubtful_renaming(utterance: Utterance, settings: PairingSettings) -> Command | None:
    """The correction ("that was ...") that a refused utterance surely was, whatever name it gives.

    The readings of such a command share their beginning: that it was a correction is as likely as all of
    them together. The name is held against the mass before it is taken, or asked about.
    """
    if utterance.refusal is not Refusal.NOT_LIKE_SPEECH_WE_KNOW or not utterance.hypotheses:
        return None
    best = utterance.hypotheses[0].meaning
    if not isinstance(best, Command) or best.verb is not Verb.THAT_WAS or best.call is None:
        return None
    return best if _likely(Verb.THAT_WAS, utterance) >= settings.doubtful_renaming else None


def doubtful_answer(utterance: Utterance, asked: Question, settings: PairingSettings) -> Answer | None:
    """The answer that a refused utterance was likely enough, said after the question it answers.

    Several wordings of one answer count together.
    """
    best = _meaning(utterance, 0.0)
    if not isinstance(best, Answer) or best not in asked.replies or utterance.start_ns < asked.t_ns:
        return None
    chance = sum(each.probability or 0.0 for each in utterance.hypotheses if each.meaning is best)
    rivals = [each.probability or 0.0 for each in utterance.hypotheses if each.meaning is not best]
    leads = chance >= settings.doubtful_answer_lead * max(rivals, default=0.0)
    return best if leads and chance >= settings.doubtful_answer else None


def _likely(verb: Verb, utterance: Utterance) -> float:
    """How likely a command of this kind was said, whatever goes with it."""
    return sum(
        each.probability or 0.0
        for each in utterance.hypotheses
        if isinstance(each.meaning, Command) and each.meaning.verb is verb
    )


def _meaning(utterance: Utterance, least: float) -> object:
    if utterance.refusal is not Refusal.NOT_LIKE_SPEECH_WE_KNOW or not utterance.hypotheses:
        return None
    return utterance.hypotheses[0].meaning if utterance.confidence >= least else None
