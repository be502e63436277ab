"""Bad input through the command line: a plain sentence, exit 1, nothing lost, never a traceback."""

from __future__ import annotations

import os
import pty
import signal
import subprocess
import sys
import tty
from pathlib import Path

import numpy as np
import pytest
import soundfile

from handsfree.cli.group import main
from handsfree.errors import MicrophoneError
from handsfree.ledger.books import Books
from handsfree.ledger.sqlite_store import open_ledger, read_ledger
from handsfree.speech.microphone import list_microphones

ROOT = Path(__file__).parents[2]
SHORT = ROOT / "fixtures" / "sessions" / "short"


class Screen:
    """Runs the command line in this process and keeps what it printed."""

    def __init__(self, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
        self._capsys = capsys
        self._monkeypatch = monkeypatch

    def run(self, *arguments: object) -> tuple[int, str, str]:
        self._monkeypatch.setattr(sys, "argv", ["handsfree", *map(str, arguments)])
        code = 0
        try:
            main()
        except SystemExit as leave:
            code = int(leave.code or 0)
        out, err = self._capsys.readouterr()
        assert "Traceback" not in out + err
        return code, out, err


@pytest.fixture
def screen(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Screen:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.delenv("XDG_CONFIG_HOME", raising=False)
    monkeypatch.delenv("XDG_DATA_HOME", raising=False)
    return Screen(capsys, monkeypatch)


def written(path: Path, text: str) -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, encoding="utf-8")
    return path


@pytest.fixture
def ledger(screen: Screen, tmp_path: Path) -> Path:
    """A small ledger: one open carcass with one piece."""
    file = tmp_path / "small.ledger"
    code, _, err = screen.run(
        "say", "--ledger", file, "ledger new carcass", "ledger tag 417", "left haunch", "ledger weight 4.135"
    )
    assert code == 0, err
    return file


# Sound


@pytest.mark.parametrize(
    ("name", "content", "words"),
    [
        ("none.wav", None, "none.wav"),
        ("empty.wav", b"", "empty"),
        ("text.wav", b"this is no sound at all, only words", "is not a sound file"),
    ],
)
def test_a_sound_file_that_cannot_be_used(
    screen: Screen, tmp_path: Path, name: str, content: bytes | None, words: str
) -> None:
    if content is not None:
        (tmp_path / name).write_bytes(content)
    code, out, err = screen.run("hear", tmp_path / name, "--json")
    assert (code, out) == (1, "")
    assert words in err


@pytest.mark.slow
def test_a_truncated_sound_file_is_heard_to_its_end_and_said_to_be_cut(
    screen: Screen, tmp_path: Path
) -> None:
    session = tmp_path / "cut"
    session.mkdir()
    whole = (SHORT / "audio.wav").read_bytes()
    (session / "audio.wav").write_bytes(whole[: len(whole) // 3])
    for name in ("session.toml", "scale.csv"):
        (session / name).write_bytes((SHORT / name).read_bytes())
    code, out, _ = screen.run("replay", session, "--ledger", tmp_path / "cut.ledger")
    assert code == 0
    assert "cut short" in out or "less" in out or "ends" in out
    assert "417" in out or "carcass" in out.lower()


@pytest.mark.parametrize(("rate_hz", "channels"), [(48_000, 2), (44_100, 1), (8_000, 1)])
def test_any_rate_and_channel_count_is_heard(
    screen: Screen, tmp_path: Path, rate_hz: int, channels: int
) -> None:
    silence = np.zeros((rate_hz, channels), dtype=np.int16)
    soundfile.write(tmp_path / "quiet.wav", silence, rate_hz)
    code, out, err = screen.run("hear", tmp_path / "quiet.wav", "--json")
    assert (code, out, err) == (0, "", "")


def test_a_phrase_file_with_a_word_nobody_can_pronounce(screen: Screen, tmp_path: Path) -> None:
    phrases = written(tmp_path / "phrases.txt", "left haunch\nxqzzt of venison\n")
    code, out, err = screen.run("hear", SHORT / "audio.wav", "--phrases", phrases)
    assert (code, out) == (1, "")
    assert "xqzzt" in err


def has_microphone() -> bool:
    try:
        return bool(list_microphones())
    except MicrophoneError:
        return False


@pytest.mark.skipif(has_microphone(), reason="this machine has a microphone")
def test_without_a_microphone_recording_says_so(tmp_path: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "handsfree", "record", "--ledger", str(tmp_path / "live.ledger")],
        env={**os.environ, "PYTHONPATH": str(ROOT), "HOME": str(tmp_path)},
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert done.returncode == 1
    assert "microphone" in done.stderr
    assert "Traceback" not in done.stderr


def test_without_portaudio_recording_says_what_to_install(tmp_path: Path) -> None:
    # The import of sounddevice fails exactly so where libportaudio2 is not installed.
    written(tmp_path / "stub" / "sounddevice.py", 'raise OSError("PortAudio library not found")\n')
    for verb, code in ((["record", "--ledger", str(tmp_path / "live.ledger")], 1), (["devices"], 0)):
        done = subprocess.run(
            [sys.executable, "-m", "handsfree", *verb],
            env={**os.environ, "PYTHONPATH": f"{tmp_path / 'stub'}:{ROOT}"},
            capture_output=True,
            text=True,
            timeout=60,
            check=False,
        )
        assert done.returncode == code
        assert "apt install libportaudio2" in done.stdout + done.stderr
        assert "Traceback" not in done.stderr


# Words


def own_words(tmp_path: Path, text: str) -> Path:
    words = written(tmp_path / "own.toml", text)
    return written(tmp_path / "handsfree.toml", f'[speech]\nown_words = "{words}"\n')


def test_a_word_of_ones_own_without_pronunciation_is_an_error_at_load(screen: Screen, tmp_path: Path) -> None:
    config = own_words(tmp_path, '[cut.xqzzt]\ndestination = "prime"\n')
    code, _, err = screen.run("replay", SHORT, "--ledger", tmp_path / "x.ledger", "--config", config)
    assert code == 1
    assert "xqzzt" in err
    assert not (tmp_path / "x.ledger").exists()


def test_a_name_that_means_two_cuts_names_file_and_line(screen: Screen, tmp_path: Path) -> None:
    config = own_words(tmp_path, '[cut.neck]\naliases = ["haunch"]\n')
    code, _, err = screen.run("grammar", "check", "--config", config)
    assert code == 1
    assert "own.toml:1" in err
    assert "haunch" in err


def test_a_malformed_grammar_file_names_its_line(screen: Screen, tmp_path: Path) -> None:
    config = own_words(tmp_path, '[cut.neck]\n\naliases = ["scrag end"\ndestination = "dice"\n')
    code, _, err = screen.run("grammar", "list", "--config", config)
    assert code == 1
    assert "own.toml:" in err
    assert "4" in err or "3" in err


def test_a_phrase_that_is_none_is_answered_with_what_it_may_have_meant(screen: Screen) -> None:
    code, out, _ = screen.run("say", "left hanch")
    assert code == 1
    assert "left haunch" in out


# Scales


def bench_on(tmp_path: Path, port: str) -> Path:
    return written(tmp_path / "handsfree.toml", f'[scale.bench]\nport = "{port}"\nd_g = 5\n')


def test_a_serial_port_that_is_not_there(screen: Screen, tmp_path: Path) -> None:
    config = bench_on(tmp_path, "/dev/ttyNOWHERE")
    code, _, err = screen.run(
        "record", "--no-sound", "--quiet", "--ledger", tmp_path / "s.ledger", "--config", config
    )
    assert code == 1
    assert "/dev/ttyNOWHERE is not there" in err


def test_a_capture_of_garbage_holds_no_weight(screen: Screen, tmp_path: Path) -> None:
    garbage = np.random.default_rng(3).integers(0, 256, 4000, dtype=np.uint8).tobytes()
    (tmp_path / "junk.bin").write_bytes(garbage)
    code, out, _ = screen.run("weigh", tmp_path / "junk.bin", "--json")
    assert code == 0
    assert '"indications": []' in out


def test_a_bad_row_of_scale_lines_names_its_line(screen: Screen, tmp_path: Path) -> None:
    session = tmp_path / "bad"
    session.mkdir()
    (session / "session.toml").write_bytes((SHORT / "session.toml").read_bytes())
    written(session / "scale.csv", "seconds,scale,line\n0.1,bench,x\nsoon,bench,y\n")
    code, _, err = screen.run("replay", session, "--ledger", tmp_path / "bad.ledger")
    assert code == 1
    assert "scale.csv:3" in err


# The ledger


def test_a_file_that_is_no_ledger(screen: Screen, tmp_path: Path) -> None:
    file = written(tmp_path / "notes.txt", "milk, eggs\n" * 50)
    code, _, err = screen.run("carcasses", "--ledger", file)
    assert code == 1
    assert "notes.txt" in err
    assert file.read_text(encoding="utf-8").startswith("milk")


def test_a_ledger_that_is_not_there_is_not_made_by_reading(screen: Screen, tmp_path: Path) -> None:
    code, _, err = screen.run("sheet", "--ledger", tmp_path / "none.ledger")
    assert code == 1
    assert "none.ledger" in err
    assert not (tmp_path / "none.ledger").exists()


def test_a_tampered_ledger_names_the_entry(screen: Screen, ledger: Path) -> None:
    import sqlite3

    connection = sqlite3.connect(ledger)
    triggers = connection.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall()
    for (name,) in triggers:
        connection.execute(f'DROP TRIGGER "{name}"')
    table = connection.execute(
        "SELECT name FROM sqlite_master WHERE type = 'table' AND sql LIKE '%digest%'"
    ).fetchone()[0]
    changed = connection.execute(f"UPDATE {table} SET body = replace(body, '4135', '4935')").rowcount  # noqa: S608
    assert changed
    connection.commit()
    connection.close()
    code, _, err = screen.run("verify", "--ledger", ledger)
    assert code == 1
    assert "entry" in err


def test_two_recorders_on_one_ledger(screen: Screen, ledger: Path) -> None:
    first = open_ledger(ledger)
    try:
        code, _, err = screen.run("say", "--ledger", ledger, "left shank")
        assert code == 1
        assert str(os.getpid()) in err
        # reading goes on meanwhile
        assert screen.run("pieces", "--ledger", ledger, "--json")[0] == 0
    finally:
        first.close()


def test_the_same_session_is_not_entered_twice(screen: Screen, tmp_path: Path) -> None:
    session = tmp_path / "silent"
    session.mkdir()
    for name in ("session.toml", "scale.csv"):
        (session / name).write_bytes((SHORT / name).read_bytes())
    file = tmp_path / "twice.ledger"
    assert screen.run("replay", session, "--ledger", file)[0] == 0
    code, _, err = screen.run("replay", session, "--ledger", file)
    assert code == 1
    assert "in this ledger already" in err
    assert screen.run("replay", session, "--ledger", file, "--again")[0] == 0


def test_ctrl_c_in_mid_carcass_ends_in_order_and_the_next_run_carries_on(tmp_path: Path) -> None:
    ours, theirs = pty.openpty()
    tty.setraw(ours)
    tty.setraw(theirs)
    config = bench_on(tmp_path, os.ttyname(theirs))
    file = tmp_path / "live.ledger"
    start = open_ledger(file)
    start.close()
    command = [sys.executable, "-m", "handsfree", "record", "--no-sound", "--quiet"]
    command += ["--ledger", str(file), "--config", str(config)]
    with subprocess.Popen(
        command,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    ) as live:
        assert live.stdout is not None
        assert "listening" in live.stdout.readline()
        os.write(ours, b"ST,GS,+  0.000kg\r\n" * 3)
        live.send_signal(signal.SIGINT)
        out, err = live.communicate(timeout=30)
    assert live.returncode == 0, err
    assert "Ended in order" in out
    assert "Traceback" not in err
    store = read_ledger(file)
    kinds = [type(entry.body).__name__ for entry in store.entries()]
    store.close()
    assert kinds[0] == "SessionBegan"
    assert kinds[-1] == "SessionEnded"


# Options, settings, reconciliation


def test_an_unknown_option_is_wrong_usage(screen: Screen) -> None:
    assert screen.run("sheet", "--colour")[0] == 2


def test_faulty_settings_are_told_before_anything_is_opened(screen: Screen, tmp_path: Path) -> None:
    config = written(tmp_path / "handsfree.toml", '[speech]\nengine = "ears"\n')
    code, _, err = screen.run("record", "--config", config, "--ledger", tmp_path / "x.ledger")
    assert code == 1
    assert "handsfree.toml:2" in err
    assert not (tmp_path / "x.ledger").exists()


@pytest.mark.parametrize(
    ("text", "words"),
    [("{", "JSON"), ('{"format": 1, "pieces": [{"cut": "neck", "net_g": "heavy"}]}', "pieces")],
)
def test_a_document_that_cannot_be_reconciled(screen: Screen, tmp_path: Path, text: str, words: str) -> None:
    code, out, err = screen.run("reconcile", "--from", written(tmp_path / "in.json", text), "--json")
    assert (code, out) == (1, "")
    assert words in err


def test_correcting_a_piece_that_is_not_there_enters_nothing(screen: Screen, ledger: Path) -> None:
    before = _entries(ledger)
    code, _, err = screen.run("amend", "strike", 99, "--reason", "slip", "--ledger", ledger)
    assert code == 1
    assert "99" in err
    assert _entries(ledger) == before


def test_a_report_that_cannot_be_written_leaves_the_ledger_alone(
    screen: Screen, ledger: Path, tmp_path: Path
) -> None:
    written(tmp_path / "folder", "a file where a folder should be")
    code, _, err = screen.run("sheet", "--ledger", ledger, "--html", tmp_path / "folder" / "x.html")
    assert code == 1
    assert "could not be written" in err


def _entries(ledger: Path) -> int:
    store = read_ledger(ledger)
    try:
        entries = list(store.entries())
        assert Books(entries).carcasses
        return len(entries)
    finally:
        store.close()
