"""Names and sizes in an archive: folders, days, row groups."""

from __future__ import annotations

import datetime as dt
import hashlib
from urllib.parse import quote, unquote

FORMAT = 1
SECOND_NS = 1_000_000_000
HOUR_NS = 3600 * SECOND_NS
DAY_NS = 24 * HOUR_NS
WIDTHS_S = (10, 60, 600)
"""Coarser levels; a level is kept where a bucket holds at least two cells."""
MOST_CELLS = 21_600
"""Cells wanted in a row group, 6 h at one a second: larger ones are written faster, of smaller ones less is read."""
_GROUPS_NS = (6 * HOUR_NS, HOUR_NS)


def day_of(t_ns: int) -> str:
    """The UTC day in which a time lies, YYYY-MM-DD."""
    return (dt.date(1970, 1, 1) + dt.timedelta(days=t_ns // DAY_NS)).isoformat()


def start_of(day: str) -> int:
    """UTC nanoseconds of the start of a day."""
    return (dt.date.fromisoformat(day) - dt.date(1970, 1, 1)).days * DAY_NS


def group_ns(step: int) -> int:
    """Time of one row group: whole hours, so that a Block and a bucket of any level lie in one group."""
    return next((ns for ns in _GROUPS_NS if ns <= MOST_CELLS * step), _GROUPS_NS[-1])


def widths_for(step: int) -> tuple[int, ...]:
    """Levels that are kept at a cadence, in s, the finest first."""
    return tuple(width for width in WIDTHS_S if width * SECOND_NS >= 2 * step)


def cells_folder(line: str, day: str = "") -> str:
    """Folder of a line's cells, or of one day of them."""
    return _folder("cells", line, day)


def coarse_folder(line: str, day: str = "") -> str:
    """Folder of a line's coarser levels, or of one day of them."""
    return _folder("coarse", line, day)


def book_folder(line: str) -> str:
    """Folder of the records of a line."""
    return f"book/line={quote(line, safe='')}"


def line_in(path: str) -> str:
    """Name of the line in a path below book/."""
    return unquote(path.split("/")[1].removeprefix("line="))


def file_name(*origin: str) -> str:
    """Name of a data file that follows from what it is made of, so that a repeated import makes no other."""
    return hashlib.sha256("\n".join(origin).encode()).hexdigest()[:20] + ".parquet"


def _folder(kind: str, line: str, day: str) -> str:
    return f"{kind}/line={quote(line, safe='')}" + (f"/day={day}" if day else "")
