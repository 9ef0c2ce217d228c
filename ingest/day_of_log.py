"""The day on which a log starts whose rows hold only times of day: it stands above the table or in the file's name."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime

from ingest.account import GUESS, LIKELY, ReadingAccount
from ingest.calendar_words import LETTER, month_of
from ingest.errors import BadLog
from ingest.mapping import LogMapping
from ingest.raw_rows import Log, RawRows

_YEAR_FIRST = re.compile(r"(?<!\d)(?P<y>(?:19|20)\d\d)(?P<s>[-/._])(?P<m>\d{1,2})(?P=s)(?P<d>\d{1,2})(?!\d)")
# Behind eight digits may stand a time of day of four or six.
_COMPACT = re.compile(r"(?<!\d)(?P<y>(?:19|20)\d\d)(?P<m>\d\d)(?P<d>\d\d)(?=(?:\d{4}|\d{6})?(?!\d))")
_YEAR_LAST = re.compile(r"(?<!\d)(?P<d>\d{1,2})(?P<s>[-/._])(?P<m>\d{1,2})(?P=s)(?P<y>(?:19|20)\d\d)(?!\d)")
_YEAR = r"(?P<y>(?:19|20)\d\d)(?!\d)"
_NAMED = re.compile(rf"(?<!\d)(?P<d>\d{{1,2}})[-_. ]+(?:de )?(?P<b>{LETTER}{{3,}})[-_., ]+(?:de )?{_YEAR}")
_NAMED_FIRST = re.compile(rf"(?P<b>{LETTER}{{3,}})\.? (?P<d>\d{{1,2}}),? {_YEAR}")
_START = re.compile(
    r"start|begin|from|\bvon\b|\bab\b|in[ií]cio|desde|d[ée]but|depuis|inizio|\bdal\b|\bvan\b", re.IGNORECASE
)
_MADE = re.compile(
    r"export|print|creat|generat|saved|druck|erstellt|impres|cread|imprim|créé|stampa|report(ed)? on", re.IGNORECASE
)
"""Words beside the day on which a file was made, which need not be that of its rows."""
_SAY = (
    "Put the day of the first row into the name of the file, as 'log 2026-03-06.csv', or export dates with the times."
)


@dataclass(frozen=True)
class _Dated:
    """A day, the text that says it, and whether day and month could be the other way round."""

    day: date
    text: str
    open: bool = False


def day_of_log(log: Log, column: str, account: ReadingAccount) -> date:
    """The day of the first row; where it was found is said. Raises BadLog where nothing says it, or several things.

    What stands above the table counts more than the name, which may be of the day of the export.
    """
    above = _from_preamble(log, column)
    name = re.split(r"[/\\]", log.path)[-1]
    named = _days_in(name)
    found, where = above, f"the line above the table that says '{above.text}'" if above else ""
    if found is None and named:
        found, where = min(named, key=lambda one: one.day), f"the name of the file ('{name}')"
    holds = f"column '{column}' holds times of day"
    if found is None:
        what = f"{holds} and no column the date; nor does a line above the table or the name of the file"
        raise _refused(log, column, what)
    if found.open:
        what = f"{holds}, and in the date '{found.text}' day and month cannot be told apart"
        raise _refused(log, column, what)
    others = [one.text for one in named if one.day != found.day]
    beside = f"; the name of the file also says '{others[0]}'" if others else ""
    account.assume(
        f"{log.path}: column '{column}' holds times of day only; the first row is taken to be of {found.day}, after "
        f"{where}{beside}; where the time of day falls, the next day begins, so that a stop of more than a day is not "
        "seen",
        LIKELY,
    )
    return found.day


def say_new_day(
    rows: RawRows, index: int, before_ns: int, now_ns: int, mapping: LogMapping, account: ReadingAccount
) -> None:
    """The time of day fell, and another day begins. Around midnight that needs no word; else it is said.

    Raises BadLog for the long layout: there the rows of another tag may begin as well.
    """
    before, now = (f"{datetime.fromtimestamp(ns // 10**9, UTC):%H:%M:%S}" for ns in (before_ns, now_ns))
    row = int(rows.numbers[index])
    if mapping.layout == "long":
        raise BadLog(
            rows.file,
            f"the time of day falls from {before} to {now}, and whether another day begins here or the rows of another "
            "tag cannot be told without dates",
            row=row,
            hint="Export the date with the time, or one file for every day.",
        )
    if before < "21" or now >= "03":
        account.assume(
            f"{rows.file}, row {row}: the time of day falls from {before} to {now}; taken as the next day", GUESS
        )


def _from_preamble(log: Log, column: str) -> _Dated | None:
    dated = [(line, one) for line in log.preamble for one in _days_in(line)]
    days = {one.day for _, one in dated}
    if not days:
        return None
    if len(days) > 1:
        starts = [one for line, one in dated if _START.search(line) and not _MADE.search(line)]
        if len({one.day for one in starts}) > 1:  # 'from 6 March 2026 to 8 March 2026' on one line
            starts = [min(starts, key=lambda one: one.day)]
        if not starts:
            listed = ", ".join(f"'{one.text}'" for _, one in dated[:3])
            what = f"column '{column}' holds times of day, and several dates stand above the table ({listed})"
            raise _refused(log, column, what)
        return starts[0]
    line, found = dated[0]
    if _MADE.search(line) and not _START.search(line):
        what = f"column '{column}' holds times of day, and the only date above the table is that of the export"
        raise _refused(log, column, f"{what} ('{line.strip()[:60]}')")
    return found


def _days_in(text: str) -> list[_Dated]:
    """The days that a text says, each once, in their order."""
    found: dict[date, _Dated] = {}
    for match in _matches(text[:1000]):
        parts = match.groupdict()
        month = month_of(parts["b"]) if "b" in parts else int(parts["m"])
        day, year, open_ = int(parts["d"]), int(parts["y"]), False
        if match.re is _YEAR_LAST:
            if month > 12 >= day:
                day, month = month, day
            # With points between, the day comes first (common practice).
            open_ = parts["s"] != "." and day <= 12 and month <= 12 and day != month
        try:
            one = _Dated(date(year, month, day), match[0], open_)
        except ValueError:
            continue
        found.setdefault(one.day, one)
    return list(found.values())


def _matches(text: str) -> Iterator[re.Match[str]]:
    found = [
        match for form in (_YEAR_FIRST, _COMPACT, _YEAR_LAST, _NAMED, _NAMED_FIRST) for match in form.finditer(text)
    ]
    yield from sorted(found, key=lambda match: match.start())


def _refused(log: Log, column: str, reason: str) -> BadLog:
    return BadLog(log.path, reason, column=column, hint=_SAY)
