"""What every denoiser must do, whatever its method. Subclass in a test file and supply `make`."""

from __future__ import annotations

from abc import ABC, abstractmethod
from itertools import pairwise

import numpy as np

from handsfree.speech.messages import RATE_HZ, AudioBlock, Samples, SoundFlags
from handsfree.speech.ports import Denoiser
from handsfree.speech.timeline import NS_PER_SAMPLE
from handsfree.testing.making_sound import in_blocks, joined, silence


class DenoiserContract(ABC):
    """The suite; each test makes a fresh denoiser."""

    @abstractmethod
    def make(self) -> Denoiser:
        """A new denoiser."""

    def test_it_has_a_name(self) -> None:
        """Tables and messages need one."""
        assert self.make().name

    def test_stamps_follow_each_other_from_the_first_samples_time(self) -> None:
        """The output is as unbroken as the input."""
        out = _through(self.make(), in_blocks(_speechlike(1.0), start_ns=7_000_000_000))
        assert out[0].t_ns == 7_000_000_000
        assert all(after.t_ns == before.end_ns for before, after in pairwise(out))

    def test_as_many_samples_come_out_as_went_in(self) -> None:
        """Nothing is lost or added, whatever the length."""
        for count in (1, 319, 320, 4_801):
            sound = _speechlike(1.0)[:count]
            assert len(joined(_through(self.make(), in_blocks(sound)))) == count

    def test_blocks_of_any_size_give_the_same_sound(self) -> None:
        """Cutting is not part of the sound."""
        sound = _speechlike(1.5)
        plain = joined(_through(self.make(), in_blocks(sound)))
        odd = joined(_through(self.make(), in_blocks(sound, sizes=(1, 777, 0, 4_000, 13))))
        assert np.array_equal(plain, odd)

    def test_the_delay_is_taken_out(self) -> None:
        """Output sample n is made from input sample n."""
        sound = np.concatenate([silence(0.5), _speechlike(1.0), silence(0.5)])
        out = joined(_through(self.make(), in_blocks(sound)))
        assert _lag(sound, out) == 0

    def test_it_never_holds_back_more_than_a_quarter_second(self) -> None:
        """A held sample makes every answer later."""
        denoiser = self.make()
        done_ns = 0
        for block in in_blocks(_speechlike(1.0)):
            for out in denoiser.feed(block):
                done_ns = out.end_ns
            assert block.end_ns - done_ns <= 250_000_000

    def test_silence_stays_silent(self) -> None:
        """Dither and artefacts stay far below speech."""
        out = joined(_through(self.make(), in_blocks(silence(2.0)))).astype(np.float64)
        level_db = 20.0 * np.log10(np.sqrt(np.mean(out**2)) / 32_768.0 + 1e-9)
        assert level_db < -55.0

    def test_full_scale_sound_does_not_wrap_round(self) -> None:
        """Limiting is allowed, overflow is not."""
        # A wrapped sample jumps from one rail to the other; a slow full-scale sine never does.
        at = np.arange(RATE_HZ) / RATE_HZ
        sound = np.rint(32_767.0 * np.sin(2.0 * np.pi * 100.0 * at)).astype(np.int16)
        out = joined(_through(self.make(), in_blocks(sound))).astype(np.int64)
        assert np.abs(np.diff(out)).max() < 16_384

    def test_flags_stay_with_their_sound(self) -> None:
        """They mark the blocks that hold their samples and no other."""
        sound = _speechlike(1.0)
        blocks = in_blocks(sound)
        marked = blocks[20]
        blocks[20] = AudioBlock(marked.t_ns, marked.samples, SoundFlags.OVERFLOW)
        flagged = [block for block in _through(self.make(), blocks) if block.flags]
        assert flagged
        assert flagged[0].t_ns <= marked.t_ns
        assert flagged[-1].end_ns >= marked.end_ns
        assert all(block.end_ns > marked.t_ns and block.t_ns < marked.end_ns for block in flagged)

    def test_a_hole_in_time_stays_where_it_is(self) -> None:
        """What was held belongs before the hole."""
        first = in_blocks(_speechlike(0.5))
        again_ns = 3_000_000_000
        second = in_blocks(_speechlike(0.5), start_ns=again_ns)
        out = _through(self.make(), first + second)
        before = [block for block in out if block.t_ns < again_ns]
        after = [block for block in out if block.t_ns >= again_ns]
        assert before[-1].end_ns == first[-1].end_ns
        assert after[0].t_ns == again_ns
        assert len(joined(before)) == len(joined(after)) == RATE_HZ // 2

    def test_it_can_be_used_again_after_a_flush(self) -> None:
        """A flush ends a run of sound, not the denoiser."""
        denoiser = self.make()
        _through(denoiser, in_blocks(_speechlike(0.3)))
        out = _through(denoiser, in_blocks(_speechlike(0.3), start_ns=10 * NS_PER_SAMPLE))
        assert out[0].t_ns == 10 * NS_PER_SAMPLE
        assert len(joined(out)) == len(_speechlike(0.3))

    def test_flush_of_nothing_is_nothing(self) -> None:
        """Before the first block there is nothing to give."""
        assert self.make().flush() == []


def _through(denoiser: Denoiser, blocks: list[AudioBlock]) -> list[AudioBlock]:
    return [out for block in blocks for out in denoiser.feed(block)] + denoiser.flush()


def _speechlike(duration_s: float) -> Samples:
    """Voiced-like sound: harmonics of a gliding pitch in syllables; always the same."""
    at = np.arange(round(duration_s * RATE_HZ)) / RATE_HZ
    pitch = 2.0 * np.pi * (120.0 * at + 20.0 * at**2)
    voice = sum(np.sin(k * pitch) / k for k in range(1, 20))
    syllables = 0.5 - 0.5 * np.cos(2.0 * np.pi * 4.0 * at)
    samples: Samples = np.rint(5_000.0 * voice * syllables).astype(np.int16)
    return samples


def _lag(before: Samples, after: Samples) -> int:
    """By how many samples `after` is late, by cross-correlation."""
    size = 2 * len(before)
    product = np.fft.rfft(after, size) * np.conj(np.fft.rfft(before, size))
    lag = int(np.argmax(np.fft.irfft(product, size)))
    return lag if lag < len(before) else lag - size
