"""The coarser levels of one line and day in one Parquet file, the finest in a row group of its own behind the others.

Columns: `width_s`, `time` (start of the bucket, UTC), and for every channel `min:`, `max:`, `mean:` and `count:` + key.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq

from ingest.archive.coarse import Coarse
from ingest.archive.layout import FORMAT, SECOND_NS
from ingest.arrow_compute import pc

_KEY = b"evenmelt"
_KINDS = (("min:", "minimum"), ("max:", "maximum"), ("mean:", "mean"), ("count:", "count"))


def write_coarse(sink: pa.NativeFile, line: str, levels: Sequence[Coarse]) -> None:
    """All levels of a day, all with the same channels."""
    channels = levels[0].channels
    fields = [pa.field("width_s", pa.int32(), nullable=False), pa.field("time", pa.timestamp("ns", "UTC"), False)]
    for key in channels:
        fields += [
            pa.field(kind + key, pa.int32() if kind == "count:" else pa.float64(), nullable=False) for kind, _ in _KINDS
        ]
    about = {"format": FORMAT, "line": line, "channels": channels}
    schema = pa.schema(fields, metadata={_KEY: json.dumps(about, ensure_ascii=False).encode()})
    options: dict[str, Any] = {
        # How many cells count is nearly always the same, which is a few bytes as it is.
        "compression": {field.name: "none" if field.name.startswith("count:") else "zstd" for field in fields},
        "compression_level": {field.name: 1 for field in fields if not field.name.startswith("count:")},
        "use_dictionary": [kind + key for key in channels for kind in ("min:", "max:", "count:")],
        "column_encoding": {"time": "DELTA_BINARY_PACKED", **{f"mean:{key}": "BYTE_STREAM_SPLIT" for key in channels}},
        "write_statistics": ["width_s", "time"],
        "sorting_columns": [pq.SortingColumn(0, descending=True), pq.SortingColumn(1)],
    }
    with pq.ParquetWriter(sink, schema, **options) as writer:
        ordered = sorted((level for level in levels if len(level.t)), key=lambda one: -one.width_s)
        # The finest level is by far the longest; all others share a row group.
        for group in (ordered[:-1], ordered[-1:]):
            if group:
                writer.write_table(_table(group, schema), row_group_size=sum(len(level.t) for level in group))


def _table(levels: Sequence[Coarse], schema: pa.Schema) -> pa.Table:
    columns = [
        pa.array(np.repeat(np.array([one.width_s for one in levels], np.int32), [len(one.t) for one in levels])),
        pa.array(np.concatenate([one.t for one in levels])).cast(pa.timestamp("ns", "UTC")),
    ]
    for i in range(len(levels[0].channels)):
        for _, name in _KINDS:
            columns.append(pa.chunked_array([pa.array(getattr(one, name)[i]) for one in levels]))
    return pa.Table.from_arrays(columns, schema=schema)


def read_coarse(source: pa.NativeFile, width_s: int, channels: Sequence[str], t0: int, t1: int) -> Coarse:
    """Buckets of one level that overlap [t0, t1), in the order of `channels`; channels not stored are empty."""
    file = pq.ParquetFile(source)
    stored = json.loads((file.metadata.metadata or {})[_KEY])["channels"]
    here = [i for i, key in enumerate(channels) if key in stored]
    empty = np.zeros((len(channels), 0))
    found = Coarse(width_s, tuple(channels), np.zeros(0, np.int64), empty, empty, empty, empty.astype(np.int32))
    for group in range(file.metadata.num_row_groups):
        statistics = file.metadata.row_group(group).column(0).statistics
        if not statistics.min_raw <= width_s <= statistics.max_raw:
            continue
        names = ["width_s", "time", *(kind + channels[i] for i in here for kind, _ in _KINDS)]
        table = file.read_row_group(group, columns=names)
        table = table.filter(pc.equal(table.column("width_s"), width_s))
        t = table.column("time").cast(pa.int64()).to_numpy()
        rows = slice(int(np.searchsorted(t, t0 - width_s * SECOND_NS, side="right")), int(np.searchsorted(t, t1)))
        shape = (len(channels), len(t[rows]))
        planes = [np.full(shape, np.nan) for _ in range(3)] + [np.zeros(shape, np.int32)]
        for (kind, _), plane in zip(_KINDS, planes, strict=True):
            for i in here:
                plane[i] = table.column(kind + channels[i]).to_numpy()[rows]
        found = Coarse(width_s, tuple(channels), t[rows], *planes)
    return found
