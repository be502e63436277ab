"""The parts that rehearsals are made of: scenario, pace, noises, voices, mixing."""

from __future__ import annotations

import shutil
from itertools import pairwise

import numpy as np
import pytest

from handsfree.errors import EngineUnavailableError, SessionError
from handsfree.testing.rehearsal import noises, scale_lines, voices
from handsfree.testing.rehearsal.mixing import VOICE_DBFS, Soundtrack, active_rms, mix
from handsfree.testing.rehearsal.pace import Bench, Cut
from handsfree.testing.rehearsal.scenario import (
    Dropout,
    Noise,
    Put,
    Say,
    Scale,
    Scenario,
    Speaker,
    Take,
    rounded_g,
    spoken_s,
)
from handsfree.testing.rehearsal.session_writer import scale_rows, silent_files, write_session

needs_flite = pytest.mark.skipif(shutil.which("flite") is None, reason="flite is not installed")
TONE = np.round(8000 * np.sin(2 * np.pi * 300 * np.arange(8000) / 16000)).astype(np.int16)


def scenario(*acts, duration_s=6.0, speakers=None, seed=5):
    return Scenario(
        title="a test",
        start="2026-11-17T08:00:00+00:00",
        duration_s=duration_s,
        acts=acts,
        truth=(),
        speakers=speakers or {"butcher": Speaker("flite", "awb")},
        scales={"bench": Scale(d_g=5, max_kg=15, shape="status_comma")},
        seed=seed,
    )


@pytest.mark.parametrize(
    # R 76 A.4.4.3 rounds to the nearest interval; by hand, a half upwards.
    ("mass_g", "d_g", "shown_g"),
    [(1402.0, 5, 1400), (1402.5, 5, 1405), (1366.0, 5, 1365), (25339.0, 20, 25340), (25350.0, 20, 25360)],
)
def test_truth_is_rounded_to_the_scale_interval(mass_g, d_g, shown_g):
    assert rounded_g(mass_g, d_g) == shown_g


def test_a_possible_scenario_has_no_faults():
    acts = (Say(0.5, "left haunch"), Put(2.5, "bench", 2000.0), Take(4.0, "bench", 2000.0))
    assert scenario(*acts).faults() == []


def test_a_butcher_who_talks_over_himself_is_a_fault():
    (fault,) = scenario(Say(0.5, "left haunch"), Say(0.9, "neck")).faults()
    assert "'neck'" in fault
    assert "'left haunch'" in fault


@pytest.mark.parametrize(
    "acts", [(Take(1.0, "bench", 50.0),), (Put(1.0, "bench", 9000.0), Put(2.0, "bench", 9000.0))]
)
def test_a_load_below_zero_or_above_the_maximum_is_a_fault(acts):
    assert any("the bench scale bears" in fault for fault in scenario(*acts).faults())


def test_the_same_seed_gives_the_same_story_and_another_seed_another_rhythm():
    def told(seed):
        bench = Bench({"bench": 5, "rail": 20}, seed)
        bench.call_then_weigh(Cut("neck", 1500.0, destination="dice"))
        bench.wait(3.0)
        bench.weigh_then_call(Cut("shank", 640.0, "left", destination="prime"), clear=True)
        return bench

    assert told(1).acts == told(1).acts
    assert told(1).truth == told(1).truth
    assert told(1).acts != told(2).acts


def test_a_call_comes_before_or_after_the_weight_as_the_story_says():
    bench = Bench({"bench": 5}, 3)
    bench.call_then_weigh(Cut("neck", 1500.0))
    bench.weigh_then_call(Cut("shank", 640.0, "left"))
    kinds = [type(act) for act in bench.acts]
    assert kinds == [Say, Put, Put, Say]


def test_scale_lines_show_what_lies_on_the_pan():
    rows = scale_rows(scenario(Put(1.0, "bench", 1402.0)))
    assert len(rows) == 60  # 6 s at 10 lines a second
    assert rows[0][2] == "ST,GS   0.000,kg\\r\\n"
    assert rows[-1][2] == "ST,GS   1.400,kg\\r\\n"


@pytest.mark.parametrize("kind", sorted(noises.MAKERS))
def test_a_larder_sound_is_the_same_for_the_same_seed_and_has_its_promised_level(kind):
    first, again, other = (noises.MAKERS[kind](2.0, np.random.default_rng(seed)) for seed in (1, 1, 2))
    assert np.array_equal(first, again)
    assert not np.array_equal(first, other)
    assert len(first) == 32_000
    if kind in noises.CREST_DB:
        assert np.max(np.abs(first)) == pytest.approx(1.0)
    else:
        assert np.sqrt(np.mean(first**2)) == pytest.approx(1.0, abs=0.1)


def test_the_fan_hums_at_the_mains_frequency():
    sound = noises.fridge_fan(4.0, np.random.default_rng(1))
    power = np.abs(np.fft.rfft(sound)) ** 2
    at = round(noises.MAINS_HZ * 4)  # bins of 0.25 Hz
    assert power[at] > 20 * np.median(power[at - 40 : at + 40])


def test_the_voice_stands_in_the_mix_at_its_level_and_the_bed_below_it():
    said = scenario(Say(3.0, "left haunch"))
    track = mix(said, lambda _say: TONE).astype(float) / 32767
    voice_db = 20 * np.log10(active_rms(track[48_000:56_000]))
    bed_db = 20 * np.log10(np.sqrt(np.mean(track[:40_000] ** 2)))
    assert voice_db == pytest.approx(VOICE_DBFS, abs=0.3)
    assert bed_db == pytest.approx(VOICE_DBFS - 19.0, abs=1.0)


def test_a_clip_longer_than_its_time_is_refused():
    long = np.tile(TONE, 8)
    assert len(long) / 16_000 > spoken_s("neck")
    with pytest.raises(SessionError, match=r"'neck' takes 4\.00 s"):
        mix(scenario(Say(1.0, "neck")), lambda _say: long)


def test_a_clip_a_little_longer_than_its_time_only_shortens_the_pause_after_it():
    slow = np.tile(TONE, 8)[: round((spoken_s("neck") + 0.2) * 16_000)]
    track = mix(scenario(Say(1.0, "neck")), lambda _say: slow)
    heard = np.abs(track[16_000 : 16_000 + len(slow)].astype(float))
    assert heard[-1_600:].max() > 0.5 * heard.max(), "it is all there, to its end"


def test_a_mix_that_would_clip_is_refused():
    with pytest.raises(SessionError, match="clips"):
        mix(scenario(Noise(1.0, "saw", 2.0, 30.0)), lambda _say: TONE)


def test_an_unknown_larder_sound_is_refused_with_the_names_that_exist():
    with pytest.raises(SessionError, match=r"'cow' is not a larder sound.*saw"):
        mix(scenario(Noise(1.0, "cow", 2.0, 0.0)), lambda _say: TONE)


@needs_flite
def test_a_voice_says_the_same_samples_every_time():
    first = voices.speak("left haunch", voices.AWB)
    voices.speak.cache_clear()
    assert np.array_equal(first, voices.speak("left haunch", voices.AWB))
    assert first.dtype == np.int16
    assert 0.5 < len(first) / 16_000 < 2.0


@needs_flite
def test_a_voice_that_does_not_exist_is_an_error_and_not_another_voice():
    with pytest.raises(EngineUnavailableError, match=r"no voice 'nobody'.*awb"):
        voices.speak("left haunch", voices.Voice("flite", "nobody"))


@pytest.mark.parametrize("program", sorted(voices.PACKAGES))
def test_a_missing_synthesiser_is_an_error_that_names_its_package(program, monkeypatch, tmp_path):
    monkeypatch.setenv("PATH", str(tmp_path))
    with pytest.raises(EngineUnavailableError, match=rf"{program} is not installed.*install .*{program}"):
        voices.speak("a phrase not said before", voices.Voice(program, "any"))
    assert not voices.installed(voices.Voice(program, "any"))


def test_an_unknown_synthesiser_is_an_error_that_names_the_known_ones():
    with pytest.raises(EngineUnavailableError, match="Use one of flite, espeak-ng"):
        voices.speak("neck", voices.Voice("parrot", "polly"))


@needs_flite
def test_a_session_folder_has_its_four_files_and_sound_of_the_right_length(tmp_path):
    import soundfile

    write_session(scenario(Say(1.0, "neck"), Put(3.0, "bench", 900.0)), tmp_path / "s", sound="flac")
    assert {p.name for p in (tmp_path / "s").iterdir()} == {
        "session.toml",
        "audio.flac",
        "scale.csv",
        "truth.csv",
    }
    info = soundfile.info(tmp_path / "s" / "audio.flac")
    assert (info.samplerate, info.channels, info.subtype, info.frames) == (16_000, 1, "PCM_16", 96_000)


def test_a_session_folder_that_cannot_be_written_is_one_plain_error(tmp_path):
    (tmp_path / "taken").write_text("a file, not a folder")
    with pytest.raises(SessionError, match="cannot be written"):
        write_session(scenario(), tmp_path / "taken")


def test_the_silent_files_need_no_synthesiser(monkeypatch, tmp_path):
    monkeypatch.setenv("PATH", str(tmp_path))
    files = silent_files(scenario(Say(1.0, "neck"), Put(3.0, "bench", 900.0)))
    assert files["session.toml"].startswith("format = 1\n")
    assert files["truth.csv"] == "seconds,event,cut,side,count,net_g,destination\n"


def test_a_track_taken_out_bit_by_bit_is_the_track_taken_out_at_once() -> None:
    acts = (
        Say(0.5, "left haunch"),
        Put(2.5, "bench", 2000.0),
        Noise(3.0, "saw", 1.0, -6.0),
        Say(4.5, "neck"),
    )
    whole = scenario(*acts)
    once = mix(whole, lambda _say: TONE)
    track = Soundtrack(whole, lambda _say: TONE, bed_s=whole.duration_s)
    laid, taken = 0, []
    for until_s in (0.4, 1.3, 2.6, 2.6, 3.9, 6.0):
        # What begins up to now is laid before it is taken, as a room that is lived through has it.
        known = [act for act in acts if act.at_s < until_s]
        track.lay(known[laid:])
        laid = len(known)
        taken.append(track.until(until_s))
    assert np.array_equal(np.concatenate(taken), once)


def test_a_track_grows_with_its_session_and_the_bed_goes_on() -> None:
    scene = scenario(duration_s=0.0)
    track = Soundtrack(scene, lambda _say: TONE, bed_s=2.0)
    track.lay([Say(4.8, "neck")])
    sound = track.until(7.0).astype(float) / 32767
    assert len(sound) == 7 * 16_000
    assert active_rms(sound[76_800:84_800]) == pytest.approx(10 ** (VOICE_DBFS / 20), rel=0.05)
    for second in (1, 3, 6):
        level_db = 20 * np.log10(
            np.sqrt(np.mean(sound[second * 16_000 : (second + 1) * 16_000 - 8_000] ** 2))
        )
        assert level_db == pytest.approx(VOICE_DBFS - 19.0, abs=1.5)


def test_scale_lines_read_on_are_those_of_the_whole_session_but_for_the_noise() -> None:
    acts = (Put(1.0, "bench", 1402.0), Dropout(4.0, "bench", 1.0), Put(30.0, "bench", 655.0))
    whole = scenario(*acts, duration_s=40.0)
    once = scale_lines.rows(whole)
    (reader,) = scale_lines.instruments(whole)
    read = [row for until_s in (0.55, 1.0, 3.0, 4.5, 29.0, 31.2, 40.0) for row in reader.until(until_s, acts)]
    assert [round(t_s, 1) for t_s, _, _ in read] == [round(t_s, 1) for t_s, _, _ in once]
    assert all(earlier[0] < later[0] for earlier, later in pairwise(read))

    def shown_g(line: str) -> float:
        return 1000 * float(line[5:13])

    for one, other in zip(read, once, strict=True):
        # Half an interval of rounding on both sides, and the display's noise.
        assert shown_g(one[2]) == pytest.approx(shown_g(other[2]), abs=10)
