"""Rows of cells of a sheet as lines of text, cells between tabs; nothing but the standard library is needed for it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

WIDTH_FROM = 300
"""Rows of a sheet from which its width and the columns of whole days are told."""


def sheet_lines(rows: Iterator[list[object]]) -> Iterator[bytes]:
    """Rows of cells as lines of text in UTF-8."""
    head: list[list[object]] = []
    for row in rows:
        head.append(row)
        if len(head) == WIDTH_FROM:
            break
    width = max(map(len, head), default=0)
    days = [
        all(_whole_day(row[i]) for row in head if i < len(row) and isinstance(row[i], dt.datetime))
        for i in range(width)
    ]
    for row in head:
        yield _line(row, width, days)
    for row in rows:
        yield _line(row, width, days)


def _whole_day(value: object) -> bool:
    return isinstance(value, dt.datetime) and value.time() == dt.time()


def _line(row: list[object], width: int, days: list[bool]) -> bytes:
    if not row:
        return b"\n"
    cells = [_cell(value, i < len(days) and days[i]) for i, value in enumerate(row)]
    cells += [""] * (width - len(cells))
    return ("\t".join(cells) + "\n").encode(errors="replace")


def _cell(value: object, whole_days: bool) -> str:
    if value is None:
        return ""
    if isinstance(value, float):
        return repr(value)
    if isinstance(value, dt.datetime):
        return f"{value:%Y-%m-%d}" if whole_days and _whole_day(value) else value.isoformat(" ")
    if isinstance(value, dt.timedelta):
        seconds, rest = divmod(value // dt.timedelta(milliseconds=1), 1000)
        text = f"{seconds // 3600:02d}:{seconds // 60 % 60:02d}:{seconds % 60:02d}"
        return f"{text}.{rest:03d}" if rest else text
    text = " ".join(str(value).split()) if isinstance(value, str) else str(value)
    return '"' + text.replace('"', '""') + '"' if '"' in text else text
