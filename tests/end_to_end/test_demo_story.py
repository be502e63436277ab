"""The demo's story and its kept session folder: every phrase is one, and it comes out again the same.

Also the small sessions of `fixtures/`. What the recorder makes of them is tested elsewhere.
"""

from __future__ import annotations

import importlib.util
import shutil
import sys
from itertools import pairwise
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pytest
import soundfile

from handsfree.resources import grammar_folder
from handsfree.speech.grammar_file import load_vocabulary
from handsfree.speech.meaning import Call, Command, Verb
from handsfree.testing.rehearsal import voices
from handsfree.testing.rehearsal.mixing import active_rms
from handsfree.testing.rehearsal.scenario import Put, Scenario
from handsfree.testing.rehearsal.score import truth_from_csv
from handsfree.testing.rehearsal.session_writer import silent_files, soundtrack

ROOT = Path(__file__).resolve().parents[2]
SYNTHESISED_WITH = {
    "flite": "version: flite-2.2-current Sep 2018",
    "espeak-ng": "eSpeak NG text-to-speech: 1.51",
}


def load(path: Path):
    spec = importlib.util.spec_from_file_location(path.stem, path)
    module = importlib.util.module_from_spec(spec)
    sys.modules[path.stem] = module
    spec.loader.exec_module(module)
    return module


DEMO = load(ROOT / "demo_audio" / "demo_scenario.py")
SESSIONS = load(ROOT / "fixtures" / "make_sessions.py")


class Kept(NamedTuple):
    story: Scenario
    folder: Path
    sound: Path


def kept(story, folder, sound):
    return Kept(story, folder, folder / sound)


KEPT = {"demo": kept(DEMO.scenario(), ROOT / "demo_audio" / "session", "audio.flac")}
KEPT |= {
    name: kept(make(), ROOT / "fixtures" / "sessions" / name, "audio.wav")
    for name, make in SESSIONS.SESSIONS.items()
}
each_kept = pytest.mark.parametrize("session", KEPT.values(), ids=KEPT.keys())


@pytest.fixture(scope="module")
def vocabulary():
    return load_vocabulary(grammar_folder())


@pytest.fixture(scope="module")
def demo() -> Scenario:
    return KEPT["demo"].story


def events(story, event):
    return [row for row in story.truth if row.event == event]


@each_kept
def test_the_story_can_be_played(session):
    assert session.story.faults() == []


@each_kept
def test_everything_said_to_the_recorder_is_one_phrase_and_all_talk_is_none(session, vocabulary):
    everything = vocabulary.everything()
    for say in session.story.said():
        words = say.text.strip(".?").lower()
        if say.to_recorder:
            assert len(everything.parse(words)) == 1, say.text
        else:
            assert not everything.contains(words), say.text


@each_kept
def test_every_true_piece_is_on_the_cut_list_and_goes_where_its_call_sends_it(session, vocabulary):
    calls = [
        meaning
        for say in session.story.said()
        if say.to_recorder
        for meaning in vocabulary.everything().parse(say.text)
        if isinstance(meaning, Call) and not meaning.same_again
    ]
    sent = {(call.cut, call.side.value if call.side else "", call.count): call for call in calls}
    for row in events(session.story, "piece"):
        call = sent.get((row.cut, row.side, row.count)) or Call(row.cut)
        assert row.destination == vocabulary.destination_of(call), row


@each_kept
def test_the_kept_scale_stream_and_truth_come_out_again_byte_for_byte(session):
    for name, text in silent_files(session.story).items():
        assert (session.folder / name).read_text(encoding="utf-8") == text, f"make {session.folder} again"


@each_kept
def test_the_kept_truth_reads_back_as_the_story(session):
    read = truth_from_csv((session.folder / "truth.csv").read_text())
    assert [(row.event, row.cut, row.side, row.count, row.net_g) for row in read] == [
        (row.event, row.cut, row.side, row.count, row.net_g)
        for row in sorted(session.story.truth, key=lambda row: row.seconds)
    ]


@each_kept
def test_the_kept_sound_comes_out_again_where_the_same_synthesisers_are_installed(session):
    for program in {speaker.program for speaker in session.story.speakers.values()}:
        if shutil.which(program) is None:
            pytest.skip(f"{program} is not installed")
        if not voices.version(program).startswith(SYNTHESISED_WITH[program]):
            pytest.skip(f"{program} is not {SYNTHESISED_WITH[program]}: its sound may differ")
    before, rate_hz = soundfile.read(session.sound, dtype="int16")
    made = soundtrack(session.story)
    assert rate_hz == 16_000
    assert before.shape == made.shape
    # Two steps of 16 bits: numerical libraries of other machines round differently.
    assert np.max(np.abs(before.astype(int) - made.astype(int))) <= 2


@each_kept
def test_the_kept_sound_does_not_clip_and_its_noise_lies_well_below_the_voice(session):
    track, rate_hz = soundfile.read(session.sound, dtype="float64")
    assert len(track) / rate_hz == pytest.approx(session.story.duration_s, abs=0.01)
    assert np.max(np.abs(track)) < 0.95
    first = session.story.said()[0]
    spoken = track[int(first.at_s * rate_hz) : int((first.at_s + 1.2) * rate_hz)]
    quiet = track[: int((first.at_s - 0.1) * rate_hz)]
    ratio_db = 20 * np.log10(active_rms(spoken) / np.sqrt(np.mean(quiet**2)))
    assert 16 < ratio_db < 22


def test_the_demo_holds_what_a_real_session_holds(demo, vocabulary):
    meanings = [m for say in demo.said() if say.to_recorder for m in vocabulary.everything().parse(say.text)]
    verbs = {m.verb for m in meanings if isinstance(m, Command)}
    assert {Verb.STRIKE, Verb.THAT_WAS, Verb.TRAY, Verb.DRESSED_WEIGHT, Verb.CLOSE_CARCASS} <= verbs
    assert any(isinstance(m, Call) and m.same_again for m in meanings)
    assert any(isinstance(m, Call) and m.count == 4 and m.cut == "double chops" for m in meanings)
    happened = {row.event for row in demo.truth}
    assert {"struck", "renamed", "question", "chatter", "noise", "dropout", "missing", "close"} <= happened
    assert {row.cut for row in events(demo, "noise")} >= {"dog", "saw"}
    assert len(events(demo, "piece")) >= 33
    assert 6 * 60 <= demo.duration_s <= 9 * 60
    assert len({(s.program, s.voice) for s in demo.speakers.values()}) >= 2


def test_the_demo_follows_the_packaged_plan_but_for_the_one_missing_piece(demo, vocabulary):
    planned = sorted(
        (p.cut, p.side.value if p.side else "", p.count) for p in vocabulary.plan(demo.plan).pieces
    )
    done = [(row.cut, row.side, row.count) for row in events(demo, "piece")]
    (missing,) = events(demo, "missing")
    beyond = [name for name in done if name not in planned]
    assert beyond == [("bloodshot", "", 1)]
    assert (
        sorted([*(n for n in done if n not in beyond), (missing.cut, missing.side, missing.count)]) == planned
    )


def test_what_the_demo_leaves_unaccounted_is_the_missing_piece_and_the_cutting_loss(demo):
    (dressed,) = events(demo, "dressed")
    (missing,) = events(demo, "missing")
    pieces_g = sum(row.net_g for row in events(demo, "piece"))
    loss_g = 0.004 * dressed.net_g
    # Rounding: 34 pieces to 5 g, the dressed weight to 20 g; 3 standard deviations are 28 g (GUM F.2.2.1).
    assert dressed.net_g - pieces_g - missing.net_g == pytest.approx(loss_g, abs=28)
    assert missing.net_g > 0.018 * dressed.net_g


def test_left_and_right_of_the_demo_differ_by_less_than_four_per_cent(demo):
    masses = {}
    for row in [*events(demo, "piece"), *events(demo, "missing")]:
        if row.side:
            masses.setdefault(row.cut, []).append(row.net_g)
    assert all(len(pair) == 2 and max(pair) < 1.04 * min(pair) for pair in masses.values())


def test_no_two_loads_of_the_demo_come_too_fast_for_a_scale_to_settle_between(demo):
    loads = demo.on_scale("bench")
    assert sum(isinstance(act, Put) for act in loads) >= 36
    assert all(later.at_s - earlier.at_s >= 1.3 for earlier, later in pairwise(loads))
