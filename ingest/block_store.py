"""Blocks in one Parquet file: a row group for every Block, read back to the bit and only where wanted.

Columns: `time` (start of the cell, UTC), and for every channel its values under the channel key and its status
under `status:` + key. Step, channels, notes and the place of every Block stand in the metadata of the file.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq

from ingest.block import Block, Note
from ingest.errors import BadLog, nearest

_FORMAT = "1"
_TIME, _STATUS = "time", "status:"
_KEY, _INDEX = b"evenmelt", b"evenmelt_blocks"


def write_blocks(path: Path, blocks: Iterable[Block]) -> int:
    """Writes Blocks in order of time, one after the other, and returns how many cells that were.

    The file is there only when the last Block is written. Raises ValueError for no Block at all, for a Block
    with other channels or another step than the first, and for one that starts before the last one's end.
    """
    part = path.with_name(path.name + ".part")
    writer: pq.ParquetWriter | None = None
    first: Block | None = None
    index: list[tuple[int, int]] = []
    notes: list[Note] = []
    end = None
    try:
        for block in blocks:
            if first is None or writer is None:
                first = block
                writer = _writer(part, block)
            if (block.channels, block.step) != (first.channels, first.step):
                raise ValueError(f"block at {block.t0} ns has other channels or another step than the first")
            if end is not None and block.t0 < end:
                raise ValueError(f"block starts at {block.t0} ns, before the end of the last one at {end} ns")
            if block.n:
                writer.write_table(_table(block, writer.schema), row_group_size=block.n)
                index.append((block.t0, block.n))
                notes.extend(block.notes)
                end = block.end
        if writer is None:
            raise ValueError("there is no block to write")
        content = {"blocks": index, "notes": [(note.at_ns, note.kind, note.text) for note in notes]}
        writer.add_key_value_metadata({_INDEX: json.dumps(content).encode()})
        writer.close()
        writer = None
        os.replace(part, path)
    finally:
        if writer is not None:
            writer.close()
        part.unlink(missing_ok=True)
    return sum(count for _, count in index)


def read_stored(
    path: Path, channels: Sequence[str] | None = None, t0: int | None = None, t1: int | None = None
) -> Iterator[Block]:
    """The stored Blocks in order, with the cells that start in [t0, t1); see `StoredBlocks.read`."""
    return StoredBlocks(path).read(channels, t0, t1)


class StoredBlocks:
    """A file of Blocks, opened; nothing but its metadata is read until `read`.

    channels: all that are stored. step: ns. notes: of the whole file, in order of time.
    t0, end: start of the first and end of the last cell, UTC nanoseconds.
    Raises BadLog for a file that was not written by `write_blocks` or is damaged.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        try:
            self._file = pq.ParquetFile(path)
        except FileNotFoundError:
            raise BadLog(path, "does not exist") from None
        except (pa.ArrowInvalid, OSError):
            raise BadLog(path, "is not a whole file of blocks; it is cut off or damaged") from None
        metadata = self._file.metadata.metadata or {}
        if _KEY not in metadata or _INDEX not in metadata:
            raise BadLog(path, "is a Parquet file, but not one of blocks", hint="Read it as a log.")
        about, content = json.loads(metadata[_KEY]), json.loads(metadata[_INDEX])
        if about["format"] != _FORMAT:
            raise BadLog(path, f"has format {about['format']} of blocks, this version reads {_FORMAT}")
        self.channels: tuple[str, ...] = tuple(about["channels"])
        self.step: int = about["step_ns"]
        self.notes = tuple(Note(at_ns, kind, text) for at_ns, kind, text in content["notes"])
        self._index: list[tuple[int, int]] = [(t0, count) for t0, count in content["blocks"]]
        self.t0 = self._index[0][0] if self._index else 0
        self.end = self._index[-1][0] + self._index[-1][1] * self.step if self._index else 0

    def read(
        self, channels: Sequence[str] | None = None, t0: int | None = None, t1: int | None = None
    ) -> Iterator[Block]:
        """The Blocks, as they were written, cut to the cells that start in [t0, t1).

        channels: which and in which order, None for all. Only row groups and columns that are wanted are read.
        Raises BadLog for a channel that is not stored.
        """
        wanted = self.channels if channels is None else tuple(channels)
        missing = [key for key in wanted if key not in self.channels]
        if missing:
            near = nearest(missing[0], self.channels)
            like = f"; nearest: {', '.join(map(repr, near))}" if near else ""
            raise BadLog(self.path, f"channel '{missing[0]}' is not stored{like}")
        return self._blocks(wanted, t0, t1)

    def _blocks(self, wanted: tuple[str, ...], t0: int | None, t1: int | None) -> Iterator[Block]:
        columns = [name for key in wanted for name in (key, _STATUS + key)]
        for group, (start, count) in enumerate(self._index):
            first = 0 if t0 is None else max(0, -((start - t0) // self.step))
            last = count if t1 is None else min(count, -((start - t1) // self.step))
            if first >= last:
                continue
            table = self._file.read_row_group(group, columns=columns) if columns else None
            values = np.empty((len(wanted), count))
            status = np.empty((len(wanted), count), np.uint8)
            for i, key in enumerate(wanted):
                assert table is not None
                values[i] = table.column(key).to_numpy()
                status[i] = table.column(_STATUS + key).to_numpy()
            end = start + count * self.step
            notes = tuple(note for note in self.notes if start <= note.at_ns < end)
            block = Block(start, self.step, wanted, values, status, notes)
            yield block if (first, last) == (0, count) else block.cut(first, last)


def _writer(path: Path, block: Block) -> pq.ParquetWriter:
    about = {"format": _FORMAT, "step_ns": block.step, "channels": block.channels}
    fields = [pa.field(_TIME, pa.timestamp("ns", "UTC"), nullable=False)]
    for key in block.channels:
        fields.append(pa.field(key, pa.float64(), nullable=False))
        fields.append(pa.field(_STATUS + key, pa.uint8(), nullable=False))
    schema = pa.schema(fields, metadata={_KEY: json.dumps(about).encode()})
    options: dict[str, Any] = {
        "compression": "zstd",
        "compression_level": 1,
        # Readings come in steps of their sensor's resolution, so a dictionary makes them a third of the size.
        "use_dictionary": [name for key in block.channels for name in (key, _STATUS + key)],
        "column_encoding": {_TIME: "DELTA_BINARY_PACKED"},
        # Statistics of every column would make the end of a year-long file larger than its hours.
        "write_statistics": [_TIME],
    }
    return pq.ParquetWriter(path, schema, **options)


def _table(block: Block, schema: pa.Schema) -> pa.Table:
    columns = [pa.array(block.times()).cast(schema.field(_TIME).type)]
    for values, status in zip(block.values, block.status, strict=True):
        columns += [pa.array(values), pa.array(status)]
    return pa.Table.from_arrays(columns, schema=schema)
