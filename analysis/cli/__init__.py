"""The command line."""

from analysis.cli.commands import main

__all__ = ["main"]
