"""Makes rehearsals as session folders, and holds a ledger against a rehearsal's truth."""

from __future__ import annotations

import csv
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path

import numpy as np

from handsfree.answering.messages import Saying
from handsfree.clerk import Outcome
from handsfree.config import Config
from handsfree.errors import EngineUnavailableError, SessionError
from handsfree.ledger.books import Books, Piece
from handsfree.ledger.digest import rfc3339
from handsfree.ledger.entries import PieceEntered
from handsfree.ledger.sqlite_store import open_ledger, read_ledger
from handsfree.pairing.messages import Question
from handsfree.session_folder import AnswerLog, SessionFolder, open_session
from handsfree.speech.numbers import words_for_digits
from handsfree.testing.rehearsal import voices
from handsfree.testing.rehearsal.attentive import Attention
from handsfree.testing.rehearsal.ears import Ears
from handsfree.testing.rehearsal.invention import InventedCarcass, Larder, invent, pieces_from_rows
from handsfree.testing.rehearsal.mixing import RECORDED
from handsfree.testing.rehearsal.scenario import Scale, Scenario, Speaker
from handsfree.testing.rehearsal.score import Score, score, truth_from_csv
from handsfree.testing.rehearsal.session_writer import write_played, write_session
from handsfree.testing.rehearsal.telling import Cast, Faults, Habits, Room, tell
from handsfree.wiring import words
from handsfree.wiring.playing import PlayedRoom
from handsfree.wiring.replaying import Watch, refuse_twice

#: Voices tried in turn when none is asked for; what every Debian machine can have.
_VOICES = (voices.AWB, voices.RMS, voices.FESTIVAL_SLT, voices.ESPEAK_SCOTLAND, voices.ESPEAK_GB)
_SOUND_FILES = (".wav", ".flac", ".ogg")


@dataclass(frozen=True, slots=True)
class Wish:
    """What a rehearsal shall be like."""

    seed: int = 1
    plan: str = ""
    """Name of a cut plan; empty takes the settings' own, else the list's first."""
    dressed_kg: float = 25.0
    pieces: Path | None = None
    """A table of pieces instead of invented ones."""
    voice: str = ""
    """PROGRAM:NAME of the butcher's voice; empty takes the first installed."""
    others: Sequence[str] = ()
    """Voices of other people in the room."""
    noise: Path | None = None
    """A recording, or a folder of them of which the seed takes one."""
    made_noise: str = "fridge fan"
    """A generated sound instead, by its name in `noises.MAKERS`."""
    snr_db: float = 20.0
    """The butcher's level over the noise."""
    talk: Path | None = None
    """A folder of recorded talk laid in between."""
    shape: str = "status_comma"
    """Line shape of the bench scale."""
    d_g: int = 5
    habits: Habits = field(default_factory=Habits)
    chatter: float = 0.1
    bangs: float = 0.1
    faults: Faults = field(default_factory=Faults)
    attention: Attention = field(default_factory=Attention)
    """How the butcher listens, where the rehearsal is played."""
    remainder: bool = True
    """Whether dice, mince, trim and bone are weighed too."""


def tag_of(wish: Wish) -> str:
    """The invented tag that the butcher tells, in digits."""
    return str(100 + wish.seed % 900)


def rehearsal(wish: Wish, config: Config, ears: Callable[[Scenario], Ears] | None = None) -> Scenario:
    """The scenario of a wish.

    Args:
        wish: What it shall be like.
        config: The settings.
        ears: Makes the ears of a butcher who listens.

    Raises:
        ConfigError: There is no such plan.
        EngineUnavailableError: A voice is not installed.
        SessionError: The table, a recording or the noise folder cannot be used.
    """
    vocabulary = words.vocabulary(config)
    plan = wish.plan or config.speech.plan or vocabulary.plan_names()[0]
    rng = np.random.default_rng(wish.seed)
    if wish.pieces is not None:
        pieces = pieces_from_rows(_rows(wish.pieces), vocabulary, str(wish.pieces))
        carcass = InventedCarcass(sum(piece.mass_g for piece in pieces) / 0.996, pieces)
    else:
        larder = Larder(vocabulary, plan, dressed_kg=wish.dressed_kg, remainder=wish.remainder)
        carcass = invent(larder, rng)
    bed = ((wish.made_noise, -wish.snr_db),)
    if wish.noise is not None:
        bed = ((RECORDED + str(_one_of(wish.noise, rng)), -wish.snr_db),)
    talk = [RECORDED + str(file) for file in _sound_files(wish.talk)] if wish.talk else []
    return tell(
        carcass,
        Cast(
            _speaker(wish.voice),
            [_speaker(name, level_db=-8.0) for name in wish.others],
            bench=Scale(d_g=wish.d_g, max_kg=15, shape=wish.shape),
        ),
        habits=wish.habits,
        room=Room(bed, wish.chatter, talk, wish.bangs),
        faults=wish.faults,
        seed=wish.seed,
        plan=plan,
        tag=words_for_digits(tag_of(wish)),
        ears=ears,
        attention=wish.attention,
    )


def make(wish: Wish, folder: Path, config: Config, *, sound: str = "wav") -> Scenario:
    """Write the rehearsal's session folder; the scenario it was made from.

    Raises:
        EngineUnavailableError: A voice is not installed.
        SessionError: It cannot be played or written; names the reason.
    """
    _refuse_real(folder)
    scenario = rehearsal(wish, config)
    write_session(scenario, folder, sound=sound)
    return scenario


@dataclass(frozen=True, slots=True)
class Played:
    """A rehearsal that was played to the recorder."""

    scenario: Scenario
    questions: int
    """How many questions were asked, of whatever kind."""

    @property
    def repeated(self) -> int:
        """Calls and commands said again for want of an answer; replies to questions do not count."""
        return sum(say.pace > 1 for say in self.scenario.said())


def play(
    wish: Wish, folder: Path, ledger: Path, config: Config, watch: Watch | None = None, *, sound: str = "wav"
) -> Played:
    """Play the rehearsal to the recorder, let the butcher answer, and keep it as a session folder.

    Args:
        wish: What it shall be like.
        folder: Made when it is not there.
        ledger: The ledger file the recorder writes; made when it is not there.
        config: The settings.
        watch: Who is told of what.
        sound: "wav" or "flac".

    Raises:
        EngineUnavailableError: A voice is not installed.
        SessionError: It cannot be played or written, or is in this ledger already; names the reason.
        HandsfreeError: Any of the grammar, model or ledger errors.
    """
    _refuse_real(folder)
    watch = watch or Watch()
    rooms: list[PlayedRoom] = []
    questions = 0

    def told(outcome: Outcome, sayings: Sequence[Saying]) -> None:
        nonlocal questions
        questions += isinstance(outcome.cause, Question)
        watch.outcome(outcome, list(sayings))

    store = open_ledger(ledger)
    try:

        def ears(scene: Scenario) -> Ears:
            refuse_twice(store, rfc3339(datetime.fromisoformat(scene.start)))
            rooms.append(PlayedRoom(scene, config, store, told))
            return rooms[0]

        scenario = rehearsal(wish, config, ears)
        rooms[0].finish(scenario.duration_s, scenario.acts)
    finally:
        store.close()
    write_played(scenario, folder, np.concatenate(rooms[0].samples), rooms[0].lines, sound=sound)
    log = AnswerLog(folder)
    for spoken in rooms[0].own_voice:
        log.spoke(*spoken)
    log.close()
    return Played(scenario, questions)


def _refuse_real(folder: Path) -> None:
    if (folder / "session.toml").exists() and not (folder / "truth.csv").exists():
        raise SessionError(
            f"{folder} holds a session that is no rehearsal",
            kept="it was left as it is",
            next_step="choose another folder",
        )


def score_ledger(folder: Path, ledger: Path) -> Score:
    """What became of a rehearsal's pieces in a ledger it was replayed into.

    Raises:
        SessionError: The folder is no rehearsal, or this ledger has nothing of it.
        LedgerError: The ledger cannot be read.
    """
    session = open_session(folder)
    try:
        truth = truth_from_csv((folder / "truth.csv").read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError) as error:
        raise SessionError(
            f"{folder} has no truth.csv that can be read: {error}",
            next_step="only a rehearsal can be scored; `handsfree rehearse` makes one",
        ) from error
    pieces = _pieces_of(session, ledger)
    intervals = [s.d_g for s in session.description.scales.values() if s.d_g and not s.weighs_carcasses]
    return score(truth, pieces, d_g=round(max(intervals, default=5)))


def _pieces_of(session: SessionFolder, ledger: Path) -> list[Piece]:
    start = rfc3339(session.description.start)
    store = read_ledger(ledger)
    try:
        entries = list(store.entries())
    finally:
        store.close()
    of_session = [entry for entry in entries if entry.session.endswith(start)]
    if not of_session:
        raise SessionError(
            f"this ledger has nothing of the session of {start}",
            next_step=f"replay it first: handsfree replay {session.folder} --ledger {ledger}",
        )
    weighed = {entry.seq for entry in of_session if isinstance(entry.body, PieceEntered)}
    books = Books(entries)
    return [
        piece for carcass in books.carcasses.values() for piece in carcass.standing() if piece.seq in weighed
    ]


def _speaker(name: str, level_db: float = 0.0) -> Speaker:
    if not name:
        voice = next((voice for voice in _VOICES if voices.installed(voice)), None)
        if voice is None:
            raise EngineUnavailableError(
                "no speech synthesiser is installed to play the butcher",
                next_step=f"install one: {voices.PACKAGES['flite']}",
            )
        return Speaker(voice.program, voice.name, level_db)
    program, _, voice_name = name.partition(":")
    if program not in voices.PACKAGES or not voice_name:
        raise SessionError(
            f"{name!r} is no voice",
            next_step=f"give PROGRAM:NAME with one of {', '.join(voices.PACKAGES)}, such as flite:rms",
        )
    return Speaker(program, voice_name, level_db)


def _sound_files(path: Path) -> list[Path]:
    if path.is_file():
        return [path]
    found = sorted(file for file in path.glob("*") if file.suffix.lower() in _SOUND_FILES)
    if not found:
        raise SessionError(
            f"{path} has no sound files", next_step=f"give a folder of {', '.join(_SOUND_FILES)}"
        )
    return found


def _one_of(path: Path, rng: np.random.Generator) -> Path:
    files = _sound_files(path)
    return files[int(rng.integers(len(files)))]


def _rows(file: Path) -> list[dict[str, str]]:
    try:
        with file.open(encoding="utf-8", newline="") as stream:
            return list(csv.DictReader(stream))
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        raise SessionError(f"the table {file} cannot be read: {error}") from error
