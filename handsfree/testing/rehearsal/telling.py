"""Tells an invented carcass as a butcher would live it: who says what when, what is laid down. Pure.

Habits are chances; the same seed tells the same story. Without ears nothing answers the recorder's
questions: what is asked about counts as asked about. With ears the butcher listens (`attentive`).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from handsfree.answering.spoken import digit_words
from handsfree.speech.numbers import digits_from_words
from handsfree.testing.rehearsal.attentive import Attention, AttentiveBench
from handsfree.testing.rehearsal.chatter import SENTENCES
from handsfree.testing.rehearsal.ears import Ears
from handsfree.testing.rehearsal.invention import InventedCarcass
from handsfree.testing.rehearsal.pace import Bench, Cut
from handsfree.testing.rehearsal.scenario import BUTCHER, Scale, Scenario, Speaker


@dataclass(frozen=True, slots=True)
class Habits:
    """How this butcher works; shares of pieces, 0 to 1. The rest is called after it lies."""

    calls_first: float = 0.55
    while_placing: float = 0.15
    in_batches: float = 0.0
    """Two laid down, then both named in order."""
    strikes: float = 0.03
    """Taken back at once, trimmed, weighed again."""
    corrects: float = 0.03
    """Called by the wrong side, and put right with "that was"."""
    knife_work_s: float = 3.0
    """Between pieces."""
    tray: bool = True
    """Pieces gather in a tray that is swapped when full; else the pan is cleared each time."""


@dataclass(frozen=True, slots=True)
class Room:
    """What else is heard."""

    bed: tuple[tuple[str, float], ...] = (("fridge fan", -20.0),)
    """Sounds that never stop: (kind, or path of a recording after "file:"; dB beside the butcher)."""
    chatter: float = 0.1
    """Talk that is no call, per piece."""
    talk: Sequence[str] = ()
    """Recordings of talk laid in beside the invented sentences, as kinds "file:PATH"."""
    bangs: float = 0.1
    """Single loud sounds, per piece."""


@dataclass(frozen=True, slots=True)
class Faults:
    """What goes wrong with the scale and the hands, per piece."""

    dropouts: float = 0.01
    touches: float = 0.03
    missing: float = 0.0
    """Pieces that are neither called nor weighed."""


@dataclass(frozen=True, slots=True)
class Cast:
    """Who is in the room and what stands there."""

    butcher: Speaker
    others: Sequence[Speaker] = ()
    bench: Scale = field(default_factory=lambda: Scale(d_g=5, max_kg=15, shape="status_comma"))
    rail: Scale = field(
        default_factory=lambda: Scale(d_g=20, max_kg=100, shape="question_mark", settle_s=1.8, damping=0.35)
    )


END_S = 4.0
"""After the last word."""

_TRAY_G = 1180.0
_TRAY_FULL_G = 8000.0
_BANGS = (
    ("clatter", 1.2, -8.0),
    ("dog", 1.8, -10.0),
    ("chops", 2.0, -6.0),
    ("saw", 3.0, -6.0),
    ("water", 3.0, -14.0),
)


def tell(
    carcass: InventedCarcass,
    cast: Cast,
    *,
    habits: Habits | None = None,
    room: Room | None = None,
    faults: Faults | None = None,
    seed: int = 1,
    start: str = "2026-11-17T08:00:00+00:00",
    plan: str = "",
    tag: str = "",
    ears: Callable[[Scenario], Ears] | None = None,
    attention: Attention | None = None,
) -> Scenario:
    """The carcass from the rail to the close.

    Args:
        carcass: What is cut.
        cast: Who is in the room.
        habits: How the butcher works.
        room: What else is heard.
        faults: What goes wrong.
        seed: Another seed, another story.
        start: RFC 3339 wall time of second 0.
        plan: The cut plan, told to the recorder in the session's description.
        tag: The carcass's tag in spoken digits; empty is not told.
        ears: Makes the ears of the butcher from the scene, in which nothing has happened yet; None for
            a butcher who does not listen.
        attention: How well the butcher listens.
    """
    room = room or Room()
    speakers = {BUTCHER: cast.butcher} | {f"colleague {n}": each for n, each in enumerate(cast.others, 1)}
    scene = Scenario(
        title=f"an invented carcass, seed {seed}",
        start=start,
        duration_s=0.0,
        acts=(),
        truth=(),
        speakers=speakers,
        scales={"bench": cast.bench, "rail": cast.rail},
        seed=seed,
        bed=room.bed,
        plan=plan,
    )
    d_g = {"bench": cast.bench.d_g, "rail": cast.rail.d_g}
    bench = Bench(d_g, seed)
    if ears is not None:
        bench = AttentiveBench(d_g, seed, ears(scene), attention or Attention())
    _Story(carcass, cast, habits or Habits(), room, faults or Faults(), seed, bench).whole(tag)
    return replace(
        scene,
        duration_s=round(bench.now_s + END_S, 1),
        acts=tuple(bench.acts),
        truth=tuple(bench.truth),
    )


class _Story:
    def __init__(
        self,
        carcass: InventedCarcass,
        cast: Cast,
        habits: Habits,
        room: Room,
        faults: Faults,
        seed: int,
        bench: Bench,
    ) -> None:
        self._carcass, self._cast = carcass, cast
        self._habits, self._room, self._faults = habits, room, faults
        self._rng = np.random.default_rng([seed, 7])
        self._bench = bench
        self._on_tray_g = 0.0

    def whole(self, tag: str) -> None:
        bench = self._bench
        bench.wait(3.0)
        bench.note("carcass")
        bench.command("ledger new carcass", "new carcass")
        bench.wait(2.0)
        if tag:
            bench.command(f"ledger tag {tag}", f"tag {digit_words(digits_from_words(tag))}")
            bench.wait(2.0)
        bench.hang(self._carcass.dressed_g)
        bench.wait(1.5)
        if self._habits.tray:
            bench.tray(_TRAY_G)
        self._pieces(list(self._carcass.pieces))
        bench.wait(6.0, 0.1)
        bench.note("close")
        bench.command("ledger close carcass", "carcass")
        bench.wait(2.0)

    def _pieces(self, pieces: list[Cut]) -> None:
        while pieces:
            piece = pieces.pop(0)
            self._meanwhile()
            if self._happens(self._faults.missing):
                self._bench.note_piece("missing", piece)
                continue
            second = pieces[0] if pieces else None
            # "Same again" names the piece before, so it is never told out of turn.
            if (
                second
                and piece.mass_g + second.mass_g < self._cast.bench.max_kg * 500
                and "same again" not in {piece.said, second.said}
                and self._happens(self._habits.in_batches)
            ):
                self._batch(piece, pieces.pop(0))
            else:
                self._one(piece)
            self._bench.wait(self._habits.knife_work_s)

    def _one(self, piece: Cut) -> None:
        bench, habits, clear = self._bench, self._habits, not self._habits.tray
        self._room_in_tray(piece.mass_g * 1.1)
        if piece.said != "same again" and self._happens(habits.strikes):
            untrimmed = replace(piece, mass_g=piece.mass_g * 1.08)
            bench.call_then_weigh(untrimmed, event="struck")
            bench.wait(1.5)
            bench.command("ledger strike that", "struck")
            bench.wait(1.5)
            bench.take(untrimmed.mass_g)
            bench.wait(3.0)
        how = self._rng.random()
        if piece.side and self._happens(habits.corrects):
            other = "right" if piece.side == "left" else "left"
            called = replace(piece, side=other, said=piece.said.replace(piece.side, other))
            bench.weigh_then_call(called, final=piece)
            bench.wait(2.0)
            bench.note_piece("renamed", piece)
            bench.command(f"ledger that was {piece.side} {piece.cut}", "now")
            bench.wait(1.0)
            if clear:
                bench.take(piece.mass_g)
        elif how < habits.calls_first:
            bench.call_then_weigh(piece, clear=clear)
        elif how < habits.calls_first + habits.while_placing:
            bench.call_while_placing(piece, clear=clear)
        else:
            bench.weigh_then_call(piece, clear=clear)
        self._on_tray_g += piece.mass_g

    def _batch(self, first: Cut, second: Cut) -> None:
        bench = self._bench
        self._room_in_tray(first.mass_g + second.mass_g)
        bench.lay(first)
        bench.wait(0.6)
        bench.lay(second)
        bench.wait(0.6)
        for piece in (first, second):
            bench.say(piece.words())
            bench.pause(0.7)
        bench.see_to(first, second)
        if not self._habits.tray:
            bench.take(first.mass_g + second.mass_g)
        self._on_tray_g += first.mass_g + second.mass_g

    def _room_in_tray(self, mass_g: float) -> None:
        if self._habits.tray and self._on_tray_g and self._on_tray_g + mass_g > _TRAY_FULL_G:
            self._bench.swap_tray()
            self._on_tray_g = 0.0

    def _meanwhile(self) -> None:
        bench = self._bench
        if self._happens(self._room.chatter):
            self._chat()
            bench.wait(1.2)
        if self._happens(self._room.bangs):
            kind, seconds, level_db = _BANGS[int(self._rng.integers(len(_BANGS)))]
            bench.noise(kind, seconds, level_db)
            bench.wait(1.0)
        if self._happens(self._faults.touches):
            bench.touch(float(self._rng.uniform(200, 900)), 0.5)
        if self._happens(self._faults.dropouts):
            bench.dropout(3.0)

    def _chat(self) -> None:
        number = int(self._rng.integers(len(SENTENCES) + len(self._room.talk)))
        if number >= len(SENTENCES):
            bench = self._bench
            bench.noise(self._room.talk[number - len(SENTENCES)], 3.5, -8.0)
            bench.wait(3.8, 0.02)
            return
        others = [f"colleague {n}" for n in range(1, len(self._cast.others) + 1)]
        self._bench.talk(SENTENCES[number], str(self._rng.choice([BUTCHER, *others])))

    def _happens(self, chance: float) -> bool:
        return bool(self._rng.random() < chance)
