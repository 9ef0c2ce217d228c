"""Rows of a CSV log whose quoted texts hold line ends (RFC 4180, rule 6), put on one line each."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from ingest.csv_dialect import DELIMITERS, split_lines
from ingest.open_quote import opens_quote

MOST_LINES = 50
"""A row that is not closed within so many lines has a stray quotation mark and is none."""


def whole_records(
    blocks: Iterator[tuple[bytes, int, int]], delimiter: str, columns: int
) -> Iterator[tuple[bytes, int, int]]:
    """Blocks of lines as `line_blocks` gives them, the line ends inside quoted texts turned to blanks.

    Blank lines behind such a row keep the number of lines, so rows keep the numbers an editor shows.
    """
    held, done = b"", 0
    for block, lines, done in blocks:
        if not held and b'"' not in block:
            yield block, lines, done
            continue
        block, held = _joined(held + block, delimiter, columns, final=not block.endswith(b"\n"))
        if block:
            yield block, block.count(b"\n") + (not block.endswith(b"\n")), done
    if held:
        block, _ = _joined(held, delimiter, columns, final=True)
        yield block, block.count(b"\n") + (not block.endswith(b"\n")), done


def joined_head(lines: list[str]) -> list[str]:
    """The same for the first lines of a file, whose delimiter is not known yet."""
    lines = list(lines)
    for i in range(len(lines)):
        if lines[i].count('"') % 2 and any(opens_quote(lines[i].encode(), mark) for mark in DELIMITERS):
            for j in range(i + 1, min(i + 1 + MOST_LINES, len(lines))):
                if lines[j].count('"') % 2:
                    lines[i : j + 1] = [" ".join(line.strip("\r") for line in lines[i : j + 1]), *[""] * (j - i)]
                    break
    return lines


def _joined(data: bytes, delimiter: str, columns: int, final: bool) -> tuple[bytes, bytes]:
    """Whole rows, and what must wait for more lines to tell whether it is one."""
    letters = np.frombuffer(data, np.uint8)
    ends = np.flatnonzero(letters == 10)
    if not data.endswith(b"\n"):
        ends = np.append(ends, len(data))
    marks = np.diff(np.searchsorted(np.flatnonzero(letters == 34), ends), prepend=0)
    odd = np.flatnonzero(marks & 1)
    parts: list[bytes] = []
    taken = after = 0
    for k, first in enumerate(odd.tolist()):
        if first < after:
            continue
        start = int(ends[first - 1]) + 1 if first else 0
        if not opens_quote(data[start : int(ends[first])].rstrip(b"\r"), delimiter):
            continue
        last = int(odd[k + 1]) if k + 1 < len(odd) else None
        if last is None or last - first > MOST_LINES:
            if not final and len(ends) - first <= MOST_LINES:
                return b"".join((*parts, data[taken:start])), data[start:]
            continue
        lines = data[start : int(ends[last])].split(b"\n")
        row = b" ".join(line.rstrip(b"\r") for line in lines)
        if _is_row(row, lines[1:], delimiter, columns):
            parts += [data[taken:start], row, b"\n" * (last - first)]
            taken, after = int(ends[last]), last + 1
    return (b"".join((*parts, data[taken:])) if parts else data), b""


def _is_row(row: bytes, continuations: list[bytes], delimiter: str, columns: int) -> bool:
    """Whether lines make one row. Where a line behind the first is a row by itself, a mark was left open instead."""
    if opens_quote(row, delimiter) or _width(row, delimiter) != columns:
        return False
    return columns < 2 or all(_width(line.rstrip(b"\r"), delimiter) != columns for line in continuations)


def _width(line: bytes, delimiter: str) -> int:
    return len(split_lines([line.decode(errors="replace")], delimiter)[0])
