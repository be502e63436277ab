"""The larder's settings: one TOML file, every key optional, all faults told together.

An edge: it reads the file. Where it lies: `--config FILE`, else the user's configuration folder
(`handsfree devices` prints it).
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, fields
from datetime import date
from pathlib import Path
from typing import Any, TypeVar

import platformdirs

from handsfree.errors import ConfigError

APP = "handsfree"

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class LarderSettings:
    """`[larder]`: what stands at the head of the sheet."""

    name: str = "the larder"
    """Its name, as on the door."""
    process: str = "unknown"
    """How carcasses are cut, for the expected loss: "by hand", "bandsaw" or "unknown"."""
    learn: bool = True
    """Whether closed carcasses sharpen the expected losses and the usual shares."""
    learn_from: date | None = None
    """Carcasses closed before this day, or this moment with a time zone (UTC where none is named),
    teach nothing; `handsfree shares --forget` sets it."""


@dataclass(frozen=True, slots=True)
class SpeechSettings:
    """`[speech]`: how the recorder listens."""

    engine: str = "auto"
    """"auto" (an installed English Vosk model, else PocketSphinx), "pocketsphinx" or "vosk"."""
    model: str = ""
    """Name of an installed Vosk model; empty takes the selected one."""
    list: str = "venison"
    """The cut list: a file of the grammar folder, without ".toml"."""
    own_words: str = ""
    """Path of the larder's own cut names and pronunciations."""
    microphone: str = ""
    """Name or number of the microphone (`handsfree devices`); empty is the system's default."""
    denoiser: str = "auto"
    """"auto" (DeepFilterNet where its library runs, else spectral), "deepfilter", "spectral" or "none"."""
    second_ear: str = ""
    """Folder of a Whisper (CTranslate2) or Moonshine model that checks what is heard; empty for none."""
    third_ear: str = ""
    """Folder of a Moonshine model beside a Whisper model as second ear; empty for none."""
    voice: str = ""
    """Whose voice is heard while no butcher is named at the bench, by the name it was read in under
    (`handsfree voice add`); "auto" finds out from the first utterances; empty is anybody's. Goes with
    the embedded engine."""
    plan: str = ""
    """The cut plan a new carcass begins with; empty is the list's first."""


@dataclass(frozen=True, slots=True)
class AnswerSettings:
    """`[answers]`: how the recorder speaks."""

    length: str = "short"
    """"full" (cut, weight, destination), "weight" (cut and weight), "short" (the cut, within 1.2 s) or
    "tones" (quiet mode for ear defenders; the board shows each tone's twin). But for the last, what does not
    go to the usual place is always read back with where it goes."""
    numbers: str = "kilograms"
    """How weights are said: "kilograms" (four point one three five) or "grams" (four one three five)."""
    read_back: str = "always"
    """"always", or "unusual": words only for what is corrected, unnamed or not quite sure, else a tone."""
    questions: bool = True
    """Whether questions are asked; if not, what would be asked is entered unnamed and listed at close."""
    go_over: bool = True
    """Whether "close carcass" first asks about each weight that has no name; said again it closes at once."""
    rate: float = 165.0
    """Speed of the voice in words a minute, 80 to 400."""
    loudness: float = 1.0
    """Of tones and voice, above 0 to 1 (as loud as the loudspeaker is set)."""
    speaker: str = ""
    """Name or number of the loudspeaker; empty is the system's default."""
    voice: str = ""
    """Name of the system voice; empty is the system's default."""


@dataclass(frozen=True, slots=True)
class ScaleSettings:
    """`[scale.NAME]`: one instrument."""

    name: str
    port: str = ""
    """Device path or URL (`/dev/ttyUSB0`, `socket://HOST:PORT`, `rfc2217://HOST:PORT`), or `hid:` for a USB
    scale; `spy+` before it keeps a capture of everything the scale sends."""
    baud: int = 9600
    """Bits per second."""
    bits: int = 8
    """Data bits: 7 or 8."""
    parity: str = "N"
    """N, E, O, M or S."""
    stop_bits: int = 1
    """1 or 2."""
    shape: str = "auto"
    """Line shape, or "auto" to find it from the first lines."""
    unit: str = ""
    """Unit of lines that carry none: "kg", "g", "lb" or "oz"."""
    d_g: float | None = None
    """Scale interval d in grams; None takes it from the decimals the scale sends."""
    least_change_g: float | None = None
    """Smallest load change taken notice of, in grams; never less than two intervals."""
    silence_s: float | None = 2.0
    """Seconds without a line after which the scale is said to be silent."""
    address: str = ""
    """The scale's number in its lines, where several scales talk on one wire."""
    request: str = ""
    """What is sent to ask for a line, "W\\r\\n"; empty is what the line shape says."""
    poll_s: float | None = None
    """Seconds between two requests; None for a scale that sends by itself."""
    answer_s: float = 1.0
    """Seconds to wait for an answer before asking again."""
    only_on_key: bool = False
    """The scale sends a line only when its key is pressed: silence is normal then."""
    silent_at_rest: bool = False
    """The scale sends nothing while its value stands (it sends when the value changes, or once when it
    has settled): a pause means that the value stands."""
    max_kg: float | None = None
    """Greatest load in kilograms; what is shown far above it is not believed."""
    repeatability_g: float | None = None
    """Standard deviation of one reading in grams, when known from a check."""
    repeatability_readings: int | None = None
    """Number of readings of that check; few of them make the balance's ± wider."""
    span: float | None = None
    """Relative standard uncertainty of the span, when known from a check."""
    eccentricity: float | None = None
    """Relative standard uncertainty from the place on the pan, when known from a check: the largest
    difference of the corners divided by 2·√3 times the test load."""
    carcass: bool | None = None
    """Whether it weighs whole carcasses; None: yes for a scale named "rail"."""

    @property
    def weighs_carcasses(self) -> bool:
        """Whether a load on it is a carcass and never a piece."""
        return self.name == "rail" if self.carcass is None else self.carcass


@dataclass(frozen=True, slots=True)
class SeasonSettings:
    """`[season]`: what carcasses are held against over a season."""

    prices: str = ""
    """Path of the price list (TOML), prices for a kilogram by cut and destination; empty for none."""
    limits_from: int = 100
    """Carcasses in order that tell what is usual, the first of the time looked at; 20 to 1000."""
    usual_loss: float = 0.0
    """Usual share that is not accounted for, in percent of the dressed weight; counts with `loss_sd`."""
    loss_sd: float = 0.0
    """Its standard deviation from carcass to carcass, in percent; 0 takes both from the first carcasses."""
    usual_yield: float = 0.0
    """Usual share of meat, in percent of the dressed weight; counts with `yield_sd`."""
    yield_sd: float = 0.0
    """Its standard deviation from carcass to carcass, in percent; 0 takes both from the first carcasses."""


@dataclass(frozen=True, slots=True)
class Config:
    """All settings."""

    larder: LarderSettings = LarderSettings()
    speech: SpeechSettings = SpeechSettings()
    answers: AnswerSettings = AnswerSettings()
    scales: Mapping[str, ScaleSettings] = field(default_factory=dict)
    season: SeasonSettings = SeasonSettings()
    butchers: Mapping[int, str] = field(default_factory=dict)
    """Name of the butcher with this number, 1 to 20, for "ledger butcher two"; a voice read in under that
    name is then listened for."""


#: Settings that take one of a few words.
_CHOICES = {
    "larder.process": ("unknown", "by hand", "bandsaw"),
    "speech.engine": ("auto", "pocketsphinx", "vosk"),
    "speech.denoiser": ("auto", "deepfilter", "spectral", "none"),
    "answers.length": ("full", "weight", "short", "tones"),
    "answers.numbers": ("kilograms", "grams"),
    "answers.read_back": ("always", "unusual"),
    "parity": ("N", "E", "O", "M", "S"),
    "unit": ("", "kg", "g", "lb", "oz"),
}


#: Least and greatest value of settings that have both.
_RANGES = {
    "answers.rate": (80, 400),
    "answers.loudness": (0.01, 1),
    "season.limits_from": (20, 1000),
    "season.usual_loss": (-100, 100),
    "season.loss_sd": (0, 100),
    "season.usual_yield": (0, 100),
    "season.yield_sd": (0, 100),
}


def default_config_file() -> Path:
    """Where the settings are looked for when no file is named."""
    return Path(platformdirs.user_config_dir(APP)) / "handsfree.toml"


def default_ledger_file() -> Path:
    """Where the ledger is kept when no file is named."""
    return Path(platformdirs.user_data_dir(APP)) / "larder.ledger"


def load_config(file: Path | None = None) -> Config:
    """The settings of a file; the defaults when none is named and none is there.

    Raises:
        ConfigError: The file is missing, no TOML, or has faults; all of them, each with its line.
    """
    if file is None:
        file = default_config_file()
        if not file.exists():
            return Config()
    text = _read(file)
    try:
        table = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise ConfigError(f"{file} is not valid TOML: {error}", next_step="put that line right") from error
    reader = _Reader(file, text)
    config = Config(
        larder=reader.section(LarderSettings, table.pop("larder", {}), "larder"),
        speech=reader.section(SpeechSettings, table.pop("speech", {}), "speech"),
        answers=reader.section(AnswerSettings, table.pop("answers", {}), "answers"),
        scales=reader.scales(table.pop("scale", {})),
        season=reader.section(SeasonSettings, table.pop("season", {}), "season"),
        butchers=reader.butchers(table.pop("butchers", {})),
    )
    for name in table:
        reader.fault(name, f"[{name}] is not a section known here")
    reader.raise_faults()
    return config


def scale_settings(name: str, values: Mapping[str, Any], file: Path, text: str) -> ScaleSettings:
    """One scale's settings from a table of a file, for session folders.

    Raises:
        ConfigError: The table has faults.
    """
    reader = _Reader(file, text)
    settings = reader.section(ScaleSettings, values, f"scale.{name}", name=name)
    reader.raise_faults()
    return settings


def _read(file: Path) -> str:
    try:
        return file.read_text(encoding="utf-8")
    except FileNotFoundError:
        raise ConfigError(
            f"there is no settings file {file}", next_step="name another with --config"
        ) from None
    except (OSError, UnicodeDecodeError) as error:
        raise ConfigError(f"the settings file {file} cannot be read: {error}") from error


class _Reader:
    """Reads tables into dataclasses and collects every fault with its line."""

    def __init__(self, file: Path, text: str) -> None:
        self._file = file
        self._lines = text.splitlines()
        self._faults: list[str] = []

    def fault(self, key: str, what: str) -> None:
        """Note a fault at the line that holds `key`."""
        word = key.rsplit(".", 1)[-1]
        line = next((n for n, text in enumerate(self._lines, 1) if word in text), 0)
        self._faults.append(f"{self._file}:{line}: {what}")

    def raise_faults(self) -> None:
        """Raise everything noted, if anything was."""
        if self._faults:
            raise ConfigError("; ".join(self._faults), next_step="put these settings right")

    def section(self, kind: type[T], values: Any, title: str, **given: Any) -> T:
        """A dataclass from a table."""
        if not isinstance(values, Mapping):
            self.fault(title, f"[{title}] must be a section")
            return kind(**given)
        known = {f.name: str(f.type) for f in fields(kind) if f.name not in given}  # type: ignore[arg-type]
        taken: dict[str, Any] = dict(given)
        for key, value in values.items():
            where = f"{title}.{key}"
            if key not in known:
                self.fault(key, f"{where} is not a setting known here ({', '.join(sorted(known))})")
            elif (complaint := _complaint(known[key], where, key, value)) is not None:
                self.fault(key, complaint)
            else:
                taken[key] = value
        return kind(**taken)

    def scales(self, tables: Any) -> dict[str, ScaleSettings]:
        """The `[scale.NAME]` sections."""
        if not isinstance(tables, Mapping):
            self.fault("scale", "scales are sections named [scale.NAME]")
            return {}
        return {
            name: self.section(ScaleSettings, values, f"scale.{name}", name=name)
            for name, values in tables.items()
        }

    def butchers(self, table: Any) -> dict[int, str]:
        """The `[butchers]` section, by number."""
        if not isinstance(table, Mapping):
            self.fault("butchers", 'butchers are a section [butchers] with lines such as 2 = "Morag"')
            return {}
        found: dict[int, str] = {}
        for key, name in table.items():
            where = f"butchers.{key}"
            if key not in _BUTCHER_NUMBERS:
                self.fault(
                    "butchers", f"{where}: a butcher's number is one from 1 to {len(_BUTCHER_NUMBERS)}"
                )
            elif not isinstance(name, str) or not _is_butchers_name(name):
                self.fault("butchers", f"{where} must be a name in quotes, at most 40 letters, not {name!r}")
            elif name in found.values():
                self.fault("butchers", f"{where}: {name} has a number already")
            else:
                found[int(key)] = name
        return dict(sorted(found.items()))


#: Numbers said as one word.
_BUTCHER_NUMBERS = tuple(str(number) for number in range(1, 21))


def _is_butchers_name(name: str) -> bool:
    """Whether it can name a butcher: "none" is said for nobody, "auto" of a voice."""
    plain = name.isprintable() and name == name.strip() and 1 <= len(name) <= 40
    return plain and not name.isdecimal() and name.lower() not in ("none", "auto")


_CHECKS: dict[str, tuple[str, Callable[[Any], bool]]] = {
    "str": ("text in quotes", lambda v: isinstance(v, str)),
    "int": ("a whole number", lambda v: isinstance(v, int) and not isinstance(v, bool)),
    "int | None": ("a whole number above 1", lambda v: isinstance(v, int) and v is not True and v > 1),
    "float": ("a number", lambda v: isinstance(v, int | float) and not isinstance(v, bool)),
    "float | None": ("a number above 0", lambda v: isinstance(v, int | float) and v is not True and v > 0),
    "bool": ("true or false", lambda v: isinstance(v, bool)),
    "date | None": ("a day such as 2026-04-01, without quotes", lambda v: isinstance(v, date)),
    "bool | None": ("true or false", lambda v: isinstance(v, bool)),
}


def _complaint(kind: str, where: str, key: str, value: Any) -> str | None:
    wanted, check = _CHECKS[kind]
    if not check(value):
        return f"{where} must be {wanted}, not {value!r}"
    if where in _RANGES and not _RANGES[where][0] <= value <= _RANGES[where][1]:
        return f"{where} must be from {_RANGES[where][0]} to {_RANGES[where][1]}, not {value!r}"
    choices = _CHOICES.get(where) or _CHOICES.get(key)
    if choices and value not in choices:
        return f"{where} must be one of {', '.join(choices)}, not {value!r}"
    return None
