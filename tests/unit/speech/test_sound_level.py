import numpy as np
import pytest
import soundfile

from handsfree.speech.messages import AudioBlock, Samples, SoundFlags
from handsfree.speech.sound_level import SoundLevel, SoundNotice, SoundTrouble
from handsfree.testing.making_sound import in_blocks, silence, tone
from handsfree.testing.words_in_noise import real_data


def room(duration_s: float, amplitude: float = 60.0) -> Samples:
    return tone(duration_s, hz=150.0, amplitude=amplitude)


def told(blocks: list[AudioBlock]) -> list[tuple[float, SoundTrouble, bool]]:
    level = SoundLevel()
    notices: list[SoundNotice] = [notice for block in blocks for notice in level.feed(block)]
    return [(notice.t_ns / 1e9, notice.trouble, notice.began) for notice in notices]


def test_a_quiet_room_and_speech_are_nothing_to_tell() -> None:
    sound = np.concatenate([room(8.0), tone(1.0, amplitude=9_000), room(30.0), tone(2.0, amplitude=20_000)])
    assert told(in_blocks(sound)) == []


def test_a_muted_microphone_is_told_after_five_seconds_and_taken_back() -> None:
    sound = np.concatenate([room(2.0), silence(9.0), room(3.0)])
    # Silent from 2.0 s: five seconds of it are complete at 7.0 s. Sound again from 11.0 s; half a second
    # later it is over.
    assert told(in_blocks(sound)) == [(7.0, SoundTrouble.SILENT, True), (11.5, SoundTrouble.SILENT, False)]


def test_a_mute_switch_that_leaves_a_hiss_is_told_against_the_usual_floor() -> None:
    hiss = (np.random.default_rng(2).standard_normal(16_000 * 9) * 10).astype(np.int16)
    # Usual: 20 lg(1000 / sqrt 2 / 32768) = -33 dB. Hiss: 20 lg(10 / 32768) = -70 dB.
    sound = np.concatenate([room(40.0, amplitude=1_000.0), hiss, room(3.0, amplitude=1_000.0)])
    assert [(trouble, began) for _, trouble, began in told(in_blocks(sound))] == [
        (SoundTrouble.SILENT, True),
        (SoundTrouble.SILENT, False),
    ]


def test_a_fan_that_is_switched_off_is_no_mute_switch() -> None:
    # From -39 to -63 dB: quiet, but a room still.
    assert told(in_blocks(np.concatenate([room(40.0, amplitude=500.0), room(20.0, amplitude=32.0)]))) == []


def test_crackle_is_told_once_and_taken_back() -> None:
    draw = np.random.default_rng(5)
    crackling = room(10.0, amplitude=800.0).astype(np.int32)
    for at in draw.integers(0, len(crackling) - 8, 60):
        crackling[at : at + int(draw.integers(1, 8))] += int(draw.choice([-1, 1])) * 6_000
    sound = np.concatenate([room(3.0), crackling.astype(np.int16), room(12.0)])
    assert [(trouble, began) for _, trouble, began in told(in_blocks(sound))] == [
        (SoundTrouble.CRACKLING, True),
        (SoundTrouble.CRACKLING, False),
    ]


def test_a_knock_that_rings_is_no_crackle() -> None:
    ring = (tone(0.05, hz=3_000.0, amplitude=15_000.0) * np.exp(-np.arange(800) / 200)).astype(np.int16)
    knocks = np.concatenate([np.concatenate([room(0.15), ring]) for _ in range(40)])
    assert SoundTrouble.CRACKLING not in {trouble for _, trouble, _ in told(in_blocks(knocks))}


def test_no_real_recording_sounds_like_a_microphone_in_trouble() -> None:
    files = [file for kind in ("noise", "speech") for file in sorted((real_data() / kind).glob("*.wav"))]
    if not files:
        pytest.skip(f"no real recordings in {real_data()}; set HANDSFREE_REAL_DATA")
    wrong = {SoundTrouble.CRACKLING, SoundTrouble.SILENT}
    found = {
        file.name: troubles
        for file in files
        if (troubles := wrong & {t for _, t, _ in told(in_blocks(soundfile.read(file, dtype="int16")[0]))})
    }
    assert found == {}


def test_a_microphone_that_is_silent_between_words_is_told_ever_later() -> None:
    pause = np.concatenate([silence(12.0), tone(1.0)])
    begun = [at for at, _, began in told(in_blocks(np.tile(pause, 4))) if began]
    # Silent from 0, 13, 26 and 39 s: told after 5 s, then after 10 s; 20 s it never lasts.
    assert begun == [5.0, 23.0]


def test_clipping_is_told_once_while_it_lasts() -> None:
    shout = np.clip(tone(1.0).astype(np.int32) * 40, -32_768, 32_767).astype(np.int16)
    sound = np.concatenate([room(2.0), shout, room(1.0), shout, room(9.0)])
    notices = told(in_blocks(sound))
    assert [(trouble, began) for _, trouble, began in notices] == [
        (SoundTrouble.CLIPPING, True),
        (SoundTrouble.CLIPPING, False),
    ]
    assert notices[0][0] < 2.3


def test_a_single_peak_at_the_rail_is_nothing_to_tell() -> None:
    sound = room(5.0)
    sound[40_000] = 32_767
    assert told(in_blocks(sound)) == []


def test_a_loud_room_is_told_after_ten_seconds() -> None:
    assert told(in_blocks(room(12.0, amplitude=4_000))) == [(10.0, SoundTrouble.LOUD_ROOM, True)]


def test_a_microphone_that_is_gone_and_back_is_told_at_once() -> None:
    gone = in_blocks(silence(8.0), start_ns=2_000_000_000, flags=SoundFlags.GAP)
    back = in_blocks(room(2.0), start_ns=10_000_000_000)
    # Silence of a microphone that is gone is not also told as "no sound".
    assert told(in_blocks(room(2.0)) + gone + back) == [
        (2.1, SoundTrouble.GONE, True),
        (10.5, SoundTrouble.GONE, False),
    ]


def test_lost_samples_are_told() -> None:
    blocks = in_blocks(room(3.0))
    blocks[50] = AudioBlock(blocks[50].t_ns, blocks[50].samples, SoundFlags.OVERFLOW)
    assert told(blocks) == [(1.1, SoundTrouble.DROPPED, True)]


def test_the_level_is_relative_to_full_scale() -> None:
    level = SoundLevel()
    for block in in_blocks(tone(1.0, amplitude=32_767.0)):
        level.feed(block)
    # A full-scale sine has an RMS of 1/sqrt(2): -3.01 dB.
    assert abs(level.level_db + 3.01) < 0.02
    assert abs(level.floor_db + 3.01) < 0.02
