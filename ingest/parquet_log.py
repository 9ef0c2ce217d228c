"""A Parquet log, read row group by row group."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import accumulate
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq

from ingest.account import FileRead
from ingest.errors import BadLog, missing_columns
from ingest.raw_rows import RawRows, Seen
from ingest.time_stamps import as_text

BATCH_ROWS = 65_536
MAGIC = b"PAR1"
_HEAD_ROWS = 1000
_GROUPS, _ROWS_A_GROUP = 20, 50


class ParquetLog:
    """One Parquet file of a log, opened.

    wanted: columns the line file names. Raises BadLog for a file that is cut off or damaged, for missing
    columns, for columns that hold neither numbers nor texts, and for a file without rows.
    """

    def __init__(self, path: Path, wanted: tuple[str, ...], batch_rows: int = BATCH_ROWS) -> None:
        self.path = path
        self._batch_rows = batch_rows
        try:
            self._file = pq.ParquetFile(path)
        except (pa.ArrowException, OSError):
            raise _damaged(path) from None
        schema = self._file.schema_arrow
        self.names = tuple(schema.names)
        self.size_bytes = path.stat().st_size
        self.stamp_columns = tuple(field.name for field in schema if pa.types.is_timestamp(field.type))
        missing = [name for name in dict.fromkeys(wanted) if name not in self.names]
        if missing:
            raise missing_columns(path, missing, self.names)
        for name in wanted:
            if self.names.count(name) > 1:
                raise BadLog(path, "column is there twice", column=name, hint="Rename one of them in the export.")
            if pa.types.is_nested(schema.field(name).type):
                raise BadLog(path, f"column holds {schema.field(name).type}, not one value a row", column=name)
        self._rows = self._file.metadata.num_rows
        if not self._rows:
            raise BadLog(path, "is empty", hint="Check the export: there is not one row in it.")
        self.entry = FileRead(str(path), "Parquet", {"row groups": str(self._file.metadata.num_row_groups)})
        self._head: RawRows | None = None

    def head(self) -> RawRows:
        """The first rows with the types they have."""
        if self._head is None:
            fields = (field for field in self._file.schema_arrow if not pa.types.is_nested(field.type))
            names = tuple(dict.fromkeys(field.name for field in fields))
            parts: list[RawRows] = []
            for rows in self._batches(names, _HEAD_ROWS, None):
                parts.append(rows)
                if rows.numbers[-1] >= _HEAD_ROWS or len(parts) == _GROUPS:
                    break
            columns = {
                name: pa.chunked_array([chunk for part in parts for chunk in part.columns[name].chunks])
                for name in names
            }
            numbers = np.concatenate([part.numbers for part in parts])
            self._head = RawRows(str(self.path), numbers, columns)
        return self._head

    def seen(self, name: str) -> list[Seen]:
        """Texts of a column from the first rows and from the start of row groups all over the file."""
        head = self.head()
        texts = as_text(head.columns[name]).to_pylist()
        seen = [Seen(text, int(row)) for text, row in zip(texts, head.numbers, strict=True)]
        groups = self._file.metadata.num_row_groups
        starts = [0, *accumulate(self._file.metadata.row_group(i).num_rows for i in range(groups))]
        for group in sorted({int(i) for i in np.linspace(0, groups - 1, _GROUPS)} - {0}):
            if starts[group] < len(texts):
                continue
            for rows in self._batches((name,), _ROWS_A_GROUP, [group]):
                more = as_text(rows.columns[name]).to_pylist()
                seen += [Seen(text, starts[group] + 1 + i) for i, text in enumerate(more)]
                break
        return seen

    def row_of(self, seen: Seen) -> int:
        """Row number of a text that was seen."""
        return seen.row or 0

    def rows(self, names: tuple[str, ...], numeric: frozenset[str]) -> Iterator[RawRows]:
        """The whole file; columns keep their types, whatever `numeric` says."""
        total = 0
        for rows in self._batches(names, self._batch_rows, None):
            total += len(rows.numbers)
            yield rows
        self.entry.rows = total

    def _batches(self, names: tuple[str, ...], size: int, groups: list[int] | None) -> Iterator[RawRows]:
        number = 1
        try:
            # Asked for several row groups at once, Arrow would fetch the bytes of all of them first.
            for group in range(self._file.metadata.num_row_groups) if groups is None else groups:
                for batch in self._file.iter_batches(size, row_groups=[group], columns=list(names)):
                    table = pa.table(batch)
                    numbers = np.arange(number, number + len(table), dtype=np.int64)
                    number += len(table)
                    done = int(self.size_bytes * min(1.0, (number - 1) / self._rows))
                    yield RawRows(str(self.path), numbers, {name: table.column(name) for name in names}, (), done)
        except (pa.ArrowException, OSError):
            raise _damaged(self.path, number) from None


def _damaged(path: Path, row: int | None = None) -> BadLog:
    return BadLog(
        path,
        "is not a whole Parquet file; it is cut off or damaged",
        row=row,
        hint="Copy it again from where it was made; a file that is still being written has no end yet.",
    )
