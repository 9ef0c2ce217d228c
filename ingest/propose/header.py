"""Finds the header of a text log of which nothing is known: the row of names above the rows of numbers."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence

from ingest.csv_dialect import DELIMITERS, HEADER_WITHIN, split_lines
from ingest.errors import BadLog
from ingest.number_text import NO_READING
from ingest.stamp_text import looks_like_time

_NUMBER = re.compile(r"\s*[+-]?(\d[\d.,' \u00a0]*|[.,]\d+)([eE][+-]?\d+)?\s*")
_LOOK_AT = 200


def names_in_head(path: str, lines: Sequence[str]) -> tuple[str, ...]:
    """The column names of a table that starts with `lines`; raises BadLog where no header can be made out."""
    lines = list(lines[:_LOOK_AT])
    best: tuple[int, int, tuple[str, ...]] | None = None
    for delimiter in DELIMITERS:
        table = split_lines(lines, delimiter)
        # Names may hold blanks and commas; rows of numbers are the better witness of the width.
        full = [fields for fields in table if any(field.strip() for field in fields)]
        if not full:
            continue
        width, rows = Counter(map(len, full)).most_common(1)[0]
        if width < 2 or rows < 0.5 * len(full):
            continue
        names = _names(table[:HEADER_WITHIN], width)
        if names and (best is None or (rows, width) > best[:2]):
            best = (rows, width, names)
    if best is None:
        start = next((line for line in lines if line.strip()), "")
        raise BadLog(
            path,
            f"no row of column names can be made out; it starts with '{start[:60]}'",
            hint="Export the log as a table with column names in the first row.",
        )
    return best[2]


def _names(table: Sequence[Sequence[str]], width: int) -> tuple[str, ...]:
    for fields in table:
        stripped = [field.strip() for field in fields]
        if abs(len(stripped) - width) > 1 or any(map(looks_like_time, stripped)):
            continue
        filled = [field for field in stripped if field]
        words = [field for field in filled if not _NUMBER.fullmatch(field) and field.casefold() not in NO_READING]
        if len(words) >= 2 and len(words) > 0.6 * len(filled) and len(filled) >= 0.5 * width:
            return tuple(stripped)
    return ()
