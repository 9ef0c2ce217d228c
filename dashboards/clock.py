"""Plant time as text. Inside everything is UTC nanoseconds; local time exists only in what people read."""

from __future__ import annotations

import datetime as dt
import zoneinfo
from collections.abc import Sequence

from dashboards.shown_units import chosen
from dashboards.texts import say

SECOND = 1_000_000_000
MINUTE = 60 * SECOND
HOUR = 60 * MINUTE
DAY = 24 * HOUR


class PlantClock:
    """Wall clock of one plant.

    zone: IANA name, e.g. 'Europe/Madrid'.
    """

    def __init__(self, zone: str) -> None:
        self.name = zone
        self._zone = zoneinfo.ZoneInfo(zone)

    def local(self, at_ns: int) -> dt.datetime:
        """Aware local datetime of a UTC instant, microseconds cut."""
        return dt.datetime.fromtimestamp(at_ns // SECOND, dt.UTC).astimezone(self._zone)

    def offset_ns(self, at_ns: int) -> int:
        """How far local time is ahead of UTC at that instant, in nanoseconds."""
        offset = self.local(at_ns).utcoffset() or dt.timedelta(0)
        return int(offset.total_seconds()) * SECOND

    def offset_text(self, at_ns: int) -> str:
        """The offset as 'UTC', 'UTC+1' or 'UTC+5:30'."""
        minutes = self.offset_ns(at_ns) // MINUTE
        if minutes == 0:
            return "UTC"
        hours, rest = divmod(abs(minutes), 60)
        return f"UTC{'+' if minutes > 0 else '-'}{hours}" + (f":{rest:02d}" if rest else "")

    def time(self, at_ns: int) -> str:
        """'07:29:04', or '7:29:04 am' where the reader wants twelve hours."""
        return hands(self.local(at_ns), seconds=True)

    def minute(self, at_ns: int) -> str:
        """'07:29', or '7:29 am'."""
        return hands(self.local(at_ns))

    def day(self, at_ns: int) -> str:
        """'3 Mar 2026', or 'Mar 3, 2026' where the reader wants the month first."""
        local = self.local(at_ns)
        return f"{day_words(local)}{',' if chosen.get().date == 'month' else ''} {local.year}"

    def day_minute(self, at_ns: int) -> str:
        """'3 Mar 07:29'."""
        local = self.local(at_ns)
        return f"{day_words(local)} {hands(local)}"

    def dated(self, at_ns: int, now_ns: int | None = None) -> str:
        """'3 Mar 2026 07:29'; without the year where it is that of `now_ns`."""
        if now_ns is not None and self.local(at_ns).year == self.local(now_ns).year:
            return self.day_minute(at_ns)
        return f"{self.day(at_ns)} {self.minute(at_ns)}"

    def turned(self, start_ns: int, end_ns: int) -> bool:
        """Whether the clock was put forward or back between two instants, or one is of an hour that comes twice: then
        each is told with its offset."""
        return self.offset_ns(start_ns) != self.offset_ns(end_ns) or self._twice(start_ns) or self._twice(end_ns)

    def _twice(self, at_ns: int) -> bool:
        """Whether the wall clock shows this time a second time."""
        local = self.local(at_ns)
        return local.replace(fold=0).utcoffset() != local.replace(fold=1).utcoffset()

    def _with_offset(self, text: str, at_ns: int) -> str:
        return f"{text} ({self.offset_text(at_ns)})"

    def interval_dated(self, start_ns: int, end_ns: int) -> str:
        """'3 Mar 2026 05:12 to 07:29', day and year of the end only where they differ."""
        same_day = self.local(start_ns).date() == self.local(end_ns).date()
        start, end = self.dated(start_ns), self.minute(end_ns) if same_day else self.dated(end_ns, start_ns)
        if self.turned(start_ns, end_ns):
            start, end = self._with_offset(start, start_ns), self._with_offset(end, end_ns)
        return say("clock.interval", start=start, end=end)

    def since(self, at_ns: int, now_ns: int) -> str:
        """The shortest text that still tells the instant: the minute today, else with its date."""
        same_day = self.local(at_ns).date() == self.local(now_ns).date()
        return self.minute(at_ns) if same_day else self.day_minute(at_ns)

    def interval(self, start_ns: int, end_ns: int) -> str:
        """'3 Mar 05:12 to 07:29', the second date only where it differs; '3 Mar 05:12, for 24 s' inside one minute;
        '25 Oct 02:23 (UTC+2) to 02:21 (UTC+1)' where the clock was put back or forward between them."""
        start, turned = self.day_minute(start_ns), self.turned(start_ns, end_ns)
        if start == self.day_minute(end_ns):
            return _moment(start, end_ns - start_ns)
        same_day = self.local(start_ns).date() == self.local(end_ns).date()
        end = self.minute(end_ns) if same_day else self.day_minute(end_ns)
        if turned:
            start, end = self._with_offset(start, start_ns), self._with_offset(end, end_ns)
        return say("clock.interval", start=start, end=end)

    def stretch(self, start_ns: int, end_ns: int, now_ns: int) -> str:
        """As short as a column takes it: '05:12 – 07:29', with dates where the day is not now's or both differ."""
        start, end = self.since(start_ns, now_ns), self.since(end_ns, now_ns)
        turned = end_ns - start_ns < DAY and self.turned(start_ns, end_ns)  # over days, an hour is no matter here
        if start == end:
            return _moment(start, end_ns - start_ns)
        same_day = self.local(start_ns).date() == self.local(end_ns).date()
        end = self.minute(end_ns) if same_day else self.day_minute(end_ns)
        if turned:
            start, end = self._with_offset(start, start_ns), self._with_offset(end, end_ns)
        return f"{start} – {end}"

    def moments(self, instants: Sequence[int]) -> list[str]:
        """'3 Mar 07:29' of each, of them all with offset where `turned` between the first and the last."""
        turned = self.turned(min(instants), max(instants))
        texts = ((self.day_minute(at_ns), at_ns) for at_ns in instants)
        return [self._with_offset(text, at_ns) if turned else text for text, at_ns in texts]

    def parse_day(self, text: str) -> int | None:
        """Start of a local day written as 2026-03-01, in UTC nanoseconds; None if it is not a day."""
        try:
            day = dt.date.fromisoformat(text.strip())
        except ValueError:
            return None
        local = dt.datetime(day.year, day.month, day.day, tzinfo=self._zone)
        return int(local.timestamp()) * SECOND

    def parse_moment(self, text: str) -> int | None:
        """A moment of ISO 8601, local where no offset stands in it, in UTC nanoseconds; None if it is not one."""
        try:
            moment = dt.datetime.fromisoformat(text.strip())
        except ValueError:
            return None
        return int((moment if moment.tzinfo else moment.replace(tzinfo=self._zone)).timestamp()) * SECOND


def _moment(at: str, length_ns: int) -> str:
    """A stretch of which both ends would read the same: its moment and how long it took."""
    return say("clock.moment", at=at, time=duration(length_ns / SECOND)) if length_ns >= SECOND else at


def hands(local: dt.datetime, *, seconds: bool = False) -> str:
    """What the clock shows, of 24 or of 12 hours as the reader chose; a narrow no-break space before am and pm."""
    tail = ":%M:%S" if seconds else ":%M"
    if chosen.get().hours == "24":
        return local.strftime(f"%H{tail}")
    return f"{local.hour % 12 or 12}{local.strftime(tail)}\u202f{say('clock.am' if local.hour < 12 else 'clock.pm')}"


def day_words(local: dt.datetime) -> str:
    """'3 Mar' or 'Mar 3'."""
    month = say(f"month.{local.month}")
    return f"{month} {local.day}" if chosen.get().date == "month" else f"{local.day} {month}"


def hover_format(*, seconds: bool = True) -> str:
    """The same as a chart's format of time under the pointer."""
    day = "%b %d" if chosen.get().date == "month" else "%d %b"
    tail = ":%M:%S" if seconds else ":%M"
    return f"{day} %H{tail}" if chosen.get().hours == "24" else f"{day} %-I{tail} %p"


def duration(seconds: float) -> str:
    """Length of time in at most two units: '38 s', '12 min', '2 h 10 min', '3 d 4 h'."""
    whole = max(0, round(seconds))
    if whole < 60:
        return f"{whole} s"
    minutes = round(whole / 60)
    if minutes < 60:
        return f"{minutes} min"
    hours, minutes = divmod(minutes, 60)
    if hours < 24:
        return f"{hours} h {minutes} min" if minutes else f"{hours} h"
    days, hours = divmod(hours, 24)
    return f"{days} d {hours} h" if hours else f"{days} d"


_TICK_STEPS = (
    10 * SECOND,
    30 * SECOND,
    MINUTE,
    2 * MINUTE,
    5 * MINUTE,
    10 * MINUTE,
    15 * MINUTE,
    30 * MINUTE,
    HOUR,
    2 * HOUR,
    3 * HOUR,
    6 * HOUR,
    12 * HOUR,
    DAY,
    2 * DAY,
    7 * DAY,
    14 * DAY,
)


def time_ticks(clock: PlantClock, t0: int, t1: int, at_most: int = 9) -> list[tuple[int, str]]:
    """Round local times in [t0, t1] with their labels; the offset at t0 holds for the whole axis."""
    step = next((s for s in _TICK_STEPS if (t1 - t0) / s <= at_most), _TICK_STEPS[-1])
    offset = clock.offset_ns(t0)
    first = -(-(t0 + offset) // step) * step - offset
    ticks = list(range(first, t1 + 1, step))
    labels: list[tuple[int, str]] = []
    last_day = None
    for at in ticks:
        wall = dt.datetime.fromtimestamp((at + offset) // SECOND, dt.UTC)
        new_day = wall.date() != last_day
        last_day = wall.date()
        if step >= DAY:
            labels.append((at, day_words(wall)))
        elif new_day and (len(labels) > 0 or t1 - t0 > 20 * HOUR):
            labels.append((at, f"{day_words(wall)} {hands(wall)}"))
        else:
            labels.append((at, hands(wall, seconds=step < MINUTE)))
    return labels
