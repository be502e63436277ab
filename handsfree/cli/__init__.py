"""The command line: verbs that call the wiring and print."""

from handsfree.cli.group import main

__all__ = ["main"]
