"""One butcher at a natural pace: acts follow each other as hands and mouth allow.

`Bench` keeps the time and what stands on the scales, so a scenario is written as a story ("call it,
put it on, leave it in the tray") and comes out as timed acts and truth. Seeded: the small
irregularities of a person are the same every time. No synthesiser is asked: speech is given the time
of `spoken_s`, so scale streams and truth can be made again where no voice is installed.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from handsfree.testing.rehearsal.scenario import (
    BUTCHER,
    Act,
    Dropout,
    Noise,
    Put,
    Say,
    Take,
    Touch,
    TruthRow,
    rounded_g,
    spoken_s,
)

SETTLE_S = 1.3
"""From a mass touching the pan to a plateau the recorder has reported, at most (common practice:
a bench scale settles within a second, and the recorder wants to see the value stand)."""


@dataclass(frozen=True, slots=True)
class Cut:
    """A piece to be weighed: its true name, its true mass and how it is called."""

    cut: str
    mass_g: float
    side: str = ""
    count: int = 1
    destination: str = ""
    said: str = ""
    """The words of the call; made from the name when empty."""
    elsewhere: bool = False
    """Whether it goes where such pieces do not go by themselves."""

    def words(self) -> str:
        """What the butcher says."""
        return self.said or f"{self.side} {self.cut}".strip()


class Bench:
    """The butcher, the block and the scales, with a running clock.

    Args:
        d_g: Scale interval of each scale in grams, by name: truth is rounded to it.
        seed: For the irregularities of a person.
    """

    def __init__(self, d_g: dict[str, int], seed: int) -> None:
        self.now_s = 0.0
        self.acts: list[Act] = []
        self.truth: list[TruthRow] = []
        self.container_g = 0.0
        self._d_g = d_g
        self._standing: dict[str, float] = dict.fromkeys(d_g, 0.0)
        self._rng = np.random.default_rng(seed)

    def about(self, seconds: float, spread: float = 0.25) -> float:
        """A time that a person means by `seconds`: uniform within the relative spread."""
        return float(seconds * self._rng.uniform(1 - spread, 1 + spread))

    def wait(self, seconds: float, spread: float = 0.25) -> None:
        """Knife work, more or less this long."""
        self._go(self.about(seconds, spread))

    def pause(self, seconds: float) -> None:
        """A breath between two calls, in which nothing else is attended to."""
        self._go(self.about(seconds))

    def say(self, text: str, speaker: str = BUTCHER, *, pace: float = 1.0) -> None:
        """A call, command or answer."""
        self.acts.append(Say(self.now_s, text, speaker, pace=pace))
        self._go(spoken_s(text) * pace)

    def command(self, text: str, answer: str) -> None:
        """A command; `answer` is how the recorder's answer to it begins, for those who listen."""
        self.say(text)

    def see_to(self, *pieces: Cut) -> None:
        """Called pieces have been laid down: whoever listens sees to it that they are taken."""

    def talk(self, text: str, speaker: str = BUTCHER) -> None:
        """Talk that is no call; noted in the truth."""
        self.note("chatter")
        self.acts.append(Say(self.now_s, text, speaker, to_recorder=False))
        self._go(spoken_s(text))

    def noise(self, kind: str, seconds: float, level_db: float) -> None:
        """A sound that starts now; the butcher goes on meanwhile."""
        self.note("noise", cut=kind)
        self.acts.append(Noise(self.now_s, kind, seconds, level_db))

    def put(self, mass_g: float, scale: str = "bench") -> None:
        """Lay a mass on and wait until the scale has settled."""
        self.acts.append(Put(self.now_s, scale, mass_g))
        self._standing[scale] += mass_g
        self._go(SETTLE_S)

    def take(self, mass_g: float, scale: str = "bench") -> None:
        """Take a mass off and wait until the scale has settled."""
        self.acts.append(Take(self.now_s, scale, mass_g))
        self._standing[scale] -= mass_g
        self._go(SETTLE_S)

    def touch(self, mass_g: float, seconds: float, scale: str = "bench") -> None:
        """Lean on the pan for a moment."""
        self.acts.append(Touch(self.now_s, scale, mass_g, seconds))
        self._go(seconds + 1.0)

    def dropout(self, seconds: float, scale: str = "bench") -> None:
        """The scale sends nothing from now on; the butcher waits it out."""
        self.note("dropout", cut=scale)
        self.acts.append(Dropout(self.now_s, scale, seconds))
        self._go(seconds + 0.5)

    def hang(self, mass_g: float) -> None:
        """The carcass on the rail scale, its dressed weight taken, and off to the block."""
        self.put(mass_g, "rail")
        self._go(self.about(1.5))
        self.note("dressed", net_g=rounded_g(mass_g, self._d_g["rail"]))
        self.command("ledger dressed weight", "dressed weight")
        self.wait(3.5)
        self.take(mass_g, "rail")

    def tray(self, mass_g: float) -> None:
        """An empty tray on the bench, told to the recorder."""
        self.put(mass_g)
        self.container_g = mass_g
        self._go(self.about(0.6))
        self.note("container", net_g=rounded_g(mass_g, self._d_g["bench"]))
        self.command("ledger tray", "tray")
        self.wait(2.0)

    def swap_tray(self) -> None:
        """The full tray off, the same kind of tray back on, empty; nothing said."""
        full_g = self._standing["bench"]
        self.take(full_g)
        self.wait(1.5)
        self.put(self.container_g)
        self.note("container", net_g=rounded_g(self.container_g, self._d_g["bench"]))
        self.wait(1.0)

    def call_then_weigh(self, piece: Cut, *, clear: bool = False, event: str = "piece") -> None:
        """Called while it is lifted, then laid on; `event` is "struck" when it is to be taken back."""
        self.say(piece.words())
        self._go(self.about(0.9, 0.5))
        self.lay(piece, event=event)
        self._go(self.about(1.3))
        self.see_to(piece)
        self._maybe_clear(piece, clear=clear)

    def weigh_then_call(self, piece: Cut, *, clear: bool = False, final: Cut | None = None) -> None:
        """Laid on, and called when it lies; `final` is what it truly is when the call is wrong."""
        self.lay(final or piece)
        self._go(self.about(0.7, 0.6))
        self.say(piece.words())
        self._go(self.about(1.3))
        self.see_to(piece)
        self._maybe_clear(piece, clear=clear)

    def call_while_placing(self, piece: Cut, *, clear: bool = False) -> None:
        """Called as it touches the pan."""
        self.note_piece("piece", piece)
        start_s = self.now_s
        self.acts.append(Say(start_s, piece.words()))
        self._go(self.about(0.3, 0.5))
        self.put(piece.mass_g)
        self._go(max(0.0, start_s + spoken_s(piece.words()) - self.now_s) + self.about(0.8))
        self.see_to(piece)
        self._maybe_clear(piece, clear=clear)

    def note(self, event: str, *, cut: str = "", net_g: int | None = None) -> None:
        """One row of truth, now."""
        self.truth.append(TruthRow(round(self.now_s, 3), event, cut=cut, net_g=net_g))

    def note_piece(self, event: str, piece: Cut) -> None:
        """One row of truth about a piece, now."""
        self.truth.append(
            TruthRow(
                round(self.now_s, 3),
                event,
                piece.cut,
                piece.side,
                piece.count,
                rounded_g(piece.mass_g, self._d_g["bench"]),
                piece.destination,
            )
        )

    def lay(self, piece: Cut, *, event: str = "piece") -> None:
        """Lay a piece on without a word; the truth has it as what it is here."""
        self.note_piece(event, piece)
        self.put(piece.mass_g)

    def _maybe_clear(self, piece: Cut, *, clear: bool) -> None:
        if clear:
            self.take(piece.mass_g)

    def _go(self, seconds: float) -> None:
        self.now_s += max(0.0, seconds)
