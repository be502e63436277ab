from __future__ import annotations

from collections import Counter
from contextlib import closing
from pathlib import Path

from handsfree.ledger.entries import NoteMade
from handsfree.ledger.sqlite_store import open_ledger, read_ledger
from handsfree.testing.killed_recorder import Answered, KilledRecorder

LIVES = 25


def test_a_killed_recorder_loses_and_doubles_no_answered_entry_and_leaves_no_half_batch(
    tmp_path: Path,
) -> None:
    path = tmp_path / "ledger.db"
    answered: list[Answered] = []
    with KilledRecorder(path, seed=20260131) as recorder:
        for _ in range(LIVES):
            answered += recorder.live_and_die(0.25)
            if path.exists() and path.stat().st_size:
                with closing(read_ledger(path)) as reader:
                    reader.verify()
    with closing(open_ledger(path)) as store:
        found = store.verify()
        entries = list(store.entries())
    assert answered, "no life was long enough to answer anything"
    assert found.count == len(entries) >= sum(batch.count for batch in answered)
    for batch in answered:
        assert entries[batch.first + batch.count - 2].digest == batch.digest
    texts = [entry.body.text for entry in entries if isinstance(entry.body, NoteMade)]
    assert max(Counter(texts).values()) == 1
    parts = Counter(text.rsplit("/", 1)[0] for text in texts)
    assert all(parts[text.rsplit("/", 1)[0]] == int(text.rsplit(" ", 1)[1]) for text in texts)
