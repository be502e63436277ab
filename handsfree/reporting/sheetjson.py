"""The carcass sheet as plain JSON values for other programs."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from handsfree.mass import format_g
from handsfree.reporting.figures import BalanceFigures
from handsfree.reporting.sheet import Sheet, SheetPiece, Total

FORMAT = 1


def sheet_json(sheet: Sheet) -> dict[str, Any]:
    """The sheet: masses as exact decimal text in grams, shares as fractions of the dressed weight."""
    heading = asdict(sheet.heading)
    dressed_mg = heading.pop("dressed_mg")
    heading["dressed_g"] = None if dressed_mg is None else format_g(dressed_mg)
    return {
        "format": FORMAT,
        "heading": heading,
        "pieces": [_piece(piece) for piece in sheet.pieces],
        "struck": [_piece(piece) for piece in sheet.struck],
        "unweighed": list(sheet.unweighed),
        "destinations": [
            _total(destination.total) | {"cuts": [_total(cut) for cut in destination.cuts]}
            for destination in sheet.destinations
        ],
        "cuts": [_total(total) for total in sheet.cuts],
        "yields": [_total(total) for total in sheet.yields],
        "total_g": format_g(sheet.total_mg),
        "balance": _balance(sheet.balance) if sheet.balance else None,
        "no_balance": sheet.no_balance,
        "temperatures": list(sheet.temperatures),
        "notes": list(sheet.notes),
        "last_entry": sheet.last_seq,
        "digest": sheet.digest,
    }


def _piece(piece: SheetPiece) -> dict[str, Any]:
    return {
        "entry": piece.seq,
        "time": piece.time,
        "cut": piece.cut,
        "side": piece.side,
        "count": piece.count,
        "destination": piece.destination,
        "mass_g": format_g(piece.mass_mg),
        "share": piece.share,
        "marks": list(piece.marks),
    }


def _total(total: Total) -> dict[str, Any]:
    return {
        "name": total.name,
        "count": total.pieces,
        "mass_g": format_g(total.mass_mg),
        "share": total.share,
    }


def _balance(balance: BalanceFigures) -> dict[str, Any]:
    return {
        "dressed_g": format_g(balance.dressed_mg),
        "pieces_g": format_g(balance.pieces_mg),
        "process_loss_g": format_g(balance.process_loss_mg),
        "process_loss_from": balance.losses_from,
        "unaccounted_g": format_g(balance.unaccounted_mg),
        "expanded_u_g": format_g(balance.expanded_u_mg),
        "coverage_factor": balance.coverage_factor,
        "verdict": balance.verdict,
        "sentence": balance.sentence,
        "notes": list(balance.notes),
        "suspects": [
            {
                "text": suspect.text,
                "remedy": suspect.remedy,
                "probability": suspect.probability,
            }
            for suspect in balance.suspects
        ],
        "budget": [{"source": line.source, "u_g": round(line.u_mg / 1000, 6)} for line in balance.budget],
    }
