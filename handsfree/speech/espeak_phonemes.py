"""How eSpeak NG would say a word, in IPA. An edge module: it starts the program `espeak-ng`.

It only ever proposes: its rules know no trade words, and a proposal is used once a person has put it
into a words file.
"""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Sequence

from handsfree.errors import EngineUnavailableError
from handsfree.speech.ipa import SEPARATOR

_TIMEOUT_S = 30.0


class EspeakPhonemes:
    """Asks `espeak-ng`, all words of one voice in one run.

    Args:
        program: Name or path of the program.
    """

    def __init__(self, program: str = "espeak-ng") -> None:
        self._program = program

    def ipa(self, words: Sequence[str], voice: str) -> list[str]:
        """One IPA text a word, in order, phonemes apart by `ipa.SEPARATOR`; empty where it says nothing.

        Args:
            words: Letters and apostrophes only: other signs mean something else to the program.
            voice: A voice of the program, such as "en-gb-scotland".

        Raises:
            ValueError: A word has other signs.
            EngineUnavailableError: The program or voice is not there, or did not answer.
        """
        if any(not is_plain(word) for word in words):
            raise ValueError(f"only letters and apostrophes can be asked for: {list(words)}")
        program = shutil.which(self._program)
        if program is None:
            raise EngineUnavailableError(
                f"the program {self._program} is not installed, so no pronunciation can be proposed",
                next_step="install it (apt-get install espeak-ng), or write what the word sounds like "
                "in known words",
            )
        command = [program, "-q", "-v", voice, "--ipa", f"--sep={SEPARATOR}", "--stdin"]
        # The full stop makes each word an utterance of its own: one line comes back for each.
        text = "".join(f"{word}.\n" for word in words)
        try:
            done = subprocess.run(
                command, input=text.encode(), capture_output=True, timeout=_TIMEOUT_S, check=False
            )
        except (OSError, subprocess.TimeoutExpired) as error:
            raise EngineUnavailableError(f"{self._program} did not answer: {error}") from error
        lines = [line.strip() for line in done.stdout.decode(errors="replace").splitlines()]
        if done.returncode or len(lines) != len(words):
            said = done.stderr.decode(errors="replace").strip() or "no reason given"
            raise EngineUnavailableError(
                f"{self._program} gave {len(lines)} pronunciations for {len(words)} words: {said}",
                next_step=f"check that it has the voice {voice} (espeak-ng --voices=en)",
            )
        return lines


def is_plain(word: str) -> bool:
    """Whether the word is of letters and inner apostrophes only, and short enough to be a word."""
    return 0 < len(word) <= 64 and word.replace("'", "").isalpha() and word[0] != "'"
