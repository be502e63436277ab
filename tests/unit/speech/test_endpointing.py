"""Chunks are 512 samples, 32 ms, so every expected time here is a multiple of that by hand."""

import numpy as np

from handsfree.speech.endpointing import Endpointer, EndpointSettings
from handsfree.speech.messages import RATE_HZ, AudioBlock, Samples, SoundFlags, SpeechPart
from handsfree.testing.loudness_activity import LoudnessActivity
from handsfree.testing.making_sound import in_blocks, silence, tone

CHUNK_NS = 32_000_000


def chunks(pattern: str) -> Samples:
    """One 32 ms chunk a letter: L loud (probability 1), h half loud (0.4), others silent (0)."""
    level = {"L": 2_000, "h": 600}
    return np.concatenate([np.full(512, level.get(letter, 0), dtype=np.int16) for letter in pattern])


def parts_of(blocks: list[AudioBlock], settings: EndpointSettings | None = None) -> list[SpeechPart]:
    endpointer = Endpointer(LoudnessActivity(), settings)
    return [part for block in blocks for part in endpointer.feed(block)] + endpointer.flush()


def segments(parts: list[SpeechPart]) -> list[tuple[int, int, int]]:
    """(start, voiced end, samples) of each segment."""
    found, samples = [], 0
    for part in parts:
        samples = len(part.samples) if part.first else samples + len(part.samples)
        if part.last:
            found.append((part.start_ns, part.end_ns, samples))
    return found


def test_a_word_has_a_pre_roll_a_hangover_and_its_voiced_end() -> None:
    found = segments(parts_of(in_blocks(chunks("." * 20 + "LLLLL" + "." * 20))))
    # Voiced from 640 to 800 ms; 250 ms before; 10 chunks are the first to reach 300 ms after.
    assert found == [(390_000_000, 800_000_000, 16_000 * (800 + 320 - 390) // 1_000)]


def test_parts_come_while_the_word_is_spoken() -> None:
    endpointer = Endpointer(LoudnessActivity())
    early = [part for block in in_blocks(chunks("." * 10 + "LLL")) for part in endpointer.feed(block)]
    assert [(part.first, part.last) for part in early] == [(True, False), (False, False), (False, False)]


def test_the_samples_handed_out_are_the_sound_of_that_time() -> None:
    rng = np.random.default_rng(1)
    sound = (chunks("." * 12 + "LLL" + "." * 14) + rng.integers(-50, 50, 29 * 512)).astype(np.int16)
    parts = parts_of(in_blocks(sound))
    out = np.concatenate([part.samples for part in parts])
    at = parts[0].start_ns // 62_500
    assert np.array_equal(out, sound[at : at + len(out)])


def test_half_voice_goes_on_but_does_not_begin() -> None:
    assert segments(parts_of(in_blocks(chunks("." * 10 + "h" * 10 + "." * 12)))) == []
    found = segments(parts_of(in_blocks(chunks("." * 10 + "L" + "h" * 20 + "." * 12))))
    assert [end for _, end, _ in found] == [31 * CHUNK_NS]


def test_a_pause_shorter_than_the_hangover_does_not_part_a_phrase() -> None:
    assert len(segments(parts_of(in_blocks(chunks("." * 9 + "LLL" + "." * 9 + "LLL" + "." * 12))))) == 1
    assert len(segments(parts_of(in_blocks(chunks("." * 9 + "LLL" + "." * 10 + "LLL" + "." * 12))))) == 2


def test_the_pre_roll_never_reaches_back_into_the_segment_before() -> None:
    parts = parts_of(in_blocks(chunks("." * 9 + "LLL" + "." * 10 + "LLL" + "." * 12)))
    starts = [part.start_ns for part in parts if part.first]
    # The first segment ends with chunk 22; the second begins there, not 250 ms before chunk 22.
    assert starts[1] == 22 * CHUNK_NS


def test_speech_at_the_very_start_has_as_much_pre_roll_as_there_is() -> None:
    assert segments(parts_of(in_blocks(chunks(".LL" + "." * 12))))[0][0] == 0


def test_talk_longer_than_any_call_is_given_up_and_silence_is_waited_for() -> None:
    parts = parts_of(in_blocks(chunks("." * 10 + "L" * 300 + "." * 10 + "LL" + "." * 12)))
    last = [part for part in parts if part.last]
    assert [part.too_long for part in last] == [True, False]
    assert 4.5 <= (last[0].end_ns - last[0].start_ns) / 1e9 < 4.6
    # The 9.6 s of talk made one refusal; the word after it (chunks 320 and 321) is heard.
    assert last[1].end_ns == 322 * CHUNK_NS


def test_the_end_of_the_sound_ends_the_word() -> None:
    found = segments(parts_of(in_blocks(np.concatenate([chunks("." * 10 + "LLL"), chunks("L")[:100]]))))
    assert len(found) == 1
    assert found[0][2] == (13 * 512 + 100) - found[0][0] // 62_500


def test_flags_within_the_segment_travel_and_those_before_it_do_not() -> None:
    blocks = in_blocks(chunks("." * 40 + "LLLLL" + "." * 20))

    def flagged(at: int) -> SoundFlags:
        marked = [
            AudioBlock(b.t_ns, b.samples, SoundFlags.GAP if n == at else SoundFlags.NONE)
            for n, b in enumerate(blocks)
        ]
        flags = SoundFlags.NONE
        for part in parts_of(marked):
            flags |= part.flags
        return flags

    # The segment runs from 1.03 s (block 51) to 1.76 s (block 87).
    assert flagged(40) == SoundFlags.NONE
    assert flagged(53) == SoundFlags.GAP
    assert flagged(86) == SoundFlags.GAP
    assert flagged(91) == SoundFlags.NONE


def test_a_hole_in_time_ends_the_segment_and_later_times_are_true() -> None:
    first = in_blocks(chunks("." * 10 + "LLL"))
    second = in_blocks(chunks("." * 10 + "LLL" + "." * 12), start_ns=60_000_000_000)
    found = segments(parts_of(first + second))
    assert [end for _, end, _ in found] == [13 * CHUNK_NS, 60_000_000_000 + 13 * CHUNK_NS]


def test_settings_are_kept() -> None:
    quick = EndpointSettings(hangover_ns=CHUNK_NS, pre_roll_ns=0)
    assert segments(parts_of(in_blocks(chunks("..LL..")), quick)) == [(2 * CHUNK_NS, 4 * CHUNK_NS, 3 * 512)]


class Forgetful(LoudnessActivity):
    """Counts how often it was told to begin anew, and whether that was ever in the middle of a word."""

    def __init__(self) -> None:
        super().__init__()
        self.began_anew_s: list[float] = []
        self.chunks = 0

    def probability(self, chunk: Samples) -> float:
        self.chunks += 1
        return super().probability(chunk)

    def reset(self) -> None:
        self.began_anew_s.append(self.chunks * self.chunk_samples / RATE_HZ)
        super().reset()


def test_the_detector_begins_anew_after_a_second_of_quiet_and_never_within_a_word() -> None:
    detector = Forgetful()
    endpointer = Endpointer(detector)
    sound = np.concatenate([silence(2.5), tone(1.6), silence(0.6), tone(0.5), silence(1.5)])
    for block in in_blocks(sound):
        endpointer.feed(block)
    # Quiet until 2.5 s, words from 2.5 to 4.1 s and from 4.7 to 5.2 s, quiet again.
    assert [round(at) for at in detector.began_anew_s] == [1, 2, 6]
    assert not [at for at in detector.began_anew_s if 2.5 < at < 5.2]
