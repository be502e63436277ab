"""What the gate refused and may have been meant all the same, beside a weight that waits. Pure.

The scale is the second gate: speech that alone is too doubtful to act on is likelier a call when a
weight has just been laid down for which no clear call has come.
"""

from __future__ import annotations

from handsfree.pairing.settings import PairingSettings
from handsfree.speech.meaning import Call, Command, Verb
from handsfree.speech.messages import Refusal, Utterance


def doubtful_call(utterance: Utterance, settings: PairingSettings) -> Call | None:
    """The call a refused utterance may have been, None when it is too unlikely to remember."""
    meaning = _meaning(utterance, settings.doubtful_least)
    return meaning if isinstance(meaning, Call) else None


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


def _meaning(utterance: Utterance, least: float) -> object:
    if utterance.refusal is not Refusal.NOT_LIKE_SPEECH_WE_KNOW or not utterance.hypotheses:
        return None
    return utterance.hypotheses[0].meaning if utterance.confidence >= least else None
