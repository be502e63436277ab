"""Who works at the bench, as the entries tell it."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from handsfree.ledger import entries as e

#: So many changes of butcher are kept in mind by a restart, for taking them back.
KNOWN_CHANGES = 12


@dataclass(frozen=True, slots=True)
class ButcherSet:
    """One time that a butcher came to the bench, as it stands now."""

    seq: int
    """Sequence number of the entry that says so."""
    number: int
    """0 when only the name was given."""
    name: str
    """Empty for nobody."""
    t_ns: int = 0
    """Time within the session that wrote it."""
    struck: bool = False

    def words(self) -> str:
        """How the butcher is named in writing: "butcher 2, Morag", "Morag", "nobody"."""
        if not self.name:
            return "nobody"
        return f"butcher {self.number}, {self.name}" if self.number else self.name


@dataclass(slots=True)
class Bench:
    """The butchers at the bench, one after another; the last that stands works there now."""

    changes: dict[int, ButcherSet] = field(default_factory=dict)
    """By sequence number, in order, struck ones included."""
    since: int = 0
    """Sequence number of the last entry that took a carcass in hand or put one out of it."""

    @property
    def butcher(self) -> ButcherSet | None:
        """Who works there now, None where nobody was ever named."""
        return self._last_after(0)

    @property
    def name(self) -> str:
        """The name of who works there now; empty for nobody."""
        return self.butcher.name if self.butcher is not None else ""

    def last_change(self) -> ButcherSet | None:
        """The newest standing change while the carcass in hand was, or while none was."""
        return self._last_after(self.since)

    def name_at(self, t_ns: int, *, began: int) -> str:
        """Who worked there at a time of the session that writes now; empty for nobody.

        Args:
            t_ns: Time within that session.
            began: Sequence number of its first entry.
        """
        for change in reversed(self.changes.values()):
            if not change.struck and (change.seq < began or change.t_ns <= t_ns):
                return change.name
        return ""

    def put(self, body: e.ButcherChanged, entry: e.Entry) -> None:
        """Take a change into account."""
        self.changes[entry.seq] = ButcherSet(entry.seq, body.number, body.name, entry.t_ns)

    def strike(self, seq: int, *, struck: bool) -> None:
        """Take a change back, or put it back."""
        self.changes[seq] = replace(self.changes[seq], struck=struck)

    def copied(self) -> Bench:
        """A bench in the same state that can go its own way."""
        return Bench(dict(self.changes), self.since)

    def _last_after(self, seq: int) -> ButcherSet | None:
        found = [each for each in self.changes.values() if not each.struck and each.seq > seq]
        return found[-1] if found else None
