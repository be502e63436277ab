"""Verbs of the scale itself: finding, learning and checking it, with clean hands and before the work."""

from __future__ import annotations

import click

from handsfree.cli.common import example
from handsfree.cli.scale_checking import check
from handsfree.cli.scale_finding import find
from handsfree.cli.scale_learning import learn


@click.group(epilog=example("handsfree scale check bench --mass 0.5kg --mass 1kg --mass 2kg"))
def scale() -> None:
    """Find, learn and check the larder's scales."""


scale.add_command(find)
scale.add_command(learn)
scale.add_command(check)

VERBS: tuple[click.Command, ...] = (scale,)
