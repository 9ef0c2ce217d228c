"""The words of the monitor that mean the moment they were said, read later: 'by now' becomes 'by 14:30'."""

from __future__ import annotations

import re
from dataclasses import replace

from dashboards.clock import PlantClock
from dashboards.texts import say
from dashboards.views import end_of
from monitor.records import Finding

_BY_NOW = re.compile(r"\bby now\b")


def said_then(finding: Finding, clock: PlantClock) -> Finding:
    """The finding with 'by now' in its summary as the time it was said, of one that is over its end.

    How long something has lasted may be more than the finding has: it began before that was too long, which is said.
    """
    last = finding.last
    if not _BY_NOW.search(last.summary):
        return finding
    at = clock.minute(end_of(finding, last.decided_at))
    lasted = next((fact.value for fact in last.evidence if fact.unit == "min" and fact.value is not None), None)
    since_s = (end_of(finding, last.decided_at) - last.since) / 1e9
    words = say("summary.by", at=at)
    if lasted is not None and lasted * 60 > since_s + 60:
        words += say("summary.before", at=clock.minute(last.since))
    return replace(finding, last=replace(last, summary=_BY_NOW.sub(lambda _: words, last.summary)))
