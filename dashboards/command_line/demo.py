"""`evenmelt demo`."""

from __future__ import annotations


def demo() -> None:
    """Show it."""
