"""Columns that a CSV log has only from some row on: they stand in a later header row."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from ingest.column_names import with_unit_behind
from ingest.csv_dialect import Dialect, holds_names, split_lines
from ingest.head_again import header_pattern
from ingest.log_file import LogFile
from ingest.text_file import TextForm, line_blocks

_BLOCK_BYTES = 8 << 20


def later_columns(
    file: LogFile, form: TextForm, dialect: Dialect, wanted: Sequence[str], units: Mapping[str, str]
) -> tuple[str, ...]:
    """Which of the wanted columns, missing in the first header row, stand in a later one. Reads the whole file."""
    missing = [name for name in wanted if name not in dialect.names]
    look = header_pattern(missing, dialect.delimiter)
    found: set[str] = set()
    for block, _, _ in line_blocks(file, form, _BLOCK_BYTES, lambda _: None):
        end = 0
        for match in look.finditer(block):
            if match.start() < end:
                continue
            start, end = block.rfind(b"\n", 0, match.end()) + 1, block.find(b"\n", match.end())
            end = len(block) if end < 0 else end
            fields = split_lines([block[start:end].decode(errors="replace").rstrip("\r")], dialect.delimiter)[0]
            names, _ = with_unit_behind([field.strip() for field in fields], wanted, units)
            there = set(names) & set(wanted)
            if len(there) * 2 > len(set(wanted) & set(dialect.names)) and holds_names(fields):
                found |= there
        if found.issuperset(missing):
            break
    return tuple(name for name in missing if name in found)
