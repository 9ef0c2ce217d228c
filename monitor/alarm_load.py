"""How many alarms a person is called by: the performance figures of ANSI/ISA-18.2, IEC 62682 and EEMUA 191.

One operator may look after several lines: give the calls of all of them. Measure over 30 days or more. Limits that
come with a figure are in `LIMITS`, each with its source.
"""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from monitor.alarms import Key, Transition
from monitor.contract import NS

TEN_MINUTES_NS = 600 * NS
FLOOD_BEGINS_ABOVE, FLOOD_ENDS_BELOW = 10, 5
"""Calls in the last ten minutes, per operator; values from memory of ANSI/ISA-18.2 and EEMUA 191."""

CHATTERING_CALLS, CHATTERING_NS = 3, 60 * NS
"""Three calls or more in a minute; rule of thumb, from memory."""

STALE_NS = 24 * 3600 * NS
"""In alarm for more than a day; rule of thumb, from memory."""

LIMITS = {
    "calls_per_ten_minutes": (1.0, "at most, in steady running: UK HSE Chemicals Information Sheet 6, after EEMUA 191"),
    "most_in_ten_minutes": (10.0, "at most, in the first ten minutes after an upset: the same sheet"),
    "busy_hours_pct": (1.0, "% of hours with more than 30 calls; from memory"),
    "busy_ten_minutes_pct": (1.0, "% of ten-minute periods with more than 10 calls; from memory"),
    "flood_pct": (1.0, "% of the time; from memory"),
    "top_ten_pct": (5.0, "% of all calls by the ten most frequent alarms; from memory"),
    "chattering": (0.0, "alarms; from memory"),
    "stale": (5.0, "alarms on any day, fewer than; from memory"),
}
"""What a figure of `AlarmLoad` should stay below, and who says so."""


@dataclass(frozen=True)
class Call:
    """An alarm that asked for a person. until_ns: when it was gone or hidden, None = still there. UTC ns."""

    at_ns: int
    alarm: Key
    priority: int
    until_ns: int | None = None


@dataclass(frozen=True)
class Flood:
    """A time with more calls than a person can answer. end_ns None = not over. calls: in all, those before it too."""

    start_ns: int
    end_ns: int | None
    calls: int


@dataclass(frozen=True)
class AlarmLoad:
    """Figures over [start, end). Shares in percent; priorities: share of the calls of each."""

    calls: int
    calls_per_ten_minutes: float
    most_in_ten_minutes: int
    busy_ten_minutes_pct: float
    busy_hours_pct: float
    floods: tuple[Flood, ...]
    flood_pct: float
    top_ten_pct: float
    chattering: tuple[Key, ...]
    stale: tuple[Key, ...]
    priorities: dict[int, float]


def calls_of(transitions: Iterable[Transition]) -> list[Call]:
    """Every time an alarm became unacknowledged, up to where it was gone or hidden."""
    out: list[Call] = []
    standing: dict[Key, list[int]] = {}
    for change in sorted(transitions, key=lambda item: item.at_ns):
        if change.after == "B":
            standing.setdefault(change.alarm, []).append(len(out))
            out.append(Call(change.at_ns, change.alarm, change.priority))
        elif change.after != "C":
            for place in standing.pop(change.alarm, []):
                out[place] = Call(out[place].at_ns, change.alarm, out[place].priority, change.at_ns)
    return out


def calls_in_ten_minutes(times: Sequence[int]) -> list[tuple[int, int]]:
    """(moment, calls in the ten minutes up to and with it), at every moment at which the count changes."""
    changes: Counter[int] = Counter(times)
    changes.subtract(Counter(at_ns + TEN_MINUTES_NS for at_ns in times))
    moments = sorted(moment for moment, change in changes.items() if change)
    return list(zip(moments, itertools.accumulate(changes[moment] for moment in moments), strict=True))


def floods(times: Sequence[int]) -> list[Flood]:
    """Floods by hysteresis: from more than ten calls in ten minutes until fewer than five."""
    out: list[Flood] = []
    start: int | None = None
    for moment, count in calls_in_ten_minutes(times):
        if start is None and count > FLOOD_BEGINS_ABOVE:
            start = moment
        elif start is not None and count < FLOOD_ENDS_BELOW:
            inside = sum(start - TEN_MINUTES_NS < at_ns <= moment for at_ns in times)
            out.append(Flood(start, moment, inside))
            start = None
    return out


def chattering(calls: Sequence[Call]) -> tuple[Key, ...]:
    """Alarms that called three times or more within a minute, the most restless first."""
    rate = {}
    for alarm, own in _by_alarm(calls).items():
        times = [call.at_ns for call in own]
        rate[alarm] = max(sum(at <= other < at + CHATTERING_NS for other in times) for at in times)
    found = [alarm for alarm, most in rate.items() if most >= CHATTERING_CALLS]
    return tuple(sorted(found, key=lambda alarm: (-rate[alarm], alarm)))


def stale(calls: Sequence[Call], end_ns: int) -> tuple[Key, ...]:
    """Alarms that stood for more than a day without a break, by name."""
    found = {c.alarm for c in calls if (end_ns if c.until_ns is None else c.until_ns) - c.at_ns > STALE_NS}
    return tuple(sorted(found))


def alarm_load(calls: Sequence[Call], start_ns: int, end_ns: int) -> AlarmLoad:
    """The figures over [start, end), end after start. Periods of ten minutes and hours count from the start."""
    inside = [call for call in calls if start_ns <= call.at_ns < end_ns]
    times = sorted(call.at_ns for call in inside)
    found = [Flood(f.start_ns, None if (f.end_ns or 0) > end_ns else f.end_ns, f.calls) for f in floods(times)]
    flooded = sum((end_ns if f.end_ns is None else f.end_ns) - f.start_ns for f in found)
    per_alarm = sorted((len(own) for own in _by_alarm(inside).values()), reverse=True)
    count = len(inside)
    return AlarmLoad(
        calls=count,
        calls_per_ten_minutes=count * TEN_MINUTES_NS / (end_ns - start_ns),
        most_in_ten_minutes=max((n for _, n in calls_in_ten_minutes(times)), default=0),
        busy_ten_minutes_pct=_busy_pct(times, start_ns, end_ns, TEN_MINUTES_NS, 10),
        busy_hours_pct=_busy_pct(times, start_ns, end_ns, 3600 * NS, 30),
        floods=tuple(found),
        flood_pct=100 * flooded / (end_ns - start_ns),
        top_ten_pct=100 * sum(per_alarm[:10]) / count if count else 0.0,
        chattering=chattering(inside),
        stale=stale([c for c in calls if c.at_ns < end_ns and (c.until_ns is None or c.until_ns > start_ns)], end_ns),
        priorities={
            priority: 100 * number / count for priority, number in sorted(Counter(c.priority for c in inside).items())
        },
    )


def _by_alarm(calls: Sequence[Call]) -> dict[Key, list[Call]]:
    out: dict[Key, list[Call]] = {}
    for call in calls:
        out.setdefault(call.alarm, []).append(call)
    return out


def _busy_pct(times: Sequence[int], start_ns: int, end_ns: int, period_ns: int, most: int) -> float:
    """Share of the periods, the last one cut short, with more than `most` calls."""
    periods = -(-(end_ns - start_ns) // period_ns)
    counts = Counter((at_ns - start_ns) // period_ns for at_ns in times)
    return 100 * sum(count > most for count in counts.values()) / periods
