"""Scales by the settings: weighers, and what the balance knows of each."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from handsfree.config import Config, ScaleSettings
from handsfree.mass import MG_PER_G, to_mg
from handsfree.pairing.settings import PairingSettings
from handsfree.reconciliation import instruments
from handsfree.reconciliation.instruments import ProcessLoss, ScaleData
from handsfree.weighing.account import weigh_all
from handsfree.weighing.capture import open_capture
from handsfree.weighing.shapes import find_shapes
from handsfree.weighing.weigher import Weigher

__all__ = [
    "all_settings",
    "pairing_settings",
    "process_loss",
    "scale_data",
    "weigh_capture",
    "weigher_for",
]


def all_settings(config: Config, session: Mapping[str, ScaleSettings]) -> dict[str, ScaleSettings]:
    """The scales of the larder, and over them what a session folder says of its own."""
    return {**config.scales, **session}


def weigher_for(scales: Mapping[str, ScaleSettings]) -> Callable[[str], Weigher]:
    """Makes the weigher of a scale by its name; a scale without settings finds out by itself.

    Raises:
        ShapeError: A shape that is not known is named.
    """
    shapes = {name: find_shapes(settings.shape) for name, settings in scales.items()}

    def make(name: str) -> Weigher:
        settings = scales.get(name, ScaleSettings(name))
        return Weigher(
            name,
            shapes.get(name) or find_shapes("auto"),
            _d_mg(settings),
            unit=settings.unit,
            least_change_mg=0
            if settings.least_change_g is None
            else to_mg(str(settings.least_change_g), "g"),
            silence_s=None if settings.only_on_key or settings.silent_at_rest else settings.silence_s,
            first_is_whole=settings.only_on_key or settings.silent_at_rest,
            silent_at_rest=settings.only_on_key or settings.silent_at_rest,
            address=settings.address,
            max_mg=None if settings.max_kg is None else to_mg(str(settings.max_kg), "kg"),
        )

    return make


def pairing_settings(scales: Mapping[str, ScaleSettings]) -> PairingSettings:
    """Pairing's settings, with the scales that weigh whole carcasses."""
    rails = {name for name, settings in scales.items() if settings.weighs_carcasses}
    rails |= {"rail"} - set(scales)
    return PairingSettings(carcass_scales=frozenset(rails))


def scale_data(scales: Mapping[str, ScaleSettings]) -> dict[str, ScaleData]:
    """What the balance knows of each scale whose interval is given."""
    return {
        name: ScaleData(
            name,
            d_mg,
            None if settings.repeatability_g is None else settings.repeatability_g * MG_PER_G,
            settings.span,
            settings.eccentricity or 0.0,
            repeatability_readings=settings.repeatability_readings,
        )
        for name, settings in scales.items()
        if (d_mg := _d_mg(settings)) is not None
    }


def process_loss(config: Config) -> ProcessLoss:
    """What cutting is expected to take, by how the larder cuts."""
    return {
        "by hand": instruments.PROCESS_BY_HAND,
        "bandsaw": instruments.PROCESS_BANDSAW,
        "unknown": instruments.PROCESS_UNKNOWN,
    }[config.larder.process]


def weigh_capture(path: Path, settings: ScaleSettings, *, lines_per_s: float) -> list[dict[str, Any]]:
    """Everything weighing makes of a capture file, one JSON-able object a scale.

    Args:
        path: A session's `scale.csv`, or raw bytes of one scale.
        settings: How each scale in it is read; its name is not used.
        lines_per_s: Pace of raw bytes, which have no times.

    Raises:
        SessionError: The file cannot be read, or a row is no row.
        ShapeError: There is no such shape.
    """
    recorded = open_capture(path, lines_per_s=lines_per_s)
    make = weigher_for({each.scale: replace(settings, name=each.scale) for each in recorded})
    return [weigh_all(transport, make(transport.scale)) for transport in recorded]


def _d_mg(settings: ScaleSettings) -> int | None:
    return None if settings.d_g is None else to_mg(str(settings.d_g), "g")
