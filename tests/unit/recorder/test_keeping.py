"""Keeping a session: a full disk ends the keeping, never the session. `/dev/full` is the full disk."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

from handsfree.config import ScaleSettings
from handsfree.errors import AudioFileError, SessionError
from handsfree.session_folder import AnswerLog, SessionDescription, open_session
from handsfree.speech.audio_file import AudioFile
from handsfree.speech.messages import AudioBlock, SoundFlags
from handsfree.weighing.ports import Chunk
from handsfree.wiring.keeping import SessionKeeper

START = datetime(2026, 11, 17, 8, 10, tzinfo=UTC)
DESCRIPTION = SessionDescription(START, None, {"bench": ScaleSettings("bench", d_g=5)}, "block")
FULL = Path("/dev/full")


def block(number: int, flags: SoundFlags = SoundFlags.NONE) -> AudioBlock:
    return AudioBlock(number * 20_000_000, np.full(320, number, dtype=np.int16), flags)


def test_what_is_kept_can_be_opened_again(tmp_path: Path) -> None:
    keeper = SessionKeeper(tmp_path, DESCRIPTION, sound=True)
    for number in range(5):
        keeper.sound(block(number, SoundFlags.OWN_VOICE if number in {2, 3} else SoundFlags.NONE))
    keeper.scale("bench", Chunk(60_000_000, b"ST,GS,+  0.000kg\r\n"))
    keeper.close()
    session = open_session(tmp_path)
    assert session.own_voice == ((40_000_000, 80_000_000),)
    assert session.description.start == START
    assert session.sound is not None
    samples = np.concatenate([each.samples for each in AudioFile(session.sound).blocks()])
    assert samples.tolist() == np.repeat(np.arange(5), 320).tolist()


def test_a_folder_with_a_session_in_it_is_not_written_over(tmp_path: Path) -> None:
    SessionKeeper(tmp_path, DESCRIPTION, sound=True).close()
    with pytest.raises(AudioFileError, match="exists already"):
        SessionKeeper(tmp_path, DESCRIPTION, sound=True)


@pytest.mark.skipif(not FULL.exists(), reason="no /dev/full on this system")
def test_a_full_disk_is_told_in_words(tmp_path: Path) -> None:
    (tmp_path / "answers.csv").symlink_to(FULL)
    with pytest.raises(SessionError, match=r"answers\.csv cannot be written"):
        AnswerLog(tmp_path)


def test_a_folder_that_cannot_be_made_is_told_in_words(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("a file where the folder should be", encoding="utf-8")
    with pytest.raises(SessionError, match="hoose another folder"):
        SessionKeeper(tmp_path / "file" / "session", DESCRIPTION, sound=True)
