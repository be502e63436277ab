"""Pure: no denoiser, for sound that was denoised elsewhere and for comparison."""

from __future__ import annotations

from handsfree.speech.messages import AudioBlock


class NoDenoiser:
    """Hands every block on as it is."""

    @property
    def name(self) -> str:
        """What it is, for tables and messages."""
        return "none"

    def feed(self, block: AudioBlock) -> list[AudioBlock]:
        """The block itself."""
        return [block]

    def flush(self) -> list[AudioBlock]:
        """Nothing is ever held back."""
        return []
