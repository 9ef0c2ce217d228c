"""The forecast a finding made of its own: time to the limit as it was said, less the time that has passed since."""

from __future__ import annotations

from dashboards.clock import SECOND
from monitor.records import Record

TO_LIMIT, EARLIEST, LATEST = "time to the limit", "at the earliest", "at the latest"
"""How the monitor names them among its measured facts, in hours."""


def said_forecast(record: Record, now: int) -> tuple[float, float, float | None] | None:
    """(seconds, soonest, latest or None) from `now` until the limit; None where the record tells no time.

    A time that has run out is 0.
    """
    told = {fact.what: fact.value for fact in record.evidence if fact.unit == "h"}
    middle = told.get(TO_LIMIT)
    if middle is None:
        return None
    passed = max(0.0, (now - record.decided_at) / SECOND)
    first, last = told.get(EARLIEST), told.get(LATEST)
    left = [None if h is None else max(0.0, h * 3600 - passed) for h in (middle, first, last)]
    return (left[0] or 0.0, left[1] if left[1] is not None else left[0] or 0.0, left[2])
