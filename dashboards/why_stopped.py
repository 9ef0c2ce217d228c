"""Why did it stop: what the monitor found of the stop the line stands in."""

from __future__ import annotations

from collections.abc import Sequence

from dashboards.clock import MINUTE
from dashboards.views import Segment
from monitor.phases import RUNNING
from monitor.records import Finding

STOPS = ("stopped_under_load", "coupling_gone")
BEFORE_NS = 5 * MINUTE
"""A stop is found before its phase is named."""


def standing_since(phases: Sequence[Segment]) -> int | None:
    """When the line last ceased to run, None while it runs or where no run is known. phases: by time, to the end."""
    if not phases or phases[-1].name in RUNNING:
        return None
    return next((run.end for run in reversed(phases) if run.name in RUNNING), None)


def stop_finding(since: int | None, findings: Sequence[Finding]) -> Finding | None:
    """The finding of the stop the line stands in, None while it runs or where nothing was found.

    since: when it ceased to run. findings: all since then, ended ones too: a stop is said once and not held open.
    """
    if since is None:
        return None
    about = [f for f in findings if f.last.condition in STOPS and f.last.since >= since - BEFORE_NS]
    return max(about, key=lambda f: f.last.since, default=None)
