"""One part of a line as maintenance sees it, and a channel against its own history."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from dashboards.cells import Means
from dashboards.clock import DAY, HOUR, MINUTE, SECOND
from dashboards.sensor_checks import SensorCheck
from dashboards.trend_ahead import Trend
from dashboards.views import end_of, stands
from ingest.roles import split_key
from monitor.records import Finding

Kind = Literal[
    "zone", "couple", "cooling", "feeder", "screen", "die", "pressure", "sensor", "vent", "pump", "gearbox", "drive",
    "link",
]  # fmt: skip

State = Literal["now", "stood", "due", "back", "gone", "ended", "usual"]
STATES: tuple[State, ...] = ("now", "stood", "due", "back", "gone", "ended", "usual")
"""What is so now comes before what was, whatever it was."""

RECENT_NS = 30 * MINUTE
NEWEST_NS = 5 * MINUTE
"""What a figure 'now' is the mean of: half an hour would hide a fault that is minutes old."""
CALLING_STRAIN = 0.95
FLOWED_THROUGH = ("screen", "die", "pressure", "feeder", "drive", "pump")
"""Parts of which only a line that runs can tell whether what was found of them is still so."""
EQUIPMENT = ("heater", "sensor", "feeder", "drive", "vacuum", "pressure")
"""Families of findings that mean a part failed, whatever became of it: what came back by itself fails again."""


@dataclass(frozen=True)
class Usual:
    """A channel now against its own history in steady running.

    now: mean of the last half hour. middle, low, high: median, 5th and 95th percentile of all before, less the time of
    findings about the part.
    """

    now: float
    middle: float
    low: float
    high: float

    @property
    def shift(self) -> float:
        """How far from usual, in half widths of the usual band.

        A band is at least 4 % of its middle and 2 wide.
        """
        half = max((self.high - self.low) / 2, abs(self.middle) * 0.04, 1.0)
        return (self.now - self.middle) / half


@dataclass(frozen=True)
class UpkeepItem:
    """One part of a line. key: channel of its main chart; keys: all that belong to it.

    stop: seconds until a trend meets a limit, with its interval; None where none does. strain: how near its
    limit or how far from usual, 1 is 'at it'. checks: free sensor checks it failed. zone: time zone of its
    plant. trend: of `key`, if it has one. live: False once the line's log was read to its end. explained: by id of
    a finding here, those it explains; they are no items of their own. alone: False where its readings cannot tell it
    from its neighbour: screen and die without a pressure between them. back: ids of open findings that are not so any
    more, each with since when, UTC ns; see `dashboards.back_inside`. line_stands: whether nothing runs now.
    """

    line: str
    kind: Kind
    subject: str
    title: str
    words: str
    key: str
    keys: tuple[str, ...]
    findings: tuple[Finding, ...]
    stop: tuple[float, float, float | None] | None
    strain: float
    trend: Trend | None = None
    limit: float | None = None
    checks: tuple[SensorCheck, ...] = ()
    zone: str = "UTC"
    end: int = 0
    live: bool = True
    explained: tuple[tuple[str, tuple[Finding, ...]], ...] = ()
    alone: bool = True
    back: tuple[tuple[str, int], ...] = ()
    due: str = ""
    line_stands: bool = False

    @property
    def name(self) -> str:
        """Name in an address."""
        return f"{self.line}/{self.kind}:{self.subject}"

    @property
    def standing(self) -> tuple[Finding, ...]:
        """Its findings that were still open where the readings end, those that are so no more behind the others."""
        back = dict(self.back)
        found = (f for f in self.findings if stands(f, self.end))
        return tuple(sorted(found, key=lambda f: f.last.finding in back))

    @property
    def gone(self) -> tuple[Finding, ...]:
        """Failures of the last day that ended again, the most pressing and then the longest first."""
        ended = [
            f
            for f in self.findings
            if f.last.family in EQUIPMENT
            and f.last.priority <= 2
            and not f.last.part_of
            and not stands(f, self.end)
            and end_of(f, self.end) > self.end - DAY
        ]
        return tuple(sorted(ended, key=lambda f: (f.last.priority, f.last.since - end_of(f, self.end))))

    @property
    def untold(self) -> bool:
        """Whether nothing tells if what was found of it is still so: the line it belongs to stands."""
        return self.live and self.line_stands and self.kind in FLOWED_THROUGH

    @property
    def calls(self) -> bool:
        """Whether it asks for a look.

        An open finding, one of the last day, a limit ahead, a sensor in doubt, what is due, or far from usual.
        """
        known = bool(self.standing or self.gone or self.checks or self.due) or self.stop is not None
        return known or self.strain >= CALLING_STRAIN

    @property
    def since(self) -> int | None:
        """When its oldest open finding began."""
        return min((f.last.since for f in self.standing), default=None)

    @property
    def state(self) -> State:
        """How it calls.

        Now; as last seen, which a standing line cannot tell anew; due; open and back inside; where a log ended; was so;
        or as usual.
        """
        if not self.calls:
            return "usual"
        if not self.live:
            return "ended"
        back = dict(self.back)
        holds = any(f.last.finding not in back for f in self.standing)
        if holds and self.untold:
            return "stood"
        if holds or self.stop is not None or self.strain >= CALLING_STRAIN:
            return "now"
        if self.checks:
            return "stood"
        return "back" if self.standing else "due" if self.due else "gone"

    def order(self) -> tuple[int, float, float, float]:
        """Sorts by whether it is so now, then by what calls the soonest, time to a limit, sensors in doubt, strain."""
        doubt = 0.0 if self.checks else 1.0
        return (STATES.index(self.state), self._urgency(), self.stop[0] if self.stop else np.inf, doubt - self.strain)

    def _urgency(self) -> float:
        """Open findings by priority, and between them a trend that meets its limit; then failures of the last day.

        A trend counts from an hour ahead as a finding to act on soon, from a shift as one to look at. What was cut
        off where a finished log ends comes below all that is live.
        """
        ranks = [9.0 if self.live else 19.0]
        for f in self.standing:
            ranks.append(f.last.priority + (0.0 if f.open and self.live else 0.5 if self.live else 10.0))
        if self.stop is not None:
            hours = self.stop[0] * SECOND / HOUR
            ranks.append((2.4 if hours < 1 else 3.4 if hours < 8 else 4.6) + (0.0 if self.live else 10.0))
        if self.gone:
            ranks.append(4.7 + (0.0 if self.live else 10.0))
        return min(ranks)


def usual_of(y: np.ndarray, steady: np.ndarray, step: int, told: np.ndarray | None = None) -> Usual | None:
    """The last half hour against all before that no finding tells of; None where either is missing.

    steady, told: which cells, shape of y; see `told_cells`.
    """
    recent = max(1, RECENT_NS // step)
    calm = steady if told is None else steady & ~told
    before = y[:-recent][calm[:-recent]]
    now = y[-recent:][steady[-recent:]]
    before, now = before[np.isfinite(before)], now[np.isfinite(now)]
    if len(before) < 3 or not len(now):
        return None
    low, middle, high = (float(v) for v in np.percentile(before, (5, 50, 95)))
    return Usual(float(now.mean()), middle, low, high)


def told_cells(findings: Sequence[Finding], key: str, cells: Means, end: int) -> np.ndarray:
    """Cells in which a finding was open about the part this channel belongs to: what is usual there is no fault."""
    _, at = split_key(key)
    found = np.zeros(cells.mean.shape[1], dtype=bool)
    low = cells.t0 + cells.step * np.arange(len(found), dtype=np.int64)
    for finding in findings:
        same = split_key(finding.last.channel)[1] == at if at else finding.last.channel == key
        if same:
            found |= (low + cells.step > finding.last.since) & (low < end_of(finding, end))
    return found
