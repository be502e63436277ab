"""Troubles of devices, and their end, in words."""

from __future__ import annotations

from handsfree.answering.messages import Saying, Tone
from handsfree.ledger.entries import TroubleNoted
from handsfree.speech.sound_level import OVER
from handsfree.weighing.messages import ScaleEventKind

_WORDS: dict[str, str] = {
    ScaleEventKind.SILENT: "{device} has gone silent",
    ScaleEventKind.BACK: "{device} is back",
    ScaleEventKind.OVERLOAD: "{device}, too heavy, take it off",
    ScaleEventKind.OVERLOAD_OVER: "{device} is good again",
    ScaleEventKind.UNDERLOAD: "{device} is below zero, set it to zero",
    ScaleEventKind.UNIT_CHANGED: "{device} has changed its unit",
    ScaleEventKind.UNPLUGGED: "{device} is unplugged",
    ScaleEventKind.FAULT: "{device} reports a fault",
    ScaleEventKind.UNREADABLE: "{device} cannot be read",
    ScaleEventKind.READABLE: "{device} can be read again",
    ScaleEventKind.NOISY: "{device} has a bad line, check its cable",
    ScaleEventKind.CLEAN: "{device} has a good line again",
    ScaleEventKind.STUCK: "{device} has not moved, look at it",
    ScaleEventKind.MOVES: "{device} moves again",
    ScaleEventKind.IMPLAUSIBLE: "{device} shows more than it can weigh",
    ScaleEventKind.PLAUSIBLE: "{device} is good again",
}

#: What to do about a microphone that is not gone; said after what is wrong.
_ADVICE = {
    "no sound from the microphone": "see if it is muted or its plug is out",
    "the microphone is too loud": "move it away from your mouth or turn it down",
    "it is very loud here": "bring the microphone closer or wait for the machine",
    "the microphone crackles": "wipe it and its plug dry",
    "the microphone is too far away": "bring it closer to your mouth",
    "the microphone sounds muffled": "wipe it dry and take off what covers it",
}

#: Kinds that end a trouble: good news waits its turn.
_OVER = frozenset(
    {
        ScaleEventKind.BACK,
        ScaleEventKind.OVERLOAD_OVER,
        ScaleEventKind.READABLE,
        ScaleEventKind.CLEAN,
        ScaleEventKind.MOVES,
        ScaleEventKind.PLAUSIBLE,
    }
)

#: Devices that are no scales; any other name is that of a scale.
_NO_SCALES = frozenset({"microphone", "loudspeaker", "sound card", "disk", "clock"})


def trouble(body: TroubleNoted) -> Saying:
    """What is said of a trouble or its end; a kind not known here is said as it is named."""
    name = body.device if body.device in _NO_SCALES or "scale" in body.device else f"{body.device} scale"
    device = f"the {name}"
    kind = body.kind.replace("{", "").replace("}", "")
    if kind.startswith(OVER):
        return Saying(Tone.NOTED, f"{device} is good again")
    # What a microphone reports is a sentence of its own: "no sound from the microphone".
    own = ", ".join(filter(None, (kind, _ADVICE.get(body.kind))))
    text = _WORDS.get(body.kind, own if body.device in _NO_SCALES else "{device}: " + kind)
    over = body.kind in _OVER
    return Saying(Tone.NOTED if over else Tone.TROUBLE, text.format(device=device), urgent=not over)
