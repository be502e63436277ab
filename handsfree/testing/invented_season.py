"""Years of closed carcasses of an invented larder, written as a real ledger: for tests and figures.

No real place, person or animal. Carcasses of four species are cut on two benches to about thirty
weighings each; the portions' evenness, the loss and its scatter are drawn. From `Drift.carcass` on one
bench loses more, so that there is something to be found.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from contextlib import closing
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from random import Random

from handsfree.ledger import entries as e
from handsfree.ledger import queries
from handsfree.ledger.digest import ZERO_DIGEST, chain, rfc3339
from handsfree.ledger.ports import LedgerStore
from handsfree.ledger.sqlite_store import open_ledger

#: Species, sex, median dressed weight in kg (Best-known ranges rounded, from memory) and how often.
_KINDS = (
    ("fallow", "doe", 24.0, 0.35),
    ("fallow", "buck", 38.0, 0.15),
    ("roe deer", "doe", 13.0, 0.2),
    ("red deer", "hind", 45.0, 0.2),
    ("red deer", "stag", 72.0, 0.1),
)

# cut, sides or weighings, pieces in each, destination, share of the dressed weight of each weighing
_CUTS: tuple[tuple[str, Sequence[str], int, str, float], ...] = (
    ("fillet", ("left", "right"), 1, "prime", 0.006),
    ("loin", ("left", "right"), 1, "prime", 0.035),
    ("haunch steaks", ("", ""), 4, "prime", 0.030),
    ("topside", ("left", "right"), 1, "prime", 0.031),
    ("silverside", ("left", "right"), 1, "prime", 0.029),
    ("shank", ("left", "right"), 1, "prime", 0.022),
    ("double chops", ("", ""), 3, "prime", 0.022),
    ("cutlets", ("",), 6, "prime", 0.020),
    ("shoulder", ("left", "right"), 1, "dice", 0.072),
    ("neck", ("",), 1, "dice", 0.070),
    ("breast", ("left", "right"), 1, "mince", 0.024),
    ("flank", ("left", "right"), 1, "mince", 0.016),
    ("mince", ("",), 1, "mince", 0.050),
    ("burger trim", ("",), 1, "mince", 0.024),
    ("fat", ("",), 1, "waste", 0.010),
    ("pet trim", ("",), 1, "pet", 0.018),
    ("bone", ("", ""), 1, "stock", 0.088),
    ("waste", ("",), 1, "waste", 0.008),
)
_D_MG = 5_000
_EXPECTED_LOSS = 0.0068
#: Sundays off, and nothing in May and June.
_FIRST_DAY = datetime(2016, 7, 4, 7, 30, tzinfo=UTC)


def _believed() -> tuple[dict[str, str | float], ...]:
    """As long as a closing's is that has learned the shares of its cuts."""
    found: list[dict[str, str | float]] = [
        {"what": "cutting", "fraction": _EXPECTED_LOSS, "sd": 0.0025, "carcasses": 40},
        {"what": "drip", "fraction": 0.001, "sd": 0.001},
    ]
    for cut, _, _, _, share in _CUTS:
        found.append({"what": cut, "share": share, "spread": 0.08, "carcasses": 40, "of": "any species"})
    return tuple(found)


_BELIEVED = _believed()


@dataclass(frozen=True, slots=True)
class Drift:
    """From one carcass on, a bench loses more of each."""

    carcass: int
    bench: str = "bench two"
    loss: float = 0.006


@dataclass(frozen=True, slots=True)
class Event:
    """Bodies that are entered at one time."""

    posted_at: str
    bodies: list[e.Body]


def season_events(
    carcasses: int, *, seed: int = 1, a_year: int = 3000, drift: Drift | None = None, corrected: float = 0.03
) -> Iterator[Event]:
    """What is entered, in order, each with its time: the opening and pieces, the closing, corrections.

    Args:
        carcasses: How many.
        seed: Of everything drawn.
        a_year: How many a year.
        drift: What goes wrong, None for nothing.
        corrected: The part of the carcasses with slips corrected before the close; a fifth as many have
            one corrected after it.
    """
    random = Random(seed)  # noqa: S311  (invented carcasses are no secret)
    seq = 0
    for number in range(1, carcasses + 1):
        opened = _moment(number, a_year)
        bodies, loss_mg, dressed_mg = _carcass(random, number, drift)
        first = seq + 4
        doubtful = random.random()
        if doubtful < corrected:  # a slip and its correction while the carcass was open
            bodies += [
                e.PieceRenamed(first + 12, "rump", "", 1, "dice", "ledger that was rump", "that was"),
                e.EntryReversed(first + 3, "ledger strike that"),
                e.EntryReversed(seq + len(bodies) + 2, "ledger put that back"),
            ]
        yield Event(rfc3339(opened), bodies)
        seq += len(bodies)
        yield Event(rfc3339(opened + timedelta(minutes=50)), [_closing(number, dressed_mg, loss_mg)])
        seq += 1
        if doubtful > 1 - corrected / 5:  # found next day to have been called wrongly
            later = e.PieceRenamed(first + 12, "rump", "", 1, "dice", "", "typed")
            yield Event(rfc3339(opened + timedelta(minutes=55)), [later])
            seq += 1


def write_season(
    path: Path, carcasses: int, *, seed: int = 1, a_year: int = 3000, drift: Drift | None = None
) -> int:
    """Write such a ledger in one transaction, chain and all; the number of its entries.

    The file must not be there yet. A last entry is appended by the store itself, which so notes the end.
    """
    open_ledger(path).close()
    last = (0, ZERO_DIGEST)
    with closing(sqlite3.connect(path)) as db, db:
        db.execute("PRAGMA synchronous = OFF")
        for event in season_events(carcasses, seed=seed, a_year=a_year, drift=drift):
            made = chain(event.bodies, session="invented", t_ns=0, posted_at=event.posted_at, after=last)
            db.executemany(
                queries.INSERT,
                [
                    (x.seq, x.posted_at, x.session, x.t_ns, type(x.body).__name__, text, x.previous, x.digest)
                    for x, text in made
                ],
            )
            last = (made[-1][0].seq, made[-1][0].digest)
    with open_ledger(path) as store:
        ended = [e.SessionEnded("end of the invented season")]
        at = rfc3339(_moment(carcasses + 1, a_year))
        return store.append(ended, session="invented", t_ns=0, posted_at=at)[0].seq


def fill(store: LedgerStore, events: Iterable[Event]) -> None:
    """Enter these through any store, for small numbers."""
    for event in events:
        store.append(event.bodies, session="invented", t_ns=0, posted_at=event.posted_at)


def _moment(number: int, a_year: int) -> datetime:
    """When a carcass was begun: evenly over 260 working days of the open months."""
    days, rest = divmod((number - 1) * 260, a_year)
    year, day = divmod(days, 260)
    return _FIRST_DAY + timedelta(days=365 * year + round(day * 1.16), minutes=480 * rest // a_year)


def _carcass(random: Random, number: int, drift: Drift | None) -> tuple[list[e.Body], int, int]:
    species, sex, median_kg, _ = random.choices(_KINDS, [kind[3] for kind in _KINDS])[0]
    bench = random.choice(("bench one", "bench two"))
    butcher = "Ann" if bench == "bench one" else "Ben"
    dressed_mg = round(median_kg * random.lognormvariate(0, 0.15) * 200) * _D_MG
    loss = _EXPECTED_LOSS + random.gauss(0, 0.0025)
    if drift is not None and number >= drift.carcass and bench == drift.bench:
        loss += drift.loss
    weighings = [
        (cut, side, count, to, share * random.lognormvariate(0, 0.08))
        for cut, sides, count, to, share in _CUTS
        for side in sides
    ]
    whole = sum(weighing[4] for weighing in weighings)
    bodies: list[e.Body] = [
        e.CarcassOpened(number, str(100 + number % 900), "venison"),
        e.CarcassDescribed(number, species=species, sex=sex, skin="off", hot_or_cold="cold"),
        e.DressedWeightTaken(number, dressed_mg, 2041.2, _D_MG, "rail", f"{dressed_mg / 1e6:.3f} kg"),
    ]
    sum_mg = 0
    for cut, side, count, to, share in weighings:
        mass_mg = round(dressed_mg * (1 - loss) * share / whole / _D_MG) * _D_MG
        sum_mg += mass_mg
        bodies.append(_piece(number, cut, side, count, to, mass_mg, bench, butcher))
    return bodies, dressed_mg - sum_mg, dressed_mg


def _piece(
    number: int, cut: str, side: str, count: int, to: str, mass_mg: int, bench: str, by: str
) -> e.PieceEntered:
    said = f"{side} {cut}".strip()
    return e.PieceEntered(
        carcass=number,
        cut=cut,
        side=side,
        count=count,
        destination=to,
        mass_mg=mass_mg,
        u_mg=2041.241452319315,
        d_mg=_D_MG,
        scale=bench,
        method="cleared pan",
        indication=f"{mass_mg / 1e6:.3f} kg",
        indication_before="0.000 kg",
        heard=said,
        confidence=0.994,
        readings=(
            {"name": said, "heard": said, "sound": -0.1, "plan": -1.2, "weight": -0.4, "probability": 0.994},
            {
                "name": "flank",
                "heard": "flank",
                "sound": -5.1,
                "plan": -1.2,
                "weight": -2,
                "probability": 0.006,
            },
        ),
        lag_ms=-640,
        by=by,
    )


def _closing(number: int, dressed_mg: int, loss_mg: int) -> e.CarcassClosed:
    unaccounted_mg = loss_mg - round(dressed_mg * _EXPECTED_LOSS)
    expanded_mg = round(dressed_mg * 0.0125)
    if abs(unaccounted_mg) <= expanded_mg:
        told = f"{unaccounted_mg / 1e6:.2f} kg are not accounted for, which scales and cutting explain"
        return e.CarcassClosed(number, "explained", told, unaccounted_mg, expanded_mg, "", _BELIEVED)
    told = f"{unaccounted_mg / 1e6:.2f} kg are not accounted for. Probably a piece was not logged"
    return e.CarcassClosed(
        number, "not explained", told, unaccounted_mg, expanded_mg, "not logged", _BELIEVED
    )
