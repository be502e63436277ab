"""Troubles of devices, and their end, in words."""

from __future__ import annotations

from handsfree.answering.messages import Saying, Tone
from handsfree.ledger.entries import TroubleNoted
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

#: How the kind of a trouble that is over begins, for devices that are no scales.
OVER = "over: "

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
    text = _WORDS.get(body.kind, kind if body.device in _NO_SCALES else "{device}: " + kind)
    over = body.kind in _OVER
    return Saying(Tone.NOTED if over else Tone.TROUBLE, text.format(device=device), urgent=not over)
