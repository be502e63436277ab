"""Leads through the check of a scale, live or from a capture, and keeps its result."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from handsfree.answering.espeak_voice import EspeakVoice
from handsfree.answering.loudspeaker import Loudspeaker
from handsfree.answering.messages import Saying, Tone
from handsfree.answering.speaker import Answerer
from handsfree.answering.system_voice import SystemVoice
from handsfree.answering.voices import FirstVoice
from handsfree.clock import SystemClock
from handsfree.config import Config, ScaleSettings, default_config_file, default_ledger_file
from handsfree.config_writing import write_scale
from handsfree.errors import ConfigError, ScaleError, SessionError
from handsfree.mass import to_mg
from handsfree.weighing.capture import open_capture
from handsfree.weighing.checking import Check, plan
from handsfree.weighing.checking_limits import R_111_MG, WATER, KnownMass
from handsfree.weighing.checking_result import CheckResult
from handsfree.weighing.checking_words import result_json
from handsfree.weighing.messages import LoadChange, ScaleEvent
from handsfree.weighing.ports import Ended, Received, Transport
from handsfree.wiring.scale_ports import transports
from handsfree.wiring.scales import weigher_for

_MASS = re.compile(r" *([0-9]+(?:[.,][0-9]+)?) *(kg|g|lb|oz) *", re.ASCII | re.IGNORECASE)


def known_mass(text: str, mass_class: str) -> KnownMass:
    """A mass as typed: "2.000kg".

    Raises:
        ConfigError: It is no mass, or its class is not known.
    """
    match = _MASS.fullmatch(text)
    if match is None or not (mass_mg := to_mg(match[1].replace(",", "."), match[2])):
        raise ConfigError(f"{text!r} is no mass", next_step="write it with its unit, as 2.000kg")
    if mass_class not in (*R_111_MG, WATER):
        raise ConfigError(
            f"there is no class {mass_class!r} here", next_step=f"use one of {', '.join((*R_111_MG, WATER))}"
        )
    return KnownMass(mass_mg, mass_class)


def check(
    name: str,
    masses: Sequence[KnownMass],
    config: Config,
    tell: Callable[[str], None],
    *,
    corners: bool = False,
    capture: Path | None = None,
) -> CheckResult:
    """Check a scale.

    Args:
        name: The scale in the settings.
        masses: Known masses, at least one.
        config: Settings.
        tell: Told every sentence that is spoken.
        corners: Also weigh one mass at the corners of the pan.
        capture: A recording of the check instead of the port; nothing is spoken then.

    Raises:
        ConfigError: The scale has no port.
        ScaleError: The port failed, or the check was not made far enough for a result.
        SessionError: The capture cannot be read.
    """
    settings = config.scales.get(name, ScaleSettings(name))
    weigher = weigher_for({name: settings})(name)
    guided = Check(plan(masses, corners=corners))
    with closing(source(settings, capture)) as transport, closing(Mouth(config, tell, capture)) as mouth:
        mouth.say(guided.opening())
        for received in _received(transport):
            for message in weigher.feed(received):
                if isinstance(message, LoadChange):
                    for sentence in guided.feed(message):
                        mouth.say(sentence)
                elif isinstance(message, ScaleEvent):
                    tell(f"The scale: {message.kind.value} {message.detail}".rstrip())
            if guided.done:
                break
    found = guided.result()
    if found is None:
        raise ScaleError(
            f"the check stopped after {guided.loadings} loadings, too few for a result",
            kept="nothing was written",
            next_step="begin again, and wait for each answer",
        )
    return found


def keep(
    name: str, found: CheckResult, config_file: Path | None, at: datetime | None = None
) -> tuple[Path, Path]:
    """Keep a result: a dated file of its own, and repeatability and span in the settings.

    Returns:
        The dated file and the settings file.

    Raises:
        SessionError: The dated file cannot be written.
        ConfigError: The settings cannot be changed; they are as they were.
    """
    at = at or datetime.now(UTC)
    folder = default_ledger_file().parent / "checks"
    file = folder / f"{name}-{at:%Y%m%dT%H%M%SZ}.json"
    content: dict[str, Any] = {"format": 1, "scale": name, "at": at.isoformat(timespec="seconds")}
    try:
        folder.mkdir(parents=True, exist_ok=True)
        text = json.dumps(content | result_json(found), ensure_ascii=False, indent=2)
        file.write_text(text + "\n", encoding="utf-8")
    except OSError as error:
        raise SessionError(
            f"the result {file} cannot be written ({error.strerror})",
            kept="the settings are as they were",
            next_step="free some space, then check again",
        ) from None
    settings_file = config_file or default_config_file()
    values = {
        "d_g": found.d_mg / 1000,
        "repeatability_g": round(found.s_mg / 1000, 4),
        "repeatability_readings": found.readings,
        "span": float(f"{found.span:.3g}"),
        # An earlier check's corners stay when they were not tried again.
        **({} if found.corners is None else {"eccentricity": float(f"{found.corners:.3g}")}),
    }
    write_scale(settings_file, name, values)
    return file, settings_file


def source(settings: ScaleSettings, capture: Path | None) -> Transport:
    """The scale's port, or a recording of it.

    Raises:
        ConfigError: The scale has no port.
        SessionError: The capture cannot be read, or holds other scales.
    """
    if capture is None:
        return transports({settings.name: settings}, SystemClock())[0]
    recorded = open_capture(capture)
    named = [each for each in recorded if each.scale == settings.name] or recorded
    if len(named) != 1:
        names = " and ".join(each.scale for each in recorded) or "no scale"
        raise SessionError(f"{capture} holds {names}, none is {settings.name}")
    return named[0]


def _received(transport: Transport) -> Iterator[Received]:
    while True:
        received = transport.receive(0.1)
        yield received
        if isinstance(received, Ended):
            return


class Mouth:
    """Says a sentence on the screen and, live, aloud."""

    def __init__(self, config: Config, tell: Callable[[str], None], capture: Path | None) -> None:
        self._tell = tell
        self._answerer: Answerer | None = None
        if capture is None:
            wanted = config.answers.speaker
            voice = FirstVoice([EspeakVoice(config.answers.voice), SystemVoice(config.answers.voice)])
            output = Loudspeaker(int(wanted) if wanted.isdecimal() else wanted or None, tell=tell)
            self._answerer = Answerer(voice, output, SystemClock(), tell=tell)
            self._answerer.start()

    def say(self, sentence: str) -> None:
        """Say it."""
        self._tell(sentence)
        if self._answerer is not None:
            self._answerer.say(Saying(Tone.NOTED, sentence))

    def close(self) -> None:
        """Free the loudspeaker."""
        if self._answerer is not None:
            self._answerer.close()
