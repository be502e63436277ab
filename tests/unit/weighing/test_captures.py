"""Recorded scales: raw bytes, scale.csv, and writing the latter."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from handsfree.errors import ConfigError, SessionError
from handsfree.testing.bench_scale import BenchScale, Dropout, Put, Take
from handsfree.testing.scripted_scale import ScriptedTransport, chunks_of
from handsfree.weighing.account import weigh_all
from handsfree.weighing.capture import CaptureTransport, open_capture, read_scale_csv
from handsfree.weighing.ports import Chunk, Ended, Lost, Nothing, Received
from handsfree.weighing.recording import CaptureWriter
from handsfree.weighing.shapes import find_shapes
from handsfree.weighing.weigher import Weigher

AUTO = find_shapes("auto")


def all_of(transport: CaptureTransport) -> list[Chunk]:
    found = []
    while isinstance(received := transport.receive(0.0), Chunk):
        found.append(received)
    assert isinstance(received, Ended)
    return found


def test_a_raw_capture_is_paced_by_its_lines(tmp_path: Path):
    path = tmp_path / "bench.bin"
    path.write_bytes(b"1 kg\r\n2 kg\r\n\x02  3\x034")
    (transport,) = open_capture(path, scale="rail", lines_per_s=5)
    assert transport.scale == "rail"
    assert all_of(transport) == [
        Chunk(200_000_000, b"1 kg\r\n"),
        Chunk(400_000_000, b"2 kg\r\n"),
        Chunk(600_000_000, b"\x02  3\x03"),
        Chunk(800_000_000, b"4"),
    ]


def test_scale_csv_gives_each_scale_its_own_lines(tmp_path: Path):
    path = tmp_path / "scale.csv"
    path.write_text(
        "seconds,scale,line\n"
        '0.1,bench,"ST,GS   1.234,kg"\n0.15,rail,  12.5 kg\n0.2,bench,"ST,GS   1.235,kg"\n'
    )
    bench, rail = open_capture(path)
    assert (bench.scale, rail.scale) == ("bench", "rail")
    assert bench.next_ns == 100_000_000
    assert all_of(bench) == [
        Chunk(100_000_000, b"ST,GS   1.234,kg\r\n"),
        Chunk(200_000_000, b"ST,GS   1.235,kg\r\n"),
    ]
    assert all_of(rail) == [Chunk(150_000_000, b"  12.5 kg\r\n")]


def test_rows_that_bring_their_line_ends_are_the_bytes_as_they_came(tmp_path: Path):
    path = tmp_path / "scale.csv"
    path.write_text("seconds,scale,line\n0.1,bench,1.0 kg\\r\\n\n0.2,bench,2\n1.2,bench,\\x02 3\\x03\n")
    (bench,) = read_scale_csv(path)
    assert [chunk.data for chunk in all_of(bench)] == [b"1.0 kg\r\n", b"2", b"\x02 3\x03"]


def test_a_line_with_commas_written_without_quotes_is_one_line(tmp_path: Path):
    path = tmp_path / "scale.csv"
    path.write_bytes(b"\xef\xbb\xbfseconds,scale,line\r\n0.1,bench,ST,GS   1.234,kg\r\n")
    (bench,) = read_scale_csv(path)
    assert [chunk.data for chunk in all_of(bench)] == [b"ST,GS   1.234,kg\r\n"]


def test_every_bad_row_is_told_with_its_line(tmp_path: Path):
    path = tmp_path / "scale.csv"
    path.write_text(
        "seconds,scale,line\n0.3,bench,1 kg\nsoon,bench,1 kg\n0.2,bench,1 kg\n-1,bench,1 kg\nnan,bench,1 kg\n"
        "0.4,bench\n0.5,,1 kg\n0.6,bench,1\\q kg\n"
    )
    with pytest.raises(SessionError) as caught:
        read_scale_csv(path)
    for line in range(3, 10):
        assert f"{path}:{line}: " in str(caught.value)


@pytest.mark.parametrize("text", ["", "t,scale,line\n", "0.1,bench,1 kg\n"])
def test_a_csv_without_its_header_is_a_session_error(tmp_path: Path, text: str):
    path = tmp_path / "scale.csv"
    path.write_text(text)
    with pytest.raises(SessionError, match=r"scale\.csv:1: .*seconds,scale,line"):
        read_scale_csv(path)


def test_a_missing_or_binary_file_is_a_session_error(tmp_path: Path):
    with pytest.raises(SessionError, match="No such file"):
        open_capture(tmp_path / "none")
    (tmp_path / "scale.csv").write_bytes(b"seconds,scale,line\n0.1,bench,\xff\n")
    with pytest.raises(SessionError, match="UTF-8"):
        open_capture(tmp_path / "scale.csv")
    raw = tmp_path / "raw.bin"
    raw.write_bytes(b"1 kg\r\n")
    with pytest.raises(ConfigError, match="pace"):
        open_capture(raw, lines_per_s=0)


def live(received: list[Received], path: Path) -> list[object]:
    """What a live session weighs while it keeps its scale."""
    weigher = Weigher("bench", AUTO, 5_000)
    found: list[object] = []
    with CaptureWriter(path) as writer:
        for each in received:
            writer.feed("bench", each)
            found += weigher.feed(each)
    return found


def test_a_replay_of_a_kept_session_weighs_what_the_live_one_did(tmp_path: Path):
    scale = BenchScale("bench", 5, 15, 10, seed=8)
    lines = chunks_of(scale.run([Put(2, 1250), Dropout(5, 4), Put(6, 300), Take(12, 1550)], 15))
    # Chunks as a driver gives them: cut anywhere.
    received: list[Received] = []
    for number, chunk in enumerate(lines):
        at = number % len(chunk.data)
        pieces = [chunk.data[:at], chunk.data[at:]]
        received += [Chunk(chunk.t_ns + 1000 * i, piece) for i, piece in enumerate(pieces) if piece]
        if number == 20:
            received += [Chunk(chunk.t_ns + 2000, b"ST,GS   9"), Nothing(chunk.t_ns + 3000)]
    received.append(Ended(received[-1].t_ns))
    path = tmp_path / "scale.csv"
    found = live(received, path)
    (transport,) = read_scale_csv(path)
    weigher = Weigher("bench", AUTO, 5_000)
    replayed = [message for chunk in all_of(transport) for message in weigher.feed(chunk)]
    replayed += weigher.feed(Ended(received[-1].t_ns))
    assert replayed == found
    assert sum(type(each).__name__ == "LoadChange" for each in found) == 3


def test_a_line_cut_by_an_unplugged_cable_is_torn_in_the_replay_too(tmp_path: Path):
    s = 1_000_000_000
    received: list[Received] = [Chunk(s + i * s // 10, b"   10.000 kg\r\n") for i in range(10)]
    received += [Chunk(2 * s, b"  1"), Lost(2 * s, "gone"), Chunk(4 * s, b"2.345 kg\r\n"), Ended(4 * s)]
    path = tmp_path / "scale.csv"
    live(received, path)
    account = weigh_all(read_scale_csv(path)[0], Weigher("bench", AUTO))
    assert {each["text"] for each in account["indications"]} == {"10.000 kg"}


def test_rows_are_in_the_file_before_the_next_is_taken(tmp_path: Path):
    path = tmp_path / "scale.csv"
    writer = CaptureWriter(path)
    writer.feed("bench", Chunk(1_234_567_891, b"ST,GS   1.234,kg\r\nST"))
    assert path.read_text() == 'seconds,scale,line\n1.234567891,bench,"ST,GS   1.234,kg\\r\\n"\n'
    writer.close()
    writer.close()
    assert path.read_text().endswith("1.234567891,bench,ST\n")


def test_a_second_writer_appends_without_a_second_header(tmp_path: Path):
    path = tmp_path / "scale.csv"
    for t_ns in (1_000_000_000, 2_000_000_000):
        with CaptureWriter(path) as writer:
            writer.feed("bench", Chunk(t_ns, b"1 kg\r\n"))
    assert path.read_text().splitlines() == [
        "seconds,scale,line",
        "1.000000000,bench,1 kg\\r\\n",
        "2.000000000,bench,1 kg\\r\\n",
    ]


def test_a_full_disk_is_a_session_error():
    full = Path("/dev/full")
    if not full.exists():
        pytest.skip("no /dev/full on this system")
    with pytest.raises(SessionError, match="No space left"):
        CaptureWriter(full)


def test_a_folder_that_is_not_there_is_a_session_error(tmp_path: Path):
    with pytest.raises(SessionError, match="No such file"):
        CaptureWriter(tmp_path / "none" / "scale.csv")


def test_the_account_of_a_stream_is_plain_data():
    scale = BenchScale("bench", 5, 15, 10, seed=8)
    script = [*chunks_of(scale.run([Put(2, 1250)], 5)), Chunk(5_100_000_000, b"hello\r\n")]
    account = weigh_all(ScriptedTransport("bench", script), Weigher("bench", AUTO, 5_000))
    assert json.loads(json.dumps(account)) == account
    assert (account["scale"], account["shape"], account["torn"]) == ("bench", "status_comma", 2)
    (change,) = account["load_changes"]
    assert (change["delta_g"], change["before"], change["after"]) == (1250.0, "0.000 kg", "1.250 kg")
    assert len(account["plateaus"]) == 2
    assert account["torn_frames"][-1]["line"] == "hello"
