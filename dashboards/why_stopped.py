"""Why did it stop: what the monitor found of the stop the line stands in."""

from __future__ import annotations

from collections.abc import Sequence

from dashboards.clock import MINUTE
from dashboards.views import LineNow
from monitor.records import Finding

STOPS = ("stopped_under_load", "coupling_gone")
BEFORE_NS = 5 * MINUTE
"""A stop is found before its phase is named."""

RUNNING = ("ramping", "settling", "steady", "running", "purging")


def stop_finding(now: LineNow, findings: Sequence[Finding]) -> Finding | None:
    """The finding of the stop the line stands in, None while it runs or where nothing was found.

    findings: all that overlap the time since the line stands, ended ones too: a stop is said once and not held open.
    """
    if now.phase in RUNNING:
        return None
    about = [
        f for f in findings if f.last.condition in STOPS and f.last.since >= now.phase_since - BEFORE_NS
    ]  # fmt: skip
    return max(about, key=lambda f: f.last.since, default=None)
