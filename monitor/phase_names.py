"""The names of what a line can be doing, in the order of their numbers."""

from __future__ import annotations

PHASES = (
    "unknown",
    "stopped",
    "heating",
    "soaking",
    "ready",
    "idle",
    "starting",
    "settling",
    "steady",
    "changing",
    "purging",
    "stopping",
)
"""Every phase, in the order of their numbers."""
