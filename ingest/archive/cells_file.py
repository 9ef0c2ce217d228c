"""The cells of one line and day in one Parquet file.

Columns: `time` (start of the cell, UTC), for every channel its value under the channel key (NaN = no reading) and its
status under `status:` + key. A status is left empty where it follows from the value: a reading that came in this cell
and is good, or no reading at all. Row groups are whole stretches of time, sorted, with statistics of every column.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq

from ingest.archive.layout import FORMAT
from ingest.archive.runs import blocks_of
from ingest.block import FRESH, GOOD, NONE, Block

_TIME, _STATUS, _KEY = "time", "status:", b"evenmelt"
_PLAIN = GOOD | FRESH


class CellsWriter:
    """Writes row groups in order of time; every Block given has the same channels, in the same order."""

    def __init__(self, sink: pa.NativeFile, line: str, step: int, channels: tuple[str, ...]) -> None:
        about = {"format": FORMAT, "line": line, "step_ns": step, "channels": channels}
        fields = [pa.field(_TIME, pa.timestamp("ns", "UTC"), nullable=False)]
        fields += [pa.field(key, pa.float64(), nullable=False) for key in channels]
        fields += [pa.field(_STATUS + key, pa.uint8()) for key in channels]
        self._schema = pa.schema(fields, metadata={_KEY: json.dumps(about, ensure_ascii=False).encode()})
        self._sink, self._channels = sink, channels
        self._writer: pq.ParquetWriter | None = None

    def _begin(self, told: np.ndarray) -> pq.ParquetWriter:
        """Begins the file. told: bool, which channels have a status that is not left empty, at first."""
        names = self._schema.names
        # To begin to pack takes longer than to write an empty column, and makes it no smaller.
        empty = {_STATUS + key for key, some in zip(self._channels, told, strict=True) if not some}
        options: dict[str, Any] = {
            "compression": {name: "none" if name in empty else "zstd" for name in names},
            "compression_level": {name: 1 for name in names if name not in empty},
            # Readings come in steps of their sensor's resolution, so a dictionary makes them a third of the size.
            "use_dictionary": names[1:],
            "column_encoding": {_TIME: "DELTA_BINARY_PACKED"},
            "sorting_columns": [pq.SortingColumn(0)],
        }
        return pq.ParquetWriter(self._sink, self._schema, **options)

    def write(self, blocks: Sequence[Block]) -> None:
        """One row group."""
        kind = self._schema.field(_TIME).type
        count = sum(block.n for block in blocks)
        columns: list[pa.ChunkedArray] = [pa.chunked_array([pa.array(block.times()).cast(kind) for block in blocks])]
        columns += [
            pa.chunked_array([pa.array(block.values[i]) for block in blocks]) for i in range(len(blocks[0].channels))
        ]
        empty = pa.chunked_array([pa.nulls(count, pa.uint8())])
        told = np.zeros(len(blocks[0].channels), bool)
        for block in blocks:
            told |= _told(block)
        for i, needed in enumerate(told):
            given = pa.chunked_array([pa.array(block.status[i]) for block in blocks]) if needed else empty
            columns.append(given)
        if self._writer is None:
            self._writer = self._begin(told)
        self._writer.write_table(pa.Table.from_arrays(columns, schema=self._schema), row_group_size=count)

    def close(self) -> None:
        """Writes the end of the file."""
        if self._writer is None:
            self._writer = self._begin(np.zeros(len(self._channels), bool))
        self._writer.close()


class CellsFile:
    """A file of cells, opened; nothing but its metadata is read until `blocks`."""

    def __init__(self, source: pa.NativeFile) -> None:
        self._file = pq.ParquetFile(source)
        about = json.loads((self._file.metadata.metadata or {})[_KEY])
        self.step: int = about["step_ns"]
        self.channels: tuple[str, ...] = tuple(about["channels"])
        self.spans: list[tuple[int, int]] = []
        """Start of the first and end of the last cell of every row group, UTC ns."""
        for group in range(self._file.metadata.num_row_groups):
            statistics = self._file.metadata.row_group(group).column(0).statistics
            self.spans.append((statistics.min_raw, statistics.max_raw + self.step))

    def blocks(self, group: int, channels: Sequence[str]) -> Iterator[Block]:
        """The Blocks of a row group, without notes; of the channels wanted, those that are there, in that order."""
        wanted = tuple(key for key in channels if key in self.channels)
        names = [_TIME, *wanted, *(_STATUS + key for key in wanted)]
        table = self._file.read_row_group(group, columns=names)
        times = table.column(_TIME).cast(pa.int64()).to_numpy()
        values = np.empty((len(wanted), len(times)))
        status = np.empty((len(wanted), len(times)), np.uint8)
        for i, key in enumerate(wanted):
            values[i] = table.column(key).to_numpy()
            given = table.column(_STATUS + key)
            if given.null_count:
                status[i] = np.where(np.isnan(values[i]), np.uint8(NONE), np.uint8(_PLAIN))
            else:
                status[i] = given.to_numpy()
        yield from blocks_of(times, self.step, wanted, values, status)


def _told(block: Block) -> np.ndarray:
    """Channels whose status does not follow from their values, bool, shape (channels,)."""
    told = ~(block.status == _PLAIN).all(axis=1)
    told |= np.isnan(np.minimum.reduce(block.values, axis=1))
    for i in np.flatnonzero(told):
        plain = np.where(np.isnan(block.values[i]), np.uint8(NONE), np.uint8(_PLAIN))
        told[i] = not np.array_equal(plain, block.status[i])
    return told
