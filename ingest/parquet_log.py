"""A Parquet log, read row group by row group."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import cache
from itertools import accumulate

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq

from ingest.account import FileRead
from ingest.column_names import MOST_COLUMNS, with_unit_behind
from ingest.csv_dialect import too_many_columns
from ingest.errors import BadLog, missing_columns
from ingest.log_file import LogFile, open_bytes
from ingest.number_text import Decimal
from ingest.raw_rows import RawRows, Seen
from ingest.time_stamps import as_text

BATCH_ROWS = 65_536
MAGIC = b"PAR1"
LARGEST_CHUNK = 1 << 32
"""Bytes; one column of one row group, unpacked. A row group is meant to be a hundred megabytes or so in all."""
FREE_ROWS, ROWS_A_BYTE = 100_000_000, 1000
"""A file with more than FREE_ROWS rows and more than ROWS_A_BYTE of them in a byte holds no readings."""

_HEAD_ROWS = 1000
_GROUPS, _ROWS_A_GROUP = 20, 50
_UNITS_UNDER = (b"unit", b"units")
_NO_PARTITION = "__HIVE_DEFAULT_PARTITION__"


class ParquetLog:
    """One Parquet file of a log, opened. The file itself is open only while it is read.

    wanted: columns the line file names. units: of those. partial: some of them may not be there.
    Raises BadLog for a file that is cut off or damaged, for missing columns, for columns that hold neither numbers
    nor texts, for a file without rows, and for one made to unpack to more than a log can hold.
    """

    preamble: tuple[str, ...] = ()

    def __init__(
        self,
        file: LogFile,
        wanted: tuple[str, ...],
        batch_rows: int = BATCH_ROWS,
        units: Mapping[str, str] | None = None,
        partial: bool = False,
    ) -> None:
        self.path = file.name
        self._file = file
        self._batch_rows = batch_rows
        self.size_bytes = file.size_bytes
        with self._opened() as parquet:
            schema, metadata = parquet.schema_arrow, parquet.metadata
            self._groups = [metadata.row_group(i).num_rows for i in range(metadata.num_row_groups)]
            if len(schema.names) > MOST_COLUMNS:
                raise too_many_columns(self.path, len(schema.names))
            constants = {name: text for name, text in file.constants.items() if name not in schema.names}
            plain = (*schema.names, *constants)
            self.names, self.units = with_unit_behind(plain, wanted, units or {})
            self._in_file = dict(zip(self.names, plain, strict=True))
            self._constants = {name: None if text == _NO_PARTITION else text for name, text in constants.items()}
            self._check_columns(wanted, schema, partial)
            self._refuse_bombs(wanted, parquet)
        self._learn_units(wanted, schema)
        flat = {
            name for name in self.names if name in self._constants or not pa.types.is_nested(self._kind(schema, name))
        }
        self._flat = tuple(name for name in dict.fromkeys(self.names) if name in flat and self.names.count(name) == 1)
        self.stamp_columns = tuple(
            name for name in self._flat if name not in constants and pa.types.is_timestamp(self._kind(schema, name))
        )
        self._rows = sum(self._groups)
        if not self._rows:
            raise BadLog(self.path, "is empty", hint="Check the export: there is not one row in it.")
        found = {"row groups": str(len(self._groups))}
        found |= {f"folder {name}": text or "" for name, text in self._constants.items()}
        self.entry = FileRead(self.path, "Parquet", found)
        self._head: RawRows | None = None

    def head(self) -> RawRows:
        """The first rows with the types they have."""
        if self._head is None:
            parts: list[RawRows] = []
            for rows in self._batches(self._flat, _HEAD_ROWS, None):
                parts.append(rows)
                if rows.numbers[-1] >= _HEAD_ROWS or len(parts) == _GROUPS:
                    break
            columns = {
                name: pa.chunked_array([chunk for part in parts for chunk in part.columns[name].chunks])
                for name in self._flat
            }
            numbers = np.concatenate([part.numbers for part in parts])
            self._head = RawRows(self.path, numbers, columns)
        return self._head

    def seen(self, name: str) -> list[Seen]:
        """Texts of a column from the first rows and from the start of row groups all over the file."""
        head = self.head()
        texts = as_text(head.columns[name]).to_pylist()
        seen = [Seen(text, int(row)) for text, row in zip(texts, head.numbers, strict=True)]
        starts = [0, *accumulate(self._groups)]
        for group in sorted({int(i) for i in np.linspace(0, len(self._groups) - 1, _GROUPS)} - {0}):
            if starts[group] < len(texts):
                continue
            for rows in self._batches((name,), _ROWS_A_GROUP, [group]):
                more = as_text(rows.columns[name]).to_pylist()
                seen += [Seen(text, starts[group] + 1 + i) for i, text in enumerate(more)]
                break
        return seen

    def texts(self, name: str) -> list[str]:
        """The same without their places."""
        return [one.text for one in self.seen(name)]

    def decimal(self, name: str) -> Decimal:
        """Texts in Parquet files have points."""
        return "."

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
        wanted = [self._in_file[name] for name in names if name not in self._constants]
        try:
            with self._opened() as parquet:
                # Asked for several row groups at once, Arrow would fetch the bytes of all of them first.
                for group in range(len(self._groups)) if groups is None else groups:
                    for batch in parquet.iter_batches(size, row_groups=[group], columns=wanted):
                        table = pa.table(batch)
                        numbers = np.arange(number, number + batch.num_rows, dtype=np.int64)
                        number += batch.num_rows
                        done = int(self.size_bytes * min(1.0, (number - 1) / self._rows))
                        columns = {name: self._column(table, name, batch.num_rows) for name in names}
                        yield RawRows(self.path, numbers, columns, (), done)
        except (pa.ArrowException, OSError):
            raise _damaged(self.path, number) from None

    def _column(self, table: pa.Table, name: str, rows: int) -> pa.ChunkedArray:
        if name in self._constants:
            return pa.chunked_array([pa.repeat(pa.scalar(self._constants[name], pa.string()), rows)])
        column = table.column(self._in_file[name])
        if pa.types.is_dictionary(column.type) or pa.types.is_string(column.type):
            column.validate(full=True)  # damaged ones would fail wherever they are looked at
        if pa.types.is_timestamp(column.type) and not _has_known_zone(column.type):
            column = column.cast(pa.timestamp(column.type.unit, "UTC"))  # which the numbers are in any case
        return column

    def _opened(self) -> pq.ParquetFile:
        open_bytes(self._file.on_disk).close()
        try:
            return pq.ParquetFile(self._file.on_disk)
        except (pa.ArrowException, OSError):
            raise _damaged(self.path) from None

    def _kind(self, schema: pa.Schema, name: str) -> pa.DataType:
        return schema.field(schema.names.index(self._in_file[name])).type

    def _check_columns(self, wanted: tuple[str, ...], schema: pa.Schema, partial: bool) -> None:
        missing = [name for name in dict.fromkeys(wanted) if name not in self.names]
        if missing and not partial:
            raise missing_columns(self.path, missing, tuple(self._in_file.values()))
        for name in set(wanted) - set(missing) - set(self._constants):
            if self.names.count(name) > 1:
                raise BadLog(self.path, "column is there twice", column=name, hint="Rename one of them in the export.")
            if pa.types.is_nested(self._kind(schema, name)):
                kind = self._kind(schema, name)
                raise BadLog(self.path, f"column holds {kind}, not one value a row", column=name)

    def _refuse_bombs(self, wanted: tuple[str, ...], parquet: pq.ParquetFile) -> None:
        metadata = parquet.metadata
        if metadata.num_rows > max(FREE_ROWS, ROWS_A_BYTE * self.size_bytes):
            raise BadLog(
                self.path,
                f"holds {metadata.num_rows} rows in {self.size_bytes} bytes, which no log does",
                hint="It is damaged or made to keep a reader busy; have the log exported again.",
            )
        names = {self._in_file[name] for name in wanted if name in self._in_file}
        places = [i for i in range(metadata.num_columns) if metadata.schema.column(i).path in names]
        for group in range(metadata.num_row_groups):
            row_group = metadata.row_group(group)
            if row_group.total_byte_size <= LARGEST_CHUNK:
                continue
            # To look at a damaged column chunk without reading of it ends the process (pyarrow 26): read one row first.
            self._read_one_row(parquet, group, [name for name in parquet.schema_arrow.names if name in names])
            for place in places:
                chunk = row_group.column(place)
                if chunk.total_uncompressed_size > LARGEST_CHUNK:
                    raise BadLog(
                        self.path,
                        f"one row group unpacks to {chunk.total_uncompressed_size / 1e9:.1f} GB",
                        column=chunk.path_in_schema,
                        hint="Write it again with row groups of about a million rows.",
                    )

    def _read_one_row(self, parquet: pq.ParquetFile, group: int, names: list[str]) -> None:
        try:
            next(parquet.iter_batches(1, row_groups=[group], columns=names), None)
        except (pa.ArrowException, OSError):
            raise _damaged(self.path) from None

    def _learn_units(self, wanted: tuple[str, ...], schema: pa.Schema) -> None:
        """Units that the file gives with its columns."""
        for name in set(wanted) & set(self.names) - set(self._constants):
            about = schema.field(schema.names.index(self._in_file[name])).metadata or {}
            for key in _UNITS_UNDER:
                if key in about:
                    self.units.setdefault(name, about[key].decode(errors="replace"))


@cache
def _has_known_zone(kind: pa.TimestampType) -> bool:
    """Whether a kind of time has no zone or one that can be used; damaged files name zones that do not exist."""
    try:
        pa.array([0], kind).cast(pa.date32())
    except (pa.ArrowException, UnicodeDecodeError):
        return False
    return True


def _damaged(path: str, row: int | None = None) -> BadLog:
    return BadLog(
        path,
        "is not a whole Parquet file; it is cut off or damaged",
        row=row,
        hint="Copy it again from where it was made; a file that is still being written has no end yet.",
    )
