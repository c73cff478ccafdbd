"""``strapwright kerf``: a test piece to measure the width of the cut on, and what was measured."""

from strapwright.cli.kerf.group import command

__all__ = ["command"]
