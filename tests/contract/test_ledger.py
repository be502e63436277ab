from __future__ import annotations

from pathlib import Path

import pytest

from handsfree.ledger.ports import LedgerStore
from handsfree.ledger.sqlite_store import SqliteStore, open_ledger
from handsfree.testing.ledger_contract import LedgerContract
from handsfree.testing.memory_store import MemoryStore


class TestMemoryStore(LedgerContract):
    def make(self) -> MemoryStore:
        return MemoryStore()

    def reopened(self, store: LedgerStore) -> MemoryStore:
        assert isinstance(store, MemoryStore)
        again = MemoryStore()
        again.rows = list(store.rows)
        return again


class TestSqliteStore(LedgerContract):
    @pytest.fixture(autouse=True)
    def _place(self, tmp_path: Path):
        self.path = tmp_path / "ledger.db"
        self.made: list[SqliteStore] = []
        yield
        for store in self.made:
            store.close()

    def make(self) -> SqliteStore:
        self.made.append(open_ledger(self.path))
        return self.made[-1]

    def reopened(self, store: LedgerStore) -> SqliteStore:
        store.close()
        return self.make()
