"""Verbs of the scale itself: finding, learning and checking it, with clean hands and before the work."""

from __future__ import annotations

import click

from handsfree.cli.common import example
from handsfree.cli.scale_finding import find


@click.group(epilog=example("handsfree scale check bench --from check.csv --mass 2.000kg"))
def scale() -> None:
    """Find, learn and check the larder's scales."""


scale.add_command(find)

VERBS: tuple[click.Command, ...] = (scale,)
