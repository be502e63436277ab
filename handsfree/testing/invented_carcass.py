"""One hand-made carcass of an invented larder, entry by entry, for tests of sheets and answers.

No real place, person or animal. A fallow buck of 31.250 kg; what stands after the corrections, in
grams: fillets 155 + 160, loins 865 + 880, left haunch 4135, right topside 1240, silverside 1105,
thick flank 930, rump 585, left shank 610, shoulders 2120 + 2145, neck 1980, four double chops 640,
six cutlets 520, breasts 730 + 745, flanks 455 + 460, dice 1865, mince 2640, burger trim 720, fat
310, pet trim 540, bone 1890 + 1425, bloodshot 365, kidneys 95 (by voice) and an unnamed 210:
30 520 in all. With an expected loss of 125 that leaves 605: the right shank was never weighed.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from handsfree.ledger import entries as e
from handsfree.ledger.books import Books

INVENTED_LARDER = "Nettlebeck Larder (invented)"
_START = datetime(2025, 10, 14, 8, 30, tzinfo=UTC)

# cut, side, count, destination, grams, confidence
_PIECES: tuple[tuple[str, str, int, str, int, float], ...] = (
    ("fillet", "left", 1, "prime", 155, 0.99),
    ("fillet", "right", 1, "prime", 160, 0.99),
    ("loin", "left", 1, "prime", 865, 1.0),
    ("loin", "right", 1, "prime", 880, 0.99),
    ("haunch", "left", 1, "prime", 4135, 0.99),
    ("topside", "right", 1, "prime", 1240, 0.98),
    ("silverside", "right", 1, "prime", 1105, 0.99),
    ("thick flank", "right", 1, "prime", 930, 0.44),
    ("rump", "right", 1, "prime", 585, 0.99),
    ("shank", "left", 1, "prime", 610, 0.99),
    ("shoulder", "left", 1, "dice", 2120, 0.99),
    ("shoulder", "left", 1, "dice", 2120, 0.98),
    ("shoulder", "right", 1, "dice", 2145, 0.99),
    ("neck", "", 1, "dice", 1980, 0.99),
    ("double chops", "", 4, "prime", 640, 0.99),
    ("cutlets", "", 6, "prime", 520, 0.99),
    ("breast", "left", 1, "mince", 730, 0.99),
    ("breast", "right", 1, "mince", 745, 0.99),
    ("flank", "left", 1, "mince", 455, 0.99),
    ("shank", "right", 1, "prime", 460, 0.98),
    ("dice", "", 1, "dice", 1865, 1.0),
    ("mince", "", 1, "mince", 2640, 1.0),
    ("burger trim", "", 1, "mince", 720, 0.99),
    ("fat", "", 1, "waste", 310, 0.99),
    ("pet trim", "", 1, "pet", 540, 0.99),
    ("bone", "", 1, "stock", 1890, 0.99),
    ("bone", "", 1, "stock", 1425, 0.99),
    ("bloodshot", "", 1, "condemned", 365, 0.99),
    ("", "", 1, "", 210, 0.4),
    ("kidneys", "", 1, "pet", 95, 0.99),
)
_DOUBLED, _MISCALLED = 11, 19  # places in _PIECES


def invented_entries(*, closed: bool = True) -> list[e.Entry]:
    """The ledger of the invented carcass; digests are counted, not computed."""
    bodies: list[e.Body] = [
        e.SessionBegan("handsfree", "replay", "typed words", _START.isoformat()),
        e.CarcassOpened(1, "417"),
        e.CarcassDescribed(1, species="fallow deer", sex="buck", skin="off", hot_or_cold="cold"),
        e.DressedWeightTaken(1, 31_250_000, 14_433.8, 50_000, "rail", "31.25 kg"),
        e.TemperatureNoted(1, "core", "4.2"),
        e.ContainerSet("bench", 1_120_000, "1.120 kg", 1443.4),
    ]
    seqs: list[int] = []
    for cut, side, count, destination, grams, confidence in _PIECES:
        spoken = cut == "kidneys"
        bodies.append(
            e.PieceEntered(
                carcass=1,
                cut=cut,
                side=side,
                count=count,
                destination=destination,
                mass_mg=grams * 1000,
                u_mg=2886.8 if spoken else 2041.2,
                d_mg=0 if spoken else 5_000,
                scale="spoken" if spoken else "bench",
                method="spoken" if spoken else "cleared pan",
                indication=f"{grams / 1000:.3f} kg",
                indication_before="" if spoken else "0.000 kg",
                heard=" ".join(part for part in (side, cut) if part),
                confidence=confidence,
            )
        )
        seqs.append(len(bodies))
    bodies.append(e.EntryReversed(seqs[_DOUBLED], "struck by voice"))
    bodies.append(
        e.PieceRenamed(seqs[_MISCALLED], "flank", "right", 1, "mince", "right flank", "corrected by voice")
    )
    bodies.append(e.CallLeftUnweighed(1, "liver", "", 1, "liver"))
    bodies.append(e.NoteMade(1, "bruise on the left shoulder"))
    if closed:
        bodies.append(e.CarcassClosed(1, "not explained", invented_sentence(), 605_000, 78_000))
    return [_entry(number, body) for number, body in enumerate(bodies, start=1)]


def invented_books(*, closed: bool = True) -> Books:
    """The books after `invented_entries`."""
    return Books(invented_entries(closed=closed))


def invented_sentence() -> str:
    """The verdict of the invented balance."""
    return "0.605 kg ± 0.078 kg is not accounted for: more than the scales and the drip explain"


def _entry(seq: int, body: e.Body) -> e.Entry:
    t_ns = seq * 12_500_000_000
    posted = _START + timedelta(microseconds=t_ns // 1000)
    stamp = f"{posted:%Y-%m-%dT%H:%M:%S.%f}Z"
    return e.Entry(seq, stamp, "invented", t_ns, body, f"{seq - 1:064x}", f"{seq:064x}")
