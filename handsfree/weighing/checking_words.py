"""A check in words and as plain data. Pure."""

from __future__ import annotations

from typing import Any

from handsfree.mass import MG_PER_G, format_g, format_kg
from handsfree.weighing.checking_limits import WATER
from handsfree.weighing.checking_result import CAUTION, CheckResult

_SAID = {
    "pass": "within the limit of a new verification",
    "pass in service": "within the limit in service, outside that of a new verification",
    "fail": "outside the limit in service",
    "cannot tell": "cannot be judged with this mass",
}


def sentences(found: CheckResult) -> list[str]:
    """The result as it is printed, worst news not hidden."""
    lines = []
    for each in found.loads:
        limit = "" if each.service_mg is None else f" (limit in service {each.service_mg / MG_PER_G:g} g)"
        error = f"{each.error_mg / MG_PER_G:+g} g"
        name = f"{format_kg(each.mass.mass_mg)} kg, {_mass(each.mass.mass_class)}"
        lines.append(f"{name}: {error}{limit}, {_SAID[each.verdict]}.")
    lines.append(
        f"Span error {100 * found.span_error:+.3f} %, standard uncertainty {100 * found.u_span_error:.3f} %."
    )
    lines.append(
        f"Repeatability {found.s_found_mg / MG_PER_G:.2g} g ({found.readings} loadings, greatest difference "
        f"{format_g(found.range_mg)} g), {_SAID[found.repeatability_verdict]}."
    )
    if found.s_mg > found.s_found_mg:
        lines.append(
            f"The digit of {format_g(found.d_mg)} g hides less than {found.s_mg / MG_PER_G:.2g} g; "
            "that is used."
        )
    if found.corners is not None:
        lines.append(f"Place on the pan: {100 * found.corners:.3f} %, {_SAID[found.corners_verdict]}.")
    else:
        lines.append("The corners of the pan were not tried.")
    if any(each.mass.mass_class == WATER for each in found.loads):
        lines.append("Bottles of water are a poor mass: their own uncertainty is most of that of the span.")
    if len(found.loads) < 3:
        lines.append("Fewer than three loads: whether the error grows evenly with the load is not known.")
    end = {
        True: "The scale passes",
        False: "The scale fails",
        None: "The masses cannot tell whether it passes",
    }
    lines.append(f"{end[found.passed]} the limits of class III in service (OIML R 76-1:2006 Table 6, twice).")
    return [*lines, CAUTION]


def _mass(mass_class: str) -> str:
    return "bottles of water" if mass_class == WATER else f"class {mass_class}"


def result_json(found: CheckResult) -> dict[str, Any]:
    """The result as plain data; masses in grams."""
    return {
        "d_g": found.d_mg / MG_PER_G,
        "loads": [
            {
                "mass_g": each.mass.mass_mg / MG_PER_G,
                "class": each.mass.mass_class,
                "error_g": each.error_mg / MG_PER_G,
                "limit_initial_g": None if each.initial_mg is None else each.initial_mg / MG_PER_G,
                "limit_in_service_g": None if each.service_mg is None else each.service_mg / MG_PER_G,
                "verdict": each.verdict,
            }
            for each in found.loads
        ],
        "span_error": round(found.span_error, 9),
        "u_span_error": round(found.u_span_error, 9),
        "span": round(found.span, 9),
        "repeatability_g": round(found.s_mg / MG_PER_G, 6),
        "repeatability_found_g": round(found.s_found_mg / MG_PER_G, 6),
        "loadings": found.readings,
        "range_g": found.range_mg / MG_PER_G,
        "repeatability_verdict": found.repeatability_verdict,
        "corners": None if found.corners is None else round(found.corners, 9),
        "corners_verdict": found.corners_verdict,
        "passed": found.passed,
        "caution": CAUTION,
    }
