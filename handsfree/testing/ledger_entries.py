"""Invented ledger bodies for tests: one of each kind, and a short carcass with corrections."""

from __future__ import annotations

from handsfree.ledger import entries as e

POSTED_AT = "2026-01-31T07:05:09.000000Z"


def piece(
    carcass: int, cut: str, mass_mg: int, *, side: str = "", count: int = 1, destination: str = "prime"
) -> e.PieceEntered:
    """A piece off an invented bench scale with a 5 g interval (u = d/sqrt(6), two readings)."""
    return e.PieceEntered(
        carcass=carcass,
        cut=cut,
        side=side,
        count=count,
        destination=destination if cut else "",
        mass_mg=mass_mg,
        u_mg=2041.241452319315,
        d_mg=5000,
        scale="bench",
        method="cleared pan",
        indication=f"{mass_mg / 1e6:.3f} kg",
        indication_before="0.000 kg",
        heard=f"{side} {cut}".strip(),
        confidence=0.98,
        alternatives=("shank", "flank") if cut == "shank" else (),
    )


#: One body of every kind, in an order that `Books` accept.
ONE_OF_EACH: tuple[e.Body, ...] = (
    e.SessionBegan("handsfree test", "replay", "typed words", POSTED_AT),
    e.CarcassOpened(1, "417"),
    e.CarcassDescribed(1, species="fallow deer", sex="doe", skin="off", hot_or_cold="cold", plan="venison"),
    e.DressedWeightTaken(1, 24_600_000, 28_867.5, 100_000, "rail", "24.6 kg"),
    e.ContainerSet("bench", 1_250_000, "1.250 kg", 1443.4),
    e.WeighingTurned("putting on"),
    piece(1, "haunch", 3_415_000, side="left"),  # entry 7
    piece(1, "", 505_000),  # entry 8
    e.PieceRenamed(8, "shank", "right", 1, "mince", "right shank", "that was"),
    e.PlanChanged(1, "primals", "ledger plan primals"),  # entry 10
    e.EntryReversed(10, "strike"),
    e.CallLeftUnweighed(1, "liver", "", 1, "liver"),
    e.TemperatureNoted(1, "core", "3.5"),
    e.NoteMade(1, "bloodshot"),
    e.TroubleNoted("bench", "unplugged", "cable"),
    e.CarcassParked(1),
    e.CarcassResumed(1),
    e.CarcassClosed(
        1,
        "not explained",
        "20.680 kg are not accounted for",
        20_680_000,
        60_000,
        "not logged",
        ({"what": "cutting", "fraction": 0.0068, "sd": 0.0043, "carcasses": 0},),
    ),
    e.ButcherChanged(2, "Morag", "ledger butcher two"),  # entry 19
    e.SessionEnded("asked to stop", {"rejected speech": 3, "torn": 1}),
)
