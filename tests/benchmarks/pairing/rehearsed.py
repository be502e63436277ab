"""Rehearsed carcasses by the whole recorder, with fusion and without: `rehearsed.py --half development`.

Each carcass is invented from its seed: voice, noise, level, rhythm, chatter. The halves share no
voice, noise recording or talk (tests/benchmarks/hearing/halves.py) and no seed. Sound is worked
through once and kept on disk: denoised speech for all engines, readings for this state of
handsfree/speech and grammar; pairing, ledger and score are run anew each time. No answer is ever
given to a question (the sound is made beforehand), so what is asked about counts as questioned. The
grammar is that of listening throughout.

Settings were chosen on the development half only. Synthetic voices: no field accuracy.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import os
import pickle
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from concurrent.futures import ProcessPoolExecutor
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import cache, lru_cache
from pathlib import Path

import numpy as np
from scipy.stats import beta

sys.path.insert(0, str(Path(__file__).parent))
sys.path.insert(0, str(Path(__file__).parents[1] / "hearing"))

from belief import believed, tables
from halves import HALVES, NOISES, VOICES, Half, half_of_talk
from reading_in import own_store, read_in

from handsfree.carcass_in_hand import BooksInHand, PlanShelf
from handsfree.clerk import Clerk
from handsfree.config import Config, ScaleSettings, SpeechSettings
from handsfree.ledger.bookkeeper import Bookkeeper
from handsfree.ledger.books import Books
from handsfree.ledger.entries import SessionBegan
from handsfree.merging import ScaleStep, in_order
from handsfree.pairing.pairing import Pairing
from handsfree.pairing.settings import PairingSettings
from handsfree.recorder import Recorder
from handsfree.session_folder import open_session
from handsfree.speech.audio_file import AudioFile
from handsfree.speech.hearing import Listener, SpeechParts
from handsfree.speech.messages import AudioBlock, Refusal, Samples, SpeechPart, Utterance
from handsfree.speech.ports import Recogniser
from handsfree.speech.timeline import NS_PER_SAMPLE
from handsfree.testing.memory_store import MemoryStore
from handsfree.testing.rehearsal import voices
from handsfree.testing.rehearsal.score import Outcome, Score, score, truth_from_csv
from handsfree.testing.rehearsal.telling import Faults, Habits
from handsfree.testing.words_in_noise import real_data
from handsfree.weighing.capture import CaptureTransport, read_scale_csv
from handsfree.weighing.ports import Chunk, Lost
from handsfree.wiring import hearing, scales, words
from handsfree.wiring.rehearsing import Wish, make
from handsfree.wiring.schooling import schooling

EAR = "HANDSFREE_BENCH_EAR"
"""Environment variable: the folders of the ears' models (option --second-ear)."""
READ_IN = "HANDSFREE_BENCH_READ_IN"
"""Environment variable: not empty when the voices were read in (option --read-in)."""
LEVELS_DB = (20.0, 10.0, 5.0)
RHYTHMS = {
    "calls first": Habits(calls_first=0.9, while_placing=0.05),
    "calls after": Habits(calls_first=0.05, while_placing=0.05),
    "mixed": Habits(),
    "pan cleared": Habits(tray=False),
    "in twos": Habits(in_batches=0.5),
}
CHATTER = 0.15

#: The plain rule beside which fusion is measured: the best reading as the gate lets it through, no plan,
#: no weight, no doubtful call.
PLAIN = replace(
    PairingSettings(),
    complete_already=0.0,
    off_plan=0.0,
    odd_weight=1.0,
    unlikely_sigma=1e9,
    accept=0.0,
    heard_least=0.0,
    doubtful_least=2.0,
    doubtful_tray=2.0,
)


@dataclass(frozen=True, slots=True)
class Case:
    """One rehearsed carcass of the benchmark."""

    number: int
    half: Half
    voice: str
    noise: str
    snr_db: float
    rhythm: str
    plan: str
    """"primals" is eight pieces; "block" is the whole carcass with dice, mince, trim and bone."""

    @property
    def seed(self) -> int:
        """Another one for each carcass, none in both halves."""
        return self.number + (10_000 if self.half == "test" else 0)


def cases(half: Half, count: int) -> list[Case]:
    """The first `count` carcasses of a half: every voice, noise, level and rhythm comes round."""
    spoken = [voice for voice in VOICES[half] if voices.installed(voice)]
    noises = [kind for kind in NOISES if kind != "talkers"]
    return [
        Case(
            number,
            half,
            f"{spoken[number % len(spoken)].program}:{spoken[number % len(spoken)].name}",
            noises[(number // len(spoken) + number % len(spoken)) % len(noises)],
            LEVELS_DB[(number // 2) % len(LEVELS_DB)],
            list(RHYTHMS)[(number // 3) % len(RHYTHMS)],
            "block" if number % 10 == 9 else "primals",
        )
        for number in range(count)
    ]


def store() -> Path:
    """Where sound and readings are kept between runs."""
    folder = Path(os.environ.get("HANDSFREE_BENCH_CACHE", Path(tempfile.gettempdir()) / "handsfree-bench"))
    return folder / "rehearsals"


def wish_of(case: Case) -> Wish:
    """What the carcass is like; the talk of its half is laid out in a folder beside the others."""
    source = NOISES[case.noise][case.half]
    talk = store() / f"{case.half}.talk"
    talk.mkdir(parents=True, exist_ok=True)
    for number, file in enumerate(sorted((real_data() / "speech").glob("*.wav"))):
        if half_of_talk(number) == case.half:
            with suppress(FileExistsError):
                (talk / file.name).symlink_to(file.resolve())
    return Wish(
        seed=case.seed,
        plan=case.plan,
        remainder=case.plan == "block",
        voice=case.voice,
        noise=None if source in _MADE else real_data() / "noise" / f"{source}.wav",
        made_noise=_MADE.get(source, "fridge fan"),
        snr_db=case.snr_db,
        talk=talk,
        habits=RHYTHMS[case.rhythm],
        chatter=CHATTER,
        faults=Faults(),
    )


def place_of(case: Case) -> Path:
    """Where what is made of a carcass is kept."""
    return store() / hashlib.sha256(repr(case).encode()).hexdigest()[:16]


def session_of(case: Case) -> Path:
    """The carcass's session folder, made when it is not there."""
    folder = place_of(case)
    if (folder / "done").exists():
        return folder
    make(wish_of(case), folder, config(), sound="flac")
    (folder / "done").touch()
    return folder


_MADE = {
    "made fridge fan": "fridge fan",
    "made saw": "saw",
    "made clatter": "clatter",
    "pink": "pink",
    "made water": "water",
}


@cache
def config() -> Config:
    """The settings of the benchmark: the embedded engine, the ears that are given, the venison list."""
    second, _, third = os.environ.get(EAR, "").partition(os.pathsep)
    return Config(speech=SpeechSettings(engine="pocketsphinx", second_ear=second, third_ear=third))


@cache
def settings(voice: str) -> Config:
    """The settings of the benchmark, with this butcher's own voice where it was read in."""
    if not os.environ.get(READ_IN):
        return config()
    program, _, spoken_by = voice.partition(":")
    own = read_in(voices.Voice(program, spoken_by), config())
    return replace(config(), speech=replace(config().speech, voice=own))


def equipment() -> str:
    """What stands beside the embedded engine, in short: for the names under which results are kept."""
    ears = "-ear" * len([each for each in os.environ.get(EAR, "").split(os.pathsep) if each])
    return ears + ("-own" if os.environ.get(READ_IN) else "")


def parts_of(case: Case) -> list[SpeechPart]:
    """Denoised speech, kept for every engine, with the same stretches as captured."""
    file = session_of(case) / "denoised.npy"
    source = AudioFile(file.with_name("audio.flac"))
    captured = list(source.blocks())
    source.close()
    if not file.exists():
        denoiser = hearing.denoiser(config())
        clean = [out for block in captured for out in denoiser.feed(block)] + denoiser.flush()
        np.save(file, np.concatenate([block.samples for block in clean]))
    parts = SpeechParts(Filtered(np.load(file)), hearing.endpointer())
    return [part for block in captured for part in parts.feed(block)] + parts.flush()


class Filtered:
    """A denoiser whose work was done before."""

    name = "kept"

    def __init__(self, clean: Samples) -> None:
        self._clean = clean

    def feed(self, block: AudioBlock) -> list[AudioBlock]:
        """The same stretch of the sound as it was filtered."""
        at = block.t_ns // NS_PER_SAMPLE
        return [AudioBlock(block.t_ns, self._clean[at : at + len(block.samples)], block.flags)]

    def flush(self) -> list[AudioBlock]:
        """Nothing is held back."""
        return []


@cache
def state() -> str:
    """Short name of the state of the speech code and words: readings of another state are not used."""
    root = Path(__file__).parents[3]
    files = sorted([*(root / "handsfree/speech").rglob("*.*"), *(root / "grammar").rglob("*.*")])
    found = hashlib.sha256()
    for file in files:
        # The thresholds of hearing.py are applied anew to what is kept.
        if file.suffix in {".py", ".toml", ".dict", ".txt"} and file.name != "hearing.py":
            found.update(file.read_bytes())
    return found.hexdigest()[:10] + equipment()


def heard_file(case: Case, label: str) -> Path:
    """Where the readings of a carcass are kept."""
    return place_of(case) / f"utterances-{label}.pickle"


def heard(case: Case, label: str) -> list[Utterance]:
    """What the engine made of the carcass's speech."""
    file = heard_file(case, label)
    if not file.exists():
        listener = _listener(case)
        found = [utterance for part in parts_of(case) for utterance in listener.feed(part)]
        file.write_bytes(pickle.dumps(found))
    return [_judged(each) for each in pickle.loads(file.read_bytes())]  # noqa: S301 (our own file)


def _judged(utterance: Utterance) -> Utterance:
    """The utterance as the thresholds of today judge it."""
    if utterance.refusal not in {None, Refusal.NOT_LIKE_SPEECH_WE_KNOW} or not utterance.hypotheses:
        return utterance
    own = bool(os.environ.get(READ_IN))
    least = hearing.thresholds(config()).least(utterance.hypotheses[0].meaning, own_voice=own)
    refused = utterance.confidence < least
    return replace(utterance, refusal=Refusal.NOT_LIKE_SPEECH_WE_KNOW if refused else None)


@lru_cache(maxsize=1)  # a voice's model and the ears' are large
def _engine(voice: str) -> Recogniser:
    return hearing.recogniser(settings(voice), words.lexicon(config()))


def _listener(case: Case) -> Listener:
    grammar = words.vocabulary(config()).listening()
    return hearing.listener(config(), _engine(case.voice if os.environ.get(READ_IN) else ""), grammar)


def paired(case: Case, utterances: list[Utterance], settings: PairingSettings | None) -> tuple[Score, Books]:
    """The carcass in the books, and its score."""
    folder = session_of(case)
    session = open_session(folder)
    known: dict[str, ScaleSettings] = scales.all_settings(config(), session.description.scales)
    vocabulary = words.vocabulary(config())
    memory = MemoryStore()
    books = Books(history=memory)
    plans = PlanShelf(vocabulary, case.plan)
    clerk = Clerk(
        Bookkeeper(memory, books, session="s", started_at=session.description.start),
        vocabulary,
        plans,
        scales=scales.scale_data(known),
        schooling=schooling(config(), vocabulary, plans.default),
    )
    chosen = scales.pairing_settings(known)
    if settings is not None:
        chosen = replace(settings, carcass_scales=chosen.carcass_scales)
    recorder = Recorder(
        clerk,
        Pairing(BooksInHand(books, plans, vocabulary), chosen),
        vocabulary,
        weigher_for=scales.weigher_for(known),
    )
    clerk.begin(SessionBegan("benchmark", "replay"))
    waiting = sorted(utterances, key=lambda utterance: utterance.heard_ns)
    transports = read_scale_csv(session.scale_lines) if session.scale_lines else []
    for step in in_order(*[_steps(transport) for transport in transports]):
        while waiting and waiting[0].heard_ns <= step.t_ns:
            for _ in recorder.feed(waiting.pop(0)):
                pass
        for _ in recorder.take(step):
            pass
    for utterance in waiting:
        for _ in recorder.feed(utterance):
            pass
    for _ in recorder.finish("end"):
        pass
    truth = truth_from_csv((folder / "truth.csv").read_text(encoding="utf-8"))
    pieces = [piece for carcass in books.carcasses.values() for piece in carcass.standing()]
    return score(truth, pieces, d_g=5), books


def _steps(transport: CaptureTransport) -> Iterator[ScaleStep]:
    while isinstance(received := transport.receive(0.0), Chunk | Lost):
        yield ScaleStep(received.t_ns, transport.scale, received)


def prepare_sound(case: Case) -> tuple[Case, float]:
    """Make and denoise one carcass; seconds of processor time."""
    began = time.process_time()
    parts_of(case)
    return case, time.process_time() - began


def prepare(case: Case) -> tuple[Case, float]:
    """Make and hear one carcass; seconds of processor time."""
    began = time.process_time()
    heard(case, state())
    return case, time.process_time() - began


def interval(hits: int, of: int) -> str:
    """A share with its exact 95 % interval (Clopper and Pearson 1934)."""
    if not of:
        return "-"
    low = beta.ppf(0.025, hits, of - hits + 1) if hits else 0.0
    high = beta.ppf(0.975, hits + 1, of - hits) if hits < of else 1.0
    return f"{hits / of:6.2%} ({low:.2%} to {high:.2%})"


def table(title: str, groups: dict[str, list[Score]]) -> None:
    """One line a group: shares of the pieces."""
    print(f"\n{title}")
    print(
        f"{'':<22}{'pieces':>7} {'right':>26} {'wrong unasked':>24} {'questions':>24}  asked unnamed lost inv"
    )
    for name, scores in groups.items():
        count = Counter(finding.outcome for each in scores for finding in each.findings)
        pieces = sum(count[kind] for kind in Outcome if kind is not Outcome.INVENTED)
        questions = sum(each.questions for each in scores)
        print(
            f"{name:<22}{pieces:>7} {interval(count[Outcome.RIGHT], pieces):>26} "
            f"{interval(count[Outcome.WRONG], pieces):>24} {interval(min(questions, pieces), pieces):>24}  "
            f"{count[Outcome.QUESTIONED]:>5} {count[Outcome.UNNAMED]:>7} {count[Outcome.LOST]:>4} "
            f"{count[Outcome.INVENTED]:>3}"
        )


def _options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--half", choices=HALVES, default="development")
    parser.add_argument("--carcasses", type=int, default=100)
    parser.add_argument("--processes", type=int, default=1)
    parser.add_argument("--wrong", action="store_true", help="list what was not right")
    parser.add_argument("--only-sound", action="store_true", help="make and denoise the sound, no more")
    parser.add_argument("--second-ear", action="append", default=[], help="a model; twice: a third ear too")
    parser.add_argument("--read-in", action="store_true", help="each butcher's voice was read in")
    parser.add_argument("--label", default="", help="use readings kept under this label")
    parser.add_argument("--kept", action="store_true", help="only the carcasses that were heard already")
    return parser.parse_args()


def _prepare(every: list[Case], processes: int, work: Callable[[Case], tuple[Case, float]]) -> None:
    with ProcessPoolExecutor(processes) as pool:
        for number, (_, seconds) in enumerate(pool.map(work, every), 1):
            if seconds > 1:
                told = f"{number} of {len(every)}, {seconds:.0f} s of processor"
                print(told, file=sys.stderr, flush=True)


def _grouped(scores: Mapping[Case, Score], name: str) -> dict[str, list[Score]]:
    """The scores by what their cases have under this name."""
    groups: dict[str, list[Score]] = {}
    for case, found in scores.items():
        groups.setdefault(str(getattr(case, name)), []).append(found)
    return groups


def main() -> int:
    """Print the tables."""
    options = _options()
    every = cases(options.half, options.carcasses)
    os.environ[EAR] = os.pathsep.join(options.second_ear)
    os.environ[READ_IN] = "yes" if options.read_in else ""
    own_store()
    label = options.label or state()
    if options.kept:
        every = [case for case in every if heard_file(case, label).exists()]
    elif not options.label:
        _prepare(every, options.processes, prepare_sound if options.only_sound else prepare)
    if options.only_sound:
        return 0
    results = {case: paired(case, heard(case, label), None) for case in every}
    plain = {case: paired(case, heard(case, label), PLAIN)[0] for case in every}
    scores = {case: found for case, (found, _) in results.items()}
    print(f"{len(every)} rehearsed carcasses, {options.half} half, readings {label}")
    table("In all", {"with fusion": list(scores.values()), "without": list(plain.values())})
    for name in ("snr_db", "voice", "noise", "rhythm", "plan"):
        table(f"By {name}", _grouped(scores, name))
    table("By snr_db, without fusion", _grouped(plain, "snr_db"))
    print("\nHow far the names can be believed")
    vocabulary = words.vocabulary(config())
    print(
        "\n".join(
            tables(believed(scores.values(), vocabulary.destination_of), PairingSettings().sound_weight)
        )
    )
    if options.wrong:
        for case, found in scores.items():
            for finding in found.findings:
                if finding.outcome is not Outcome.RIGHT:
                    print(
                        json.dumps(
                            {
                                "case": case.number,
                                "seed": case.seed,
                                "outcome": finding.outcome,
                                "why": finding.reason,
                            }
                        )
                    )
    return 0


if __name__ == "__main__":
    sys.exit(main())
