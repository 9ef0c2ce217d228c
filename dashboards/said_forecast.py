"""The forecast a finding made of its own: time to the limit as it was said, less the time that has passed since."""

from __future__ import annotations

from collections.abc import Container

from dashboards.clock import SECOND
from monitor.records import Evidence, Finding, Record

TO_LIMIT, EARLIEST, LATEST = "time to the limit", "at the earliest", "at the latest"
"""How the monitor names them among its measured facts, in hours."""
AT_THIS_RATE = "time left at this rate"
"""The same of what rises quickly, in seconds."""


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


def worth_telling(fact: Evidence, decided_at: int, now: int) -> bool:
    """Whether a measured fact of an open finding still tells something: a time left that has run out does not."""
    seconds = {"h": 3600.0, "min": 60.0, "s": 1.0}.get(fact.unit)
    if fact.value is None or seconds is None or fact.what not in (TO_LIMIT, EARLIEST, LATEST, AT_THIS_RATE):
        return True
    return fact.value * seconds > (now - decided_at) / SECOND


def forecast_now(
    finding: Finding, now: int, *, running: bool, back: Container[str], reading: float | None, high: float | None
) -> tuple[float, float, float | None] | None:
    """The same, None where it cannot come true any more: on a line that stands, of a finding that is back inside, or
    where its time has run out and the channel stands no higher than its window goes.

    running: in a phase in which windows are judged. back: ids of findings that are back inside. reading, high: of the
    finding's channel, in one unit; None where not known.
    """
    left = said_forecast(finding.last, now)
    if left is None or not running or finding.last.finding in back:
        return None
    return None if left[0] <= 0 and reading is not None and high is not None and reading <= high else left
