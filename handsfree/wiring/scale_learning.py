"""Learns how a scale writes its lines, from lines heard while a known mass is put on and taken off."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import closing
from dataclasses import dataclass, replace
from pathlib import Path

from handsfree.clock import SystemClock, from_seconds
from handsfree.config import Config, ScaleSettings, default_config_file
from handsfree.config_writing import Value, write_scale
from handsfree.errors import ScaleError, ShapeError
from handsfree.mass import MG_PER_G, format_kg
from handsfree.weighing.framing import Framer
from handsfree.weighing.learning import Heard, LearnedShape, learn_shape
from handsfree.weighing.learning_flags import motion
from handsfree.weighing.lines import Shape
from handsfree.weighing.messages import Basis, Condition, Frame, Indication, Plateau, Torn
from handsfree.weighing.ports import Chunk, Ended, Lost, Received
from handsfree.weighing.shapes import find_shapes, read_shape
from handsfree.weighing.weigher import Weigher
from handsfree.wiring.scale_checking import Mouth, source

#: What is asked for live, and for how long: some twenty lines of each even at three a second.
_STEPS = (("Leave the pan empty.", 6.0), ("Put {mass} kilograms on.", 9.0), ("Take it off.", 7.0))
_NEAR = 0.02
_LEAST = 12
_MOST_TORN = 0.2


@dataclass(frozen=True, slots=True)
class Learned:
    """What was found out about a scale."""

    values: dict[str, Value]
    """Keys and values of `[scale.NAME]`; a learned shape's path is added when it is written."""
    said: tuple[str, ...]
    could_not_tell: tuple[str, ...]
    shape_file: str = ""
    """Text of a shape file of its own; empty when a packaged shape fits."""


def learn(
    name: str,
    mass_mg: int,
    config: Config,
    tell: Callable[[str], None],
    *,
    port: str = "",
    capture: Path | None = None,
    scratch: Path,
    known: Sequence[Shape] | None = None,
) -> Learned:
    """Listen, and say what the lines mean.

    Args:
        name: The scale in the settings.
        mass_mg: The known mass that is put on.
        config: Settings; they give the port where none is named.
        tell: Told every sentence that is spoken.
        port: Device path or URL.
        capture: A recording instead of the port: empty pan, mass on, mass off.
        scratch: A folder where a learned shape is tried.
        known: Shapes to try first; None takes the packaged ones.

    Raises:
        ScaleError: The port failed, or nothing can be learned from what came.
        ShapeError: The learned shape does not read its own lines.
        SessionError: The capture cannot be read.
    """
    settings = replace(config.scales.get(name, ScaleSettings(name)), shape="auto")
    settings = replace(settings, port=port or settings.port)
    heard = _listen(settings, mass_mg, config, tell, capture)
    values: dict[str, Value] = {"port": port} if port else {}
    shapes = find_shapes("auto") if known is None else known
    for unit in ("", "kg", "g", "lb", "oz"):
        found = _read(heard, shapes, unit) if shapes else None
        if found is not None and found.follows(mass_mg):
            values |= {"shape": found.shape, "unit": unit or None, "d_g": found.d_mg / MG_PER_G}
            return Learned(values, found.said(), found.doubts(unit))
    lines = [
        Heard(frame.t_ns, frame.data.decode("latin-1"))
        for frame in _frames(heard)
        if isinstance(frame, Frame)
    ]
    own = learn_shape(lines, mass_mg)
    if isinstance(own, str):
        raise ScaleError(
            f"the lines of {name} were not understood: {own}",
            kept="the settings are as they were",
            next_step="leave the mass on for some seconds, or keep a capture with spy+ and send it in",
        )
    return _learned(own, heard, values, mass_mg, scratch)


def write(name: str, found: Learned, config_file: Path | None) -> list[Path]:
    """Write the settings, and the shape file beside them when one was learned.

    Raises:
        ConfigError: The settings cannot be changed.
        ShapeError: The shape file cannot be written.
    """
    file = config_file or default_config_file()
    values, written = dict(found.values), [file]
    if found.shape_file:
        shape = file.resolve().parent / "shapes" / f"{name}_learned.toml"
        try:
            shape.parent.mkdir(parents=True, exist_ok=True)
            shape.write_text(found.shape_file, encoding="utf-8")
        except OSError as error:
            raise ShapeError(f"the shape file {shape} cannot be written ({error.strerror})") from None
        values["shape"] = str(shape)
        written.append(shape)
    write_scale(file, name, values)
    return written


@dataclass(frozen=True, slots=True)
class _Reading:
    shape: str
    indications: list[Indication]
    plateaus: list[Plateau]
    torn: int

    @property
    def d_mg(self) -> int:
        return self.plateaus[-1].d_mg

    def follows(self, mass_mg: int) -> bool:
        """Whether it stood at one value and at that plus the mass, and few lines were torn."""
        stood = [p.value_mg for p in self.plateaus]
        near = _NEAR * mass_mg
        both = any(abs(abs(v - stood[0]) - mass_mg) <= near for v in stood)
        return both and len(self.indications) >= _LEAST and self.torn <= _MOST_TORN * len(self.indications)

    def said(self) -> tuple[str, ...]:
        last = self.indications[-1]
        decimals = len(last.text.split(" ")[-2].partition(".")[2]) if " " in last.text else 0
        lines = [
            f"Shape {self.shape}: {len(self.indications)} lines read, {self.torn} not.",
            f"Unit {last.unit}, {decimals} decimals, d {self.d_mg / MG_PER_G:g} g.",
        ]
        flags = {each.stable for each in self.indications}
        moving = motion([(each.t_ns, float(each.value_mg)) for each in self.indications])
        judged = [(f.stable, m) for f, m in zip(self.indications, moving, strict=True) if m is not None]
        if flags == {True, False} and judged:
            right = sum(stable is not move for stable, move in judged) / len(judged)
            lines.append(f"Stable flag: goes with motion in {right:.0%} of the lines that can be judged.")
        return tuple(lines)

    def doubts(self, unit: str) -> tuple[str, ...]:
        flags = {each.stable for each in self.indications}
        doubts = ["d is what the values seen have in common; set it if the plate of the scale says other"]
        if flags == {None}:
            doubts.append("the lines carry no stable flag: the recorder judges rest by the values alone")
        elif len(flags) == 1:
            doubts.append("the stable flag never changed: whether it works was not seen")
        if unit:
            doubts.append(f"the lines carry no unit: {unit} is what fits the mass")
        if not any(each.basis is Basis.NET for each in self.indications):
            doubts.append("no net weight was seen: press the tare key once to see how it is marked")
        if not any(each.value_mg < 0 for each in self.indications):
            doubts.append("no value below zero was seen")
        return tuple(doubts)


def _read(heard: Sequence[Received], shapes: Sequence[Shape], unit: str) -> _Reading | None:
    weigher = Weigher("bench", shapes, unit=unit, silence_s=None)
    messages = [message for received in heard for message in weigher.feed(received)]
    indications = [m for m in messages if isinstance(m, Indication) and m.condition is Condition.NORMAL]
    plateaus = [m for m in messages if isinstance(m, Plateau)]
    if not indications or not plateaus or weigher.shape is None:
        return None
    torn = sum(isinstance(m, Torn) for m in messages)
    return _Reading(weigher.shape.name, indications, plateaus, torn)


def _learned(
    own: LearnedShape, heard: Sequence[Received], values: dict[str, Value], mass_mg: int, scratch: Path
) -> Learned:
    file = scratch / "learned.toml"
    file.write_text(own.toml, encoding="utf-8")
    reading = _read(heard, [read_shape(file)], "" if own.carries_unit else own.unit)
    if reading is None or not reading.follows(mass_mg):
        raise ShapeError(
            "a shape was learned and does not follow the mass",
            kept="the settings are as they were",
            next_step="leave the mass on longer, or keep a capture with spy+ and send it in",
        )
    values |= {"unit": None if own.carries_unit else own.unit, "d_g": reading.d_mg / MG_PER_G}
    flag = (
        []
        if own.flag is None
        else [f"Stable flag: {dict(own.flag.stable)}, sure to {own.flag.confidence:.0%}."]
    )
    said = (
        f"No packaged shape fits; one was learned from {own.lines} of {own.of} lines.",
        f"Unit {own.unit}, {own.decimals} decimals, d {reading.d_mg / MG_PER_G:g} g.",
        *flag,
    )
    return Learned(values, said, own.could_not_tell, own.toml)


def _frames(heard: Sequence[Received]) -> list[object]:
    framer = Framer("bench")
    return [frame for each in heard if isinstance(each, Chunk) for frame in framer.feed(each)]


def _listen(
    settings: ScaleSettings, mass_mg: int, config: Config, tell: Callable[[str], None], capture: Path | None
) -> list[Received]:
    heard: list[Received] = []
    with closing(source(settings, capture)) as transport:
        if capture is not None:
            while not heard or not isinstance(heard[-1], Ended):
                heard.append(transport.receive(0.1))
            return heard
        clock = SystemClock()
        with closing(Mouth(config, tell, capture)) as mouth:
            for sentence, long_s in _STEPS:
                mouth.say(sentence.format(mass=format_kg(mass_mg)))
                until_ns = clock.now_ns() + from_seconds(long_s)
                while clock.now_ns() < until_ns:
                    heard.append(transport.receive(0.1))
                    if isinstance(heard[-1], (Lost, Ended)):
                        raise ScaleError(
                            f"the port of {settings.name} was lost", next_step="plug it in and begin again"
                        )
            mouth.say("Thank you.")
    return heard
