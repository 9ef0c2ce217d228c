"""When the figures of a finding were so, beside what the same channels read now: the two must not be taken for one."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from dashboards.clock import SECOND, PlantClock
from dashboards.data import RATE_MEAN_NS, SHOWN_MEAN_NS
from dashboards.grid import SCATTERING
from dashboards.names import channel_title, figure, unit_of, with_unit
from dashboards.texts import say
from dashboards.views import LineNow, end_of
from ingest.roles import ROLES, split_key
from monitor.line import Line
from monitor.records import Finding, Record

MOST_PRESENT = 3
"""Present readings told beside a finding's figures."""


@dataclass(frozen=True)
class Present:
    """What a line reads now. at: end of the newest reading, UTC ns; readings: by channel, in fixed units."""

    at: int
    readings: Mapping[str, float]


def present_of(now: LineNow) -> Present | None:
    """What the line reads now; None where nothing on the page is live."""
    if now.stopped or now.finished or now.reading_at is None:
        return None
    return Present(now.reading_at, now.readings)


def when_said(last: Record, now: int, clock: PlantClock) -> str:
    """'said at 14:32', for where a summary stands alone."""
    return say("said.short", at=clock.since(last.decided_at, now))


def figures_when(finding: Finding, now: int, clock: PlantClock) -> str:
    """Which moment the figures of a finding are of: when it was last said, or its worst once it is over.

    '' where it has no figures.
    """
    last = finding.last
    if not any(c.isdigit() for c in last.summary) and not any(fact.value is not None for fact in last.evidence):
        return ""
    if last.kind == "closed":
        return say("said.worst", when=clock.stretch(last.since, end_of(finding, now), now))
    return say("said.cut_off" if last.kind == "cut off" else "said.at", at=clock.since(last.decided_at, now))


def present_words(finding: Finding, line: Line, present: Present | None, clock: PlantClock) -> str:
    """'Now, 14:35: talc T4 rate 83.1 kg/h (mean of 60 s).' for an open finding; '' where nothing is read now."""
    if present is None or not finding.open:
        return ""
    keys = dict.fromkeys([finding.last.channel, *(fact.channel for fact in finding.last.evidence)])
    told = [_reading(line, key, present.readings[key]) for key in keys if key in present.readings][:MOST_PRESENT]
    return say("said.now", at=clock.time(present.at), readings="; ".join(told)) if told else ""


def _reading(line: Line, key: str, value: float) -> str:
    """One reading with its unit and over how long it is a mean."""
    text = f"{channel_title(line, key)} {with_unit(figure(value, key, line), unit_of(line, key))}"
    seconds = mean_seconds(line, key)
    return say("said.mean", reading=text, seconds=f"{seconds:g}") if seconds else text


def mean_seconds(line: Line, key: str) -> float:
    """Over how many seconds a reading on the live page is the mean; 0 for states and derived quantities."""
    role, _ = split_key(key)
    if key not in line.channels or ROLES[role].cell == "last":
        return 0.0
    width = RATE_MEAN_NS if role in SCATTERING else SHOWN_MEAN_NS
    return max(width / SECOND, line.line.cadence_s)
