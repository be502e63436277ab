"""One carcass as a JSON document: pieces, dressed weight and scale data in.

The format is `reconcile.schema.json` beside this module (JSON Schema 2020-12). Masses are in grams
and become exact milligrams; a document can come from any source, not only from this recorder.
"""

from __future__ import annotations

import json
from dataclasses import dataclass, fields
from decimal import Decimal
from math import isfinite
from typing import Any, Final

from handsfree.errors import BalanceError
from handsfree.mass import MG_PER_G, to_mg
from handsfree.pairing.messages import Method
from handsfree.reconciliation.account import SPOKEN, Account, Called, Weighing
from handsfree.reconciliation.anatomy import PARTS
from handsfree.reconciliation.document_faults import faults_of, grams_of
from handsfree.reconciliation.instruments import PROCESS_UNKNOWN, ProcessLoss, ScaleData
from handsfree.reconciliation.plan import Expected, Plan
from handsfree.reconciliation.reconcile import Reconciliation, reconcile_account

FORMAT: Final = 1
_NAMELESS_SCALE: Final = "scale"


@dataclass(frozen=True, slots=True)
class Document:
    """Everything one reconciliation needs."""

    account: Account
    scales: dict[str, ScaleData]
    process: ProcessLoss = PROCESS_UNKNOWN
    plan: Plan | None = None

    def reconcile(self) -> Reconciliation:
        """Balance, verdict and suspects of this document."""
        return reconcile_account(self.account, self.scales, self.process, self.plan)


def document_from_text(text: str, name: str = "the document") -> Document:
    """Read a document from JSON text.

    Args:
        text: The JSON text.
        name: How to call it in an error: the file's name.

    Raises:
        BalanceError: It is no JSON, or not as the schema says; every fault is named with its
            JSON path.
    """
    try:
        parsed = json.loads(text, parse_float=Decimal)
    except json.JSONDecodeError as error:
        raise BalanceError(
            f"cannot reconcile {name}:{error.lineno}: this is no JSON: {error.msg} (column {error.colno})",
            next_step="correct the file and run the command again",
        ) from None
    except (RecursionError, ValueError):  # nested without end, or a number of thousands of digits
        raise BalanceError(
            f"cannot reconcile {name}: no usable JSON, nested too deep or with a number too long"
        ) from None
    return document_from_json(parsed, name)


def document_from_json(parsed: Any, name: str = "the document") -> Document:
    """Read a document from parsed JSON (numbers as int, float or Decimal).

    Raises:
        BalanceError: It is not as the schema says; every fault is named with its JSON path.
    """
    faults = faults_of(parsed)
    if faults:
        raise BalanceError(
            f"cannot reconcile {name}: " + "; ".join(faults),
            next_step="correct the file and run the command again",
        )
    carcass = parsed.get("carcass", {})
    tag = carcass.get("tag", "")
    kind = " ".join(carcass[key] for key in ("species", "sex") if carcass.get(key))
    pieces = tuple(_weighing(item, place) for place, item in enumerate(parsed["pieces"], 1))
    account = Account(
        title=", ".join(part for part in (f"carcass {tag}".strip(), kind) if part),
        tag=tag,
        skin=carcass.get("skin", ""),
        hot_or_cold=carcass.get("hot_or_cold", ""),
        dressed=_weighing(parsed["dressed"], 0) if parsed.get("dressed") else None,
        pieces=pieces,
        hours_before_cutting=_hours(parsed.get("dressed")),
        unweighed=tuple(
            Called(
                call["cut"],
                call.get("side", ""),
                int(call.get("count", 1)),
                int(call.get("entry", 0)),
                call.get("posted_at", ""),
            )
            for call in parsed.get("unweighed", ())
        ),
    )
    scales = {scale: _scale(scale, values) for scale, values in parsed.get("scales", {}).items()}
    return Document(account, scales, _process(parsed.get("process")), _plan(parsed.get("plan")))


def document_to_json(document: Document) -> dict[str, Any]:
    """The document as plain JSON values; reading it back gives the same reconciliation."""
    account = document.account
    values: dict[str, Any] = {
        "format": FORMAT,
        "carcass": {"tag": account.tag, "skin": account.skin, "hot_or_cold": account.hot_or_cold},
        "scales": {name: _scale_out(scale) for name, scale in document.scales.items()},
        "pieces": [_weighing_out(piece) for piece in account.pieces],
        "unweighed": [_called_out(call) for call in account.unweighed],
        "process": _process_out(document.process),
    }
    if account.dressed is not None:
        keys = ("mass_g", "scale", "d_g", "u_g", "method", "indication", "posted_at")
        dressed = _weighing_out(account.dressed)
        dressed["mass_g"] = dressed.pop("net_g")
        values["dressed"] = {key: dressed[key] for key in keys if key in dressed}
        if account.hours_before_cutting is not None:
            values["dressed"]["hours_before_cutting"] = account.hours_before_cutting
    if document.plan is not None:
        values["plan"] = {
            "name": document.plan.name,
            "expected": [_expected_out(item) for item in document.plan.expected],
            "parts": {whole: list(parts) for whole, parts in document.plan.parts.items()},
        }
    return values


def _weighing(values: dict[str, Any], place: int) -> Weighing:
    method = Method(values.get("method", Method.CLEARED_PAN))
    spoken = SPOKEN if method is Method.SPOKEN else _NAMELESS_SCALE
    return Weighing(
        number=int(values.get("entry", place)),
        mass_mg=_mg(values["net_g"] if "net_g" in values else values["mass_g"]),
        scale=values.get("scale", spoken),
        d_mg=_mg(values.get("d_g", 0)),
        u_mg=float(values.get("u_g", 0)) * MG_PER_G,
        method=method,
        indication=values.get("indication", ""),
        indication_before=values.get("indication_before", ""),
        tare=values.get("tare", ""),
        tare_u_mg=float(values.get("tare_u_g", 0)) * MG_PER_G,
        cut=values.get("cut", ""),
        side=values.get("side", ""),
        count=int(values.get("count", 1)),
        destination=values.get("destination", ""),
        struck=values.get("struck", False),
        posted_at=values.get("posted_at", ""),
    )


def _weighing_out(weighing: Weighing) -> dict[str, Any]:
    values: dict[str, Any] = {
        "entry": weighing.number,
        "cut": weighing.cut,
        "side": weighing.side,
        "count": weighing.count,
        "destination": weighing.destination,
        "net_g": grams_of(weighing.mass_mg),
        "scale": weighing.scale,
        "u_g": weighing.u_mg / MG_PER_G,
        "method": str(weighing.method),
        "indication": weighing.indication,
        "indication_before": weighing.indication_before,
        "tare": weighing.tare,
        "tare_u_g": weighing.tare_u_mg / MG_PER_G,
        "struck": weighing.struck,
        "posted_at": weighing.posted_at,
    }
    return values | ({"d_g": grams_of(weighing.d_mg)} if weighing.d_mg else {})


def _scale(name: str, values: dict[str, Any]) -> ScaleData:
    repeatability, span = values.get("repeatability_g"), values.get("span_percent")
    readings = values.get("repeatability_readings")
    return ScaleData(
        name=name,
        d_mg=_mg(values["d_g"]),
        repeatability_mg=None if repeatability is None else float(repeatability) * MG_PER_G,
        span=None if span is None else float(span) / 100,
        eccentricity=float(values.get("eccentricity_percent", 0)) / 100,
        repeatability_readings=None if readings is None else int(readings),
        zero_mg=float(values.get("zero_g", 0)) * MG_PER_G,
        containers_mg=tuple(_mg(mass) for mass in values.get("containers_g", ())),
    )


def _called_out(call: Called) -> dict[str, Any]:
    values = {"cut": call.cut, "side": call.side, "count": call.count, "posted_at": call.posted_at}
    return values | ({"entry": call.number} if call.number else {})


def _hours(dressed: dict[str, Any] | None) -> float | None:
    hours = (dressed or {}).get("hours_before_cutting")
    return None if hours is None else float(hours)


def _scale_out(scale: ScaleData) -> dict[str, Any]:
    readings = scale.repeatability_readings
    return ({} if readings is None else {"repeatability_readings": readings}) | {
        "zero_g": scale.zero_mg / MG_PER_G,
        "d_g": grams_of(scale.d_mg),
        "repeatability_g": scale.s_mg / MG_PER_G,
        "span_percent": _percent(scale.span_in_use),
        "eccentricity_percent": _percent(scale.eccentricity),
        "containers_g": [grams_of(mass) for mass in scale.containers_mg],
    }


def _process(values: dict[str, Any] | None) -> ProcessLoss:
    if values is None:
        return PROCESS_UNKNOWN
    given: dict[str, Any] = {
        key.removesuffix("_percent"): float(v) / 100 for key, v in values.items() if "percent" in key
    }
    if "cutting_carcasses" in values:
        given["cutting_dof"] = float(values["cutting_carcasses"]) - 1
    return ProcessLoss(**given, source=values.get("source", ""))


def _process_out(process: ProcessLoss) -> dict[str, Any]:
    values: dict[str, Any] = {
        f"{field.name}_percent": _percent(getattr(process, field.name))
        for field in fields(ProcessLoss)
        if field.name not in ("source", "cutting_dof", "chill_dof", "carcasses", "hot_carcasses")
    }
    if isfinite(process.cutting_dof):
        values["cutting_carcasses"] = max(2, round(process.cutting_dof) + 1)
    return values | {"source": process.source}


def _plan(values: dict[str, Any] | None) -> Plan | None:
    if values is None:
        return None
    parts = {whole: tuple(parts) for whole, parts in values.get("parts", PARTS).items()}
    return Plan(values.get("name", ""), tuple(_expected(item) for item in values["expected"]), parts)


def _expected(item: dict[str, Any]) -> Expected:
    share = item.get("share_percent")
    return Expected(
        cut=item["cut"],
        side=item.get("side", ""),
        count=int(item.get("count", 1)),
        share=None if share is None else float(share) / 100,
        spread=float(item.get("spread", Expected("").spread)),
    )


def _expected_out(item: Expected) -> dict[str, Any]:
    share = None if item.share is None else _percent(item.share)
    values = {"cut": item.cut, "side": item.side, "count": item.count}
    return values | {"share_percent": share, "spread": item.spread}


def _mg(grams: str | float | Decimal) -> int:
    return to_mg(str(grams), "g")


def _percent(fraction: float) -> float:
    return float(f"{fraction * 100:.12g}")
