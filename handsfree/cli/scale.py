"""Verbs of the scale itself: finding, learning and checking it, with clean hands and before the work."""

from __future__ import annotations

import click

from handsfree.cli.common import example


@click.group(epilog=example("handsfree scale check bench --from check.csv --mass 2.000kg"))
def scale() -> None:
    """Find, learn and check the larder's scales."""


VERBS: tuple[click.Command, ...] = (scale,)
